"""`station audit report --csv`: every figure of a period, for who draws charts of their own."""

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from station.cli.common import local
from tests.audit.asking import ask, told

COLUMNS = [
    *("name", "unit", "batch", "at", "figure", "formula", "revision", "left_out", "simulated"),
]


def rows(kept: Path, *words: str) -> list[dict[str, Any]]:
    result = ask(kept, "report", *words, "--csv")
    assert result.exit_code == 0, result.output
    read = csv.DictReader(io.StringIO(result.stdout))
    found = list(read)
    assert read.fieldnames == COLUMNS
    return found


def test_it_has_each_figure_that_the_report_has_and_no_other(kept: Path) -> None:
    """Lines, then salt, then ingoing amounts; in each the batches in the order of time."""
    answer = told(kept, "report")
    every = [line["series"] for line in answer["lines"]] + answer["salt"] + answer["ingoing"]
    wanted = []
    for series in every:
        mine = [(p["at"], p["batch"], p["figure"], p["formula"], str(p["revision"]), "")
                for p in series["points"]]  # fmt: skip
        mine += [(out["at"], out["batch"], "", "", "", out["reason"]) for out in series["left_out"]]
        wanted += [(series["name"], series["unit"], *one) for one in sorted(mine)]
    found = rows(kept)
    assert [
        (*(row[key] for key in ("name", "unit", "at", "batch", "figure", "formula", "revision")),
         row["left_out"])
        for row in found
    ] == [(name, unit, local(at), *rest) for name, unit, at, *rest in wanted]  # fmt: skip
    assert {row["simulated"] for row in found} == {"SIMULATED"}


def test_a_batch_without_a_figure_stands_in_its_place_with_the_reason(kept: Path) -> None:
    nitrite = [row for row in rows(kept) if row["name"].endswith("potassium nitrite")]
    assert [row["at"] for row in nitrite] == sorted(row["at"] for row in nitrite)
    least = next(row for row in nitrite if row["batch"] == "261201-3")
    assert least["figure"] == "" and least["left_out"].startswith("at least 124.479 mg/kg")


def test_it_has_the_batches_of_the_days_that_are_asked_for(kept: Path) -> None:
    found = rows(kept, "--from", "2026-12-03")
    assert {row["batch"] for row in found} == {"261203-6", "261204-7"}
    assert rows(kept, "--from", "2030-01-01") == []


@pytest.mark.parametrize("other", ["--json", "--html"])
def test_it_is_one_form_of_the_answer(kept: Path, tmp_path: Path, other: str) -> None:
    page = tmp_path / "page.html"
    result = ask(kept, "report", "--csv", other, *([str(page)] if other == "--html" else []))
    assert (result.exit_code, "two forms of one answer" in result.stderr) == (2, True)
    assert not page.exists()
