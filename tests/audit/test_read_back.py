"""Answers in CSV and JSON, read by programs that people have: pandas and sqlite-utils."""

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas
import pytest
from sqlite_utils import Database
from sqlite_utils.utils import rows_from_file

from tests.audit.asking import ask, told

Rows = Callable[[dict[str, Any]], list[dict[str, Any]]]
ANSWERS: dict[tuple[str, ...], Rows] = {
    ("list",): lambda found: found["batches"],
    ("open",): lambda found: found["batches"],
    ("lot", "P-41"): lambda found: found["batches"],
    ("line", "salt"): lambda found: found["points"],
    ("day", "2026-11-30"): lambda found: [
        row for batch in found["batches"] for row in batch["additions"]
    ],
    ("warnings",): lambda found: found["warnings"],
    ("concessions",): lambda found: found["concessions"],
    ("stock",): lambda found: found["lots"],
    ("recall", "P-41"): lambda found: found["affected"],
    ("origin", "261130-2"): lambda found: found["sources"],
    ("formula", "test ring"): lambda found: [r for b in found["batches"] for r in b["ingoing"]],
    ("person", "Ansel"): lambda found: found["entries"],
    ("scale", "fine"): lambda found: found["entries"],
}


@pytest.fixture(params=ANSWERS, ids=" ".join)
def words(request: pytest.FixtureRequest) -> tuple[str, ...]:
    asked: tuple[str, ...] = request.param
    return asked


def test_pandas_reads_a_row_for_each_of_json_with_the_same_figures(
    kept: Path, words: tuple[str, ...]
) -> None:
    rows = ANSWERS[words](told(kept, *words))
    csv = pandas.read_csv(io.StringIO(ask(kept, *words, "--csv").stdout))
    frame = pandas.DataFrame(rows)
    assert len(csv) == len(frame) > 0
    figures = {
        "actual_g", "meat_g", "salt_pct", "diff_pct", "difference_pct", "weighed_g", "target_g",
    } & {*csv.columns} & {*frame.columns}  # fmt: skip
    for name in figures:
        expected = pandas.to_numeric(frame[name])
        assert csv[name].isna().equals(expected.isna()), "not known is not nothing"
        assert csv[name].dropna().tolist() == pytest.approx(expected.dropna().tolist())


def test_sqlite_utils_takes_both_forms_into_a_table(kept: Path, words: tuple[str, ...]) -> None:
    db = Database(memory=True)
    db["of_json"].insert_all(ANSWERS[words](told(kept, *words)))
    csv, _ = rows_from_file(io.BytesIO(ask(kept, *words, "--csv").stdout.encode()))
    db["of_csv"].insert_all(csv)
    assert db["of_json"].count == db["of_csv"].count > 0
    assert db["of_csv"].columns[-1].name == "simulated"
    db.close()


def test_json_is_one_line_that_any_reader_takes(kept: Path, words: tuple[str, ...]) -> None:
    text = ask(kept, *words, "--json").stdout
    assert text.count("\n") == 1
    found = json.loads(text)
    assert {"simulated", "events", "head", "verified", "broken"} <= set(found)


def test_pandas_takes_the_report_apart(kept: Path) -> None:
    found = told(kept, "report")
    salt = pandas.json_normalize(found["salt"], "points", ["name", "unit"])
    assert set(salt.columns) >= {"batch", "figure", "name", "unit"} and len(salt) == 4
    assert pandas.to_numeric(salt.figure).mean() == pytest.approx(
        found["salt"][0]["statistics"]["mean"], abs=1e-4
    )
