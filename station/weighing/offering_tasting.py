"""Tasting: to take a sample once all is in the mix, to wish more of a line, to end it."""

from station.pan.view import Pan
from station.weighing.commands import Form, Offer
from station.weighing.facts import Facts
from station.weighing.sight import Sight
from station.weighing.tasting import CORRECTED


def _can_sample(facts: Facts) -> bool:
    return facts.why_not_mixed is None and facts.open_batch().apart is None


def to_taste(sight: Sight) -> list[Offer]:
    """What stands on a scale is a sample; or what was tasted is as it should be."""
    if sight.facts.open_batch().tasting is not None:
        return [Offer("tasted", {}, "accept", means="it is as it should be")]
    if not _can_sample(sight.facts):
        return []
    return [
        Offer("sample", {"scale": pan.scale.name}, danger=True, means=_means(pan))
        for pan in sight.pans.values()
        if pan.loaded and not pan.troubles
    ]


def _means(pan: Pan) -> str:
    return f"what is on {pan.scale.name} is a sample to taste"


def forms_to_taste(facts: Facts) -> tuple[Form, ...]:
    """A sample whose weight was read; what is wished of each line that is corrected on taste."""
    if not _can_sample(facts):
        return ()
    batch = facts.open_batch()
    if batch.tasting is None:
        return (Form("sample", {}, "net", "g", "a sample was taken to taste"),)
    return tuple(
        Form("taste", {"line": line.name}, "wish", "%", f"{line.name} in all, of the meat")
        for line in batch.lines.values()
        if line.addition.role in CORRECTED and line.loads and not batch.regulated(line.name)
    )
