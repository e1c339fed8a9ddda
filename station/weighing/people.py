"""Who may say something, and when a second person must have looked too."""

from station.batch.state import Batch
from station.names import bare
from station.weighing.commands import Refusal


def others(batch: Batch) -> list[str]:
    """Everybody who can be the second person: all but the one at the bench."""
    return [person for person in batch.opened.people if bare(person) != bare(batch.who)]


def second_person(batch: Batch, line: str, second: str | None, what: str) -> None:
    """Raise unless a second person, another than the one at the bench, has read it too: for a
    cure, and for the meat that a cure's limit hangs on."""
    if second is None:
        sentence = f"{what} wants a second person to read it"
        raise Refusal("second-wanted", sentence, "let somebody else say so too", line)
    if bare(second) == bare(batch.who):
        sentence = f"{batch.who} is at the bench: the second must be another"
        raise Refusal("same-person", sentence, "name somebody else", line)
    if second not in batch.opened.people:
        people = ", ".join(batch.opened.people)
        raise Refusal("unknown-person", f"{second} is not on the list", f"one of {people}", line)
