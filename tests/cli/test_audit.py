"""What the audit prints for people."""

import pytest

from station.audit.batch import batch_sheet
from station.audit.pours import BadPours, PourRow
from station.batch import events as ev
from station.cli.reports import print_pours
from station.cli.sheet_text import print_sheet
from station.ledger.records import Recorded, linked
from tests.benchside import Bench


def test_brackets_and_colons_of_a_name_are_printed_as_recorded(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Read as markup, the first loses a part, the second is a picture, the third fails."""
    for name in ("pepper [red]", "sage :herb:", "salt [/fine]"):
        row = PourRow(
            addition=name, who="Ansel", pours=1, slower=1, stops=0, in_time=0, beyond_mean_g=None,
            beyond_most_g=None,
        )  # fmt: skip
        badly = BadPours(
            addition=name, over=0, over_most_g=None, lifted=1, spilt=0, voided=0, unaccepted=0
        )
        print_pours([row], [badly])
        assert capsys.readouterr().out.count(name) == 2


LOSS = ev.LossAccepted("aa", 90, "bb", 60, "cc")
REPAIR = ev.LedgerRepaired("addition 2 is another", "t.ledger.found-1", "dd")


def recorded(*events: ev.Event, batch: str = "b-1") -> list[Recorded]:
    """A batch that is open, then what befell it and the ledger."""
    bench = Bench()
    bench.open()
    of_ledger = (ev.LossAccepted, ev.LedgerRepaired)
    all_of_it = [*bench.events, *events]
    told = [(None if isinstance(event, of_ledger) else batch, event) for event in all_of_it]
    return linked(0, bytes(32), told, bench.at)


def test_a_loss_and_a_repair_stand_on_the_sheet_of_the_batch_they_touch(
    capsys: pytest.CaptureFixture[str],
) -> None:
    sheet = batch_sheet(recorded(LOSS, REPAIR), "b-1")
    assert [row.kind for row in sheet.warnings] == ["loss accepted", "ledger repaired"]
    print_sheet(sheet)
    printed = " ".join(capsys.readouterr().out.split())
    assert "events after 60 are missing, up to event 90 or later" in printed
    assert "made anew, addition 2 is another; evidence: t.ledger.found-1" in printed


def test_a_loss_before_a_batch_or_after_its_end_is_not_on_its_sheet_and_a_repair_after_it_is() -> (
    None
):
    end = ev.Abandoned("test", "Ansel")
    sheet = batch_sheet(recorded(end, LOSS, REPAIR), "b-1")
    assert [row.kind for row in sheet.warnings] == ["abandoned", "ledger repaired"]
    before = linked(0, bytes(32), [(None, LOSS), (None, REPAIR)], "2026-11-30T09:00:00.000Z")
    sheet = batch_sheet([*before, *recorded()], "b-1")
    assert sheet.warnings == ()


def test_a_refusal_that_came_often_says_how_often(capsys: pytest.CaptureFixture[str]) -> None:
    refused = ev.Refused("salt", "Accept", "over", "too much")
    again = ev.Refused("salt", "Accept", "over", "too much still", 12)
    sheet = batch_sheet(recorded(refused, again), "b-1")
    assert [row.times for row in sheet.refusals] == [1, 12]
    print_sheet(sheet)
    printed = capsys.readouterr().out
    assert "salt: too much\n" in printed
    assert "salt: too much still (12 more like it)" in printed
