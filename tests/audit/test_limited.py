"""What a rule limits, and what a report counts, without whole sheets: the same as on them."""

from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from station.audit.limited import Limited, _Openings, limited
from station.audit.listing import listed
from station.audit.report import _lines, ingoing_series
from station.audit.rows import WeighedAmount
from station.audit.sheets import sheets_of
from station.batch import events as ev
from station.ledger.asking import ALWAYS, asked
from station.ledger.records import linked
from tests.audit.asking import ask, told
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
    verdicts = [row["verdict"] for row in rows]
    assert (report["out"], report["unaccepted"]) == (0, verdicts.count("unaccepted"))
    assert report["unaccepted"] > 0 and verdicts.count("out") == 0
    text = " ".join(ask(kept, "report").stdout.split())
    assert f"0 out of their band, {report['unaccepted']} put in unaccepted" in text
    held = next(row for row in report["batches"] if row["hold"])
    assert f"{held['batch']}, {held['state']}: {held['hold'][0]}" in text
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


def amount(actual: str | None, limit: str = "156.25", at_least: bool = False) -> WeighedAmount:
    return WeighedAmount(
        agents=("sodium nitrite",), basis="meat", unit="mg/kg", planned="125", limit=limit,
        source="a test", actual=actual, at_least=at_least,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("state", "actual", "counts"),
    [
        ("closed", "125", True), ("closed", "187.5", True), ("abandoned", "187.5", True),
        ("abandoned", "156.25", False), ("abandoned", "125", False), ("additions", "187.5", False),
        ("abandoned", None, False),
    ],
)  # fmt: skip
def test_more_than_the_law_allows_counts_though_the_batch_was_given_up(
    kept: Path, state: str, actual: str | None, counts: bool
) -> None:
    """Else the very outliers would be missing; less than that in a batch half made says nothing."""
    with asked(kept) as ledger:
        batch = replace(listed(ledger.batches())[0], state=state)
    (found,) = ingoing_series([batch], [Limited((), (amount(actual),))])
    assert (len(found.points), len(found.left_out)) == (int(counts), int(not counts))


def test_a_least_is_no_figure_however_much_it_is(kept: Path) -> None:
    with asked(kept) as ledger:
        batch = replace(listed(ledger.batches())[0], state="abandoned")
    (found,) = ingoing_series([batch], [Limited((), (amount("187.5", at_least=True),))])
    assert (found.points, found.left_out[0].reason[:14]) == ((), "at least 187.5")
