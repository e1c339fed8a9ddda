"""What pieces lost while they hung, on the sheet: figures, text, curve."""

import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from station.audit import product
from station.audit.drawn.drying import curves
from station.audit.rows import DriedRow
from station.cli.common import local
from station.ledger.book import Book
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.benchside import Bench
from tests.ledger.ledgers import BORN
from tests.weighing.test_drying import DRY, hanging, weighed_again

BATCH, DAYS = "261130-1", ("2026-11-30", "2026-12-07", "2026-12-14", "2026-12-21")
PRICED = DRY.replace('share = "100 %"', 'share = "100 %"\ncost = "6 / kg"')


def a_month(bench: Bench) -> list[int]:
    """Two links weighed three times more; how many events there were at the end of each day."""
    ends = [len(bench.events)]
    for links in (("54", "56"), ("50",), ("40", "41")):
        bench.say(do.Park())
        bench.say(do.TakeUp("b-1"))
        weighed_again(bench, *links)
        assert bench.batch.tally is not None
        bench.say(do.End(bench.batch.tally.name))
        ends.append(len(bench.events))
    return ends


@pytest.fixture(name="ledger", scope="module")
def _ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hung") / "hung.ledger"
    bench = hanging("60", "60", formula=PRICED)
    ends = a_month(bench)
    book = Book.open(path, BORN, "2026-11-30T06:00:00.000Z")
    for day, (begin, end) in zip(DAYS, pairwise([0, *ends]), strict=True):
        for event in bench.events[begin:end]:
            book.append([(BATCH, event)], f"{day}T08:00:00.000Z")
    book.close()
    return path


def sheet(ledger: Path) -> dict[str, Any]:
    return told(ledger, "batch", BATCH)


def test_each_weighing_has_its_days_and_its_loss(ledger: Path) -> None:
    """Of 120 g: 110, 50 (one is missing), 81: 8.33 and 32.5 %."""
    found = sheet(ledger)["dried"]
    assert [(row["days"], row["net_g"], row["loss_pct"]) for row in found] == [
        ("7.0", "110", "8.33"), ("14.0", "50", None), ("21.0", "81", "32.5"),
    ]  # fmt: skip
    assert {(row["of"], row["green_g"], row["planned_pct"]) for row in found} == {
        ("links", "120", "35"),
    }  # fmt: skip
    assert [row["says"] for row in found] == [
        None, "1 were weighed, and there are 2: no loss is told", None,
    ]  # fmt: skip


def test_pieces_that_grew_since_the_last_whole_weighing_are_pointed_out() -> None:
    bench = hanging("60", "60")
    for links in (("50", "50"), ("50",), ("50", "50"), ("50", "50.05")):
        weighed_again(bench, *links)
        assert bench.batch.tally is not None
        bench.say(do.End(bench.batch.tally.name))
    says = [row.says for row in product.dried(bench.batch)]
    assert says[0] is says[2] is None
    assert says[3] == "they weigh more than the time before: water only leaves, are they the same?"


def test_the_batch_made_what_was_weighed_last(ledger: Path) -> None:
    """81 g of some 12 kg; the pieces stand once in the counts, with what they were."""
    found = sheet(ledger)
    assert (found["yield"]["filled_g"], found["yield"]["dried_g"]) == ("120", "81")
    mix = float(found["yield"]["mix_g"])
    assert float(found["yield"]["loss_pct"]) == round((1 - 81 / mix) * 100, 2)
    assert [(row["name"], row["count"]) for row in found["counts"]] == [("links", 2)]
    assert found["pieces"]["count"] == 2
    assert found["cost"]["per_kg"] == f"{float(found['cost']['total']) / 0.081:.2f}"


def test_the_sheet_says_it_to_people(ledger: Path) -> None:
    text = " ".join(ask(ledger, "batch", BATCH).stdout.split())
    assert "links after 21.0 days" in text and "81 g of 120 g, loss 32.5 % of 35 % planned" in text
    assert "1 were weighed, and there are 2: no loss is told" in text
    assert "dried 81 g: loss" in text


def test_the_page_has_the_curve_and_its_table(ledger: Path, tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    assert ask(ledger, "batch", BATCH, "--html", str(file)).exit_code == 0
    page = file.read_text()
    assert "links: loss in percent, by days" in page and "planned 35" in page
    assert "What was lost while they hung" in page
    assert re.search(r'<td class="n">32.5</td>', page) and "not told" in page
    opened, parked = local("2026-11-30T08:00:00.000Z"), local("2026-12-07T08:00:00.000Z")
    assert f'<td class="t">{opened[11:19]}</td>' in page  # of the day on which it was opened
    assert f'<td class="t">{parked[:19]}</td>' in page


def row(of: str, days: str, loss: str | None, planned: str | None = "35") -> DriedRow:
    return DriedRow(
        of=of, at="2026-12-07T08:00:00.000Z", days=days, count=2, green_count=2, net_g="1",
        green_g="2", loss_pct=loss, planned_pct=planned, scale="fine",
    )  # fmt: skip


def test_a_curve_rises_from_no_loss_with_the_days_and_has_the_plan_as_a_level() -> None:
    (curve,) = curves("d", [row("links", "7.0", "8.33"), row("links", "14.0", None),
                            row("links", "21.0", "32.5")])  # fmt: skip
    xs, ys = [dot.x for dot in curve.dots], [dot.y for dot in curve.dots]
    assert len(xs) == 3 and ys[0] == curve.bottom
    assert xs[1] - xs[0] == pytest.approx((xs[2] - xs[0]) / 3, abs=0.2)
    assert ys[0] > ys[1] > ys[2] > curve.rules[0].y
    assert (curve.rules[0].kind, curve.rules[0].text) == ("limit", "planned 35")


def test_a_curve_says_what_it_is_and_has_round_figures_beside_it() -> None:
    (curve,) = curves("d", [row("links", "7.0", "9"), row("links", "21.0", "32.5")])
    assert (curve.key, curve.title) == ("d-0", "links: loss in percent, by days")
    assert curve.desc == "2 weighings; 32.5 % after 21.0 days"
    assert (curve.width, curve.height, curve.left, curve.right, curve.bottom) == (
        720, 168, 62, 628, 138,
    )  # fmt: skip
    assert curve.path == "72.0,138.0 254.0,108.0 618.0,29.7"
    assert not any(dot.sign for dot in curve.dots)
    assert (curve.rules[0].y, curve.rules[0].text_y) == (21.3, 24.8)
    assert [tick.text for tick in curve.y_ticks] == ["0", "10", "20", "30"]
    assert [tick.text for tick in curve.x_ticks] == ["0", "5", "10", "15", "20"]


def test_what_hung_for_less_than_a_day_and_lost_little_is_drawn_small() -> None:
    (curve,) = curves("d", [row("links", "0.5", "0.5", None)])
    assert curve.path == "72.0,138.0 345.0,79.7"


def test_each_kind_of_piece_has_its_curve_and_what_was_never_whole_none() -> None:
    found = curves("d", [row("links", "7.0", "8"), row("ends", "7.0", "9", None),
                         row("links", "9.0", "10"), row("rings", "7.0", None)])  # fmt: skip
    assert [(curve.title.split(":")[0], len(curve.dots)) for curve in found] == [
        ("ends", 2), ("links", 3),
    ]  # fmt: skip
    assert (found[0].rules, found[0].key != found[1].key) == ((), True)


def test_pieces_that_grew_stay_on_the_chart() -> None:
    (curve,) = curves("d", [row("links", "0.0", "-2", None)])
    assert curve.dots[1].y == curve.bottom and curve.dots[0].y < curve.bottom
