"""The ledger of years that scale is measured with: made by the real append, and the same again."""

from pathlib import Path

from station.batch import events as ev
from station.ledger.book import Book, read_events
from station.ledger.reading import open_reader
from tests.bench.years import BORN, stories, years
from tests.ledger.ledgers import AT, checked


def _made(path: Path, seed: int) -> list[tuple[str, str | None, str, str]]:
    """What the events of a small one say, without the hashes."""
    book = Book.open(path, BORN, AT)
    made = years(book, 30, seed)
    book.close()
    assert 30 <= made < 34
    assert checked(path).ok
    with open_reader(path) as db:
        return [(r.at, r.batch, r.kind, r.text) for r in read_events(db)]


def test_a_seed_makes_the_same_years_again_and_another_seed_others(tmp_path: Path) -> None:
    first = _made(tmp_path / "a.ledger", 7)
    assert _made(tmp_path / "b.ledger", 7) == first
    assert _made(tmp_path / "c.ledger", 8) != first


def test_the_years_have_holds_voids_figures_by_hand_and_revisions() -> None:
    told = [event for story in stories()[0] for part in story.appends for event in part]
    kinds = {type(event) for event in told}
    assert kinds >= {ev.PutOnHold, ev.Voided, ev.Abandoned, ev.Closed}
    assert any(isinstance(event, ev.LoadWeighed) and event.by_hand for event in told)
    formulas = {e.formula.name: e.formula.revision for e in told if isinstance(e, ev.BatchOpened)}
    assert formulas == {"test ring": 2, "test link": 2}
