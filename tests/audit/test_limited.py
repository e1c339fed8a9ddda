"""What a rule limits, and what a report counts, without whole sheets: the same as on them."""

from decimal import Decimal
from pathlib import Path

from msgspec.structs import replace

from station.audit.limited import _Openings, limited
from station.audit.report import _lines
from station.audit.sheets import sheets_of
from station.batch import events as ev
from station.ledger.asking import ALWAYS, asked
from station.ledger.records import linked
from tests.audit.asking import told
from tests.benchside import Bench


def test_every_batch_has_the_lines_and_the_rows_of_its_sheet(kept: Path) -> None:
    """In any order, and each by itself."""
    with asked(kept) as ledger:
        names = [row["batch"] for row in ledger.batches()][::-1]
        sheets = sheets_of(ledger, names)
        found = list(limited(ledger, names))
        assert [one.rows for one in found] == [sheet.limits for sheet in sheets]
        assert [list(one.lines) for one in found] == [
            [row.name for row in sheet.additions] for sheet in sheets
        ]
        assert [next(limited(ledger, [name])) for name in names] == found
    assert sum(bool(one.rows) for one in found) > 2


def test_an_opening_is_the_batch_s_own_however_like_another_it_is(kept: Path) -> None:
    with asked(kept) as ledger:
        openings = _Openings()
        records = [next(ledger.events_of(row["batch"])) for row in ledger.batches()]
        assert [openings.event(record) for record in records] == [r.event for r in records]
        assert len(openings._known) < len(records), "some are read once for all"


def test_who_asked_for_an_opening_stays_with_it() -> None:
    """The user of the machine, the person, the plan: each of two alike keeps its own."""
    bench = Bench()
    bench.open("12000")
    (first,) = (event for event in bench.events if isinstance(event, ev.BatchOpened))
    events = [replace(first, uid=1000), replace(first, uid=1001, who="Brida", planned_by="mix 9 kg",
                                                plan_g=Decimal(8000))]  # fmt: skip
    openings = _Openings()
    records = linked(0, bytes(32), [("b", event) for event in events], bench.at)
    assert [openings.event(record) for record in records] == events


def test_a_batch_without_a_target_gives_a_line_no_band(kept: Path) -> None:
    with asked(kept) as ledger:
        rows = ledger.additions()
        later = {"name": "salt", "batch": "without meat", "target_text": None}
        (told,) = _lines(ledger, ALWAYS, ["salt"], [*rows, later])
        assert told.against is not None
        assert list(_lines(ledger, ALWAYS, ["salt"], rows)) == [told]


def test_a_report_counts_the_additions_of_the_sheets(kept: Path) -> None:
    report = told(kept, "report")
    sheets = [told(kept, "batch", row["batch"]) for row in report["batches"]]
    rows = [row for sheet in sheets for row in sheet["additions"]]
    assert report["additions"] == sum(row["actual_g"] is not None for row in rows) > 0
    assert report["out"] == sum(row["verdict"] in ("out", "unaccepted") for row in rows) > 0
    assert report["unknown"] == sum(
        any(row["unknown_more"] for row in sheet["additions"]) for sheet in sheets
    )
    assert [line["series"]["name"] for line in report["lines"]] == list(
        dict.fromkeys(row["name"] for row in rows)
    )


def test_a_line_s_band_is_that_of_the_last_batch_with_a_target_for_it(kept: Path) -> None:
    report = told(kept, "report")
    sheets = [told(kept, "batch", row["batch"]) for row in report["batches"]]
    last = {
        row["name"]: sheet["batch"]
        for sheet in sheets
        for row in sheet["additions"]
        if row["target_g"] is not None
    }
    against = {line["series"]["name"]: line["against"] for line in report["lines"]}
    assert {name: one["batch"] for name, one in against.items() if one is not None} == last


def test_a_report_of_days_counts_the_batches_opened_in_them_alone(kept: Path) -> None:
    whole, part = told(kept, "report"), told(kept, "report", "--from", "2026-12-03")
    sheets = [told(kept, "batch", row["batch"]) for row in part["batches"]]
    weighed = sum(row["actual_g"] is not None for sheet in sheets for row in sheet["additions"])
    assert part["additions"] == weighed < whole["additions"]
