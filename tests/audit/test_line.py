"""How a line spreads: the differences of the sheets, every one of them, and what is left out."""

import csv
import io
from itertools import pairwise
from pathlib import Path
from statistics import fmean, stdev
from typing import Any

import pytest

from station.audit.spread import spread
from station.ledger.tables import Row
from tests.audit.asking import ask, told


def row(batch: str, diff: str | None, **more: Any) -> Row:
    """A row as `Asked.line` gives it."""
    return {
        "batch": batch, "at": f"2026-11-30T10:00:{batch}.000Z", "difference_pct": diff,
        "verdict": "in", "formula": "test ring", "revision": 1, "state": "closed",
        "opened_at": "2026-11-30T09:00:00.000Z", "by_hand": None, "unknown_more": None,
        "actual_text": "1", **more,
    }  # fmt: skip


def test_the_points_are_the_differences_of_the_sheets(kept: Path) -> None:
    found = told(kept, "line", "salt")
    assert found["n"] == 5
    for point in found["points"]:
        sheet = told(kept, "batch", point["batch"])
        (on_it,) = [r for r in sheet["additions"] if r["name"] == "salt"]
        assert (point["diff_pct"], point["at"]) == (on_it["difference_percent"], on_it["at"])


def test_mean_spread_and_limits_are_those_of_the_points(kept: Path) -> None:
    """Center by the mean, limits by the mean moving range over d2 = 1.128 (NIST 6.3.2.2)."""
    found = told(kept, "line", "salt")
    figures = [float(point["diff_pct"]) for point in found["points"]]
    half = 3 * fmean(abs(b - a) for a, b in pairwise(figures)) / 1.128
    mean = fmean(figures)
    assert found["mean_pct"] == found["center_pct"] == pytest.approx(mean, abs=5e-5)
    assert found["sd_pct"] == pytest.approx(stdev(figures), abs=5e-5)
    assert found["lcl_pct"] == pytest.approx(mean - half, abs=5e-5)
    assert found["ucl_pct"] == pytest.approx(mean + half, abs=5e-5)
    assert found["provisional"]


def test_a_batch_without_a_figure_is_named_with_the_reason(kept: Path) -> None:
    left = {row["batch"]: row["reason"] for row in told(kept, "line", "salt")["left_out"]}
    assert left == {
        "261201-3": "more went in than was weighed, nobody knows how much"
        " (Ansel, 2026-12-01T08:00:18.000Z)",
        "261201-4": "not weighed; batch abandoned",
    }
    left = {row["batch"]: row["reason"] for row in told(kept, "line", "pepper")["left_out"]}
    assert left["261130-2"] == "skipped"
    text = " ".join(ask(kept, "line", "salt").stdout.split())
    assert "261201-3: no figure, more went in than was weighed" in text


def test_every_batch_is_a_point_or_left_out(kept: Path) -> None:
    for name in ("salt", "premix", "pepper", "garlic"):
        found = told(kept, "line", name)
        assert len(found["points"]) + len(found["left_out"]) == 7


def test_a_figure_by_hand_is_a_point_and_marked(kept: Path) -> None:
    points = {point["batch"]: point for point in told(kept, "line", "garlic")["points"]}
    assert points["261130-2"]["by_hand"] == "the cable is torn (Ansel and Brida)"
    assert points["261130-1"]["by_hand"] is None
    assert "BY HAND" in ask(kept, "line", "garlic").stdout


def test_both_revisions_of_a_formula_are_in_the_chart_each_with_its_own(kept: Path) -> None:
    points = told(kept, "line", "salt")["points"]
    assert [point["revision"] for point in points] == [1, 1, 1, 2, 2]


def test_what_is_weighed_and_not_accepted_is_no_point_yet() -> None:
    found = spread("salt", [row("01", "-40", verdict=None, state="additions", actual_text="130")])
    assert (found.n, found.points) == (0, ())
    (left,) = found.left_out
    assert left.reason == "130 g were weighed and never accepted; batch additions"


def test_what_is_counted_in_pieces_has_no_figure() -> None:
    found = spread("sachet", [row("01", None, actual_text=None)])
    assert found.left_out[0].reason == "counted in pieces, not weighed"


def test_what_went_in_unaccepted_is_a_point() -> None:
    assert spread("salt", [row("01", "12.5", verdict="unaccepted")]).points[0].diff_pct == "12.5"


def test_an_outlier_is_a_point_and_a_signal_that_names_its_batch() -> None:
    rows = [row(f"{n:02}", "0.1" if n % 2 else "-0.1") for n in range(30)]
    rows[17] = row("17", "9")
    found = spread("salt", rows)
    assert (found.n, found.points[17].diff_pct, found.left_out) == (30, "9", ())
    assert ("17", "beyond the limits") in {(sign.batch, sign.rule) for sign in found.signals}


@pytest.mark.parametrize(("count", "provisional"), [(19, True), (20, False)])
def test_fewer_than_twenty_points_make_limits_that_still_move(
    count: int, provisional: bool
) -> None:
    assert spread("salt", [row(f"{n:02}", "0.1") for n in range(count)]).provisional == provisional


def test_one_point_makes_no_limits(kept: Path) -> None:
    found = told(kept, "line", "salt", "--from", "2026-12-02", "--to", "2026-12-02")
    assert (found["n"], found["mean_pct"], found["lcl_pct"], found["ucl_pct"]) == (
        1,
        -0.05,
        None,
        None,
    )
    text = ask(kept, "line", "salt", "--from", "2026-12-02", "--to", "2026-12-02").stdout
    assert "fewer than two figures make no chart: ask for more days" in text


def test_days_are_those_in_which_the_line_was_weighed(kept: Path) -> None:
    found = told(kept, "line", "salt", "--from", "2026-12-03")
    assert [point["batch"] for point in found["points"]] == ["261203-6", "261204-7"]
    assert found["left_out"] == []


def test_a_line_that_is_not_known_names_those_that_look_like_it(kept: Path) -> None:
    result = ask(kept, "line", "sallt")
    assert (result.exit_code, "next: one of salt" in result.stderr) == (2, True)
    result = ask(kept, "line", "xyz")
    assert "one of garlic, pepper, premix, salt" in result.stderr
    found = told(kept, "line", "xyz", status=2)
    assert (found["line"], found["n"], found["points"]) == ("xyz", 0, [])


def test_csv_has_a_row_a_point(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(ask(kept, "line", "salt", "--csv").stdout)))
    assert [row["diff_pct"] for row in rows] == ["-0.05", "0.42", "-0.05", "-0.04", "-0.04"]
