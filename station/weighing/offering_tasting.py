"""Tasting: to take a sample once all is in the mix, to wish more of a line, to end it."""

from collections.abc import Iterable

from station.batch.state import Batch
from station.pan.view import Pan
from station.weighing.commands import Form, Offer
from station.weighing.filling import why_not_filled
from station.weighing.tasting import CORRECTED


def _can_sample(batch: Batch) -> bool:
    return why_not_filled(batch) is None and not batch.filled


def to_taste(batch: Batch, pans: Iterable[Pan]) -> list[Offer]:
    """What stands on a scale is a sample; or what was tasted is as it should be."""
    if batch.tasting is not None:
        return [Offer("tasted", {}, "accept", means="it is as it should be")]
    if not _can_sample(batch):
        return []
    return [
        Offer("sample", {"scale": pan.scale.name}, danger=True, means=_means(pan))
        for pan in pans
        if pan.loaded and not pan.troubles
    ]


def _means(pan: Pan) -> str:
    return f"what is on {pan.scale.name} is a sample to taste"


def forms_to_taste(batch: Batch) -> tuple[Form, ...]:
    """A sample whose weight was read; what is wished of each line that is corrected on taste."""
    if not _can_sample(batch):
        return ()
    if batch.tasting is None:
        return (Form("sample", {}, "net", "g", "a sample was taken to taste"),)
    return tuple(
        Form("taste", {"line": line.name}, "wish", "%", f"{line.name} in all, of the meat")
        for line in batch.lines.values()
        if line.addition.role in CORRECTED and line.loads and not batch.regulated(line.name)
    )
