"""An export proves itself: what was done to it is told by `verify.py`, which needs no station."""

import csv
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas
import pytest
from click.testing import CliRunner, Result

from station.batch import events as ev
from station.cli import main
from station.ledger.export import About, Part, export
from station.ledger.mark import read_mark
from station.ledger.reading import open_reader
from station.ledger.records import read_events
from tests.ledger.ledgers import AT, checked, note, opened, tamper

Lines = list[dict[str, Any]]
OLD = Path(__file__).parent / "old"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def exported(path: Path, part: Part | None = None, name: str = "e.jsonl") -> tuple[Path, About]:
    target = path.with_name(name)
    return target, export(path, target, part or Part())


def inspected(file: Path) -> tuple[int, str]:
    """As an inspector runs it: isolated, from the copy beside the export."""
    result = subprocess.run(
        [sys.executable, "-I", str(file.with_name("verify.py")), str(file)],
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert "Traceback" not in result.stderr
    return result.returncode, result.stdout + result.stderr


def lines_of(file: Path) -> Lines:
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]


def put(file: Path, lines: Lines) -> None:
    text = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
    file.write_text(text, encoding="utf-8")


def test_a_whole_export_is_proved_by_the_file_beside_it(path: Path) -> None:
    file, about = exported(path)
    status, says = inspected(file)
    verdict = checked(path)
    assert status == 0, says
    assert f"whole (SIMULATED): {verdict.events} events; they end at the head" in says
    assert f"the ledger ends at event {verdict.events}, head {verdict.head}" in says
    assert (about.first, about.last, about.of) == (1, verdict.events, "whole")
    with open_reader(path) as db:
        there = [(r.seq, r.at, r.batch, r.kind, r.body, r.hash.hex()) for r in read_events(db)]
    keys = ("seq", "at", "batch", "kind", "body", "hash")
    assert [tuple(line[key] for key in keys) for line in lines_of(file)[1:]] == there


@pytest.mark.parametrize(("first", "last"), [(1, 5), (4, 9), (9, 9), (12, None)])
def test_a_range_is_proved_from_its_first_to_its_last_event(
    path: Path, first: int, last: int | None
) -> None:
    end = checked(path).events
    file, about = exported(path, Part(first=first, last=last))
    assert (about.first, about.last) == (first, last or end)
    assert [line["seq"] for line in lines_of(file)[1:]] == list(range(first, (last or end) + 1))
    status, says = inspected(file)
    assert (status, "they end at the head" in says) == (0, last is None)
    assert ("so line 1 says, unproved: the ledger ends" in says) is (last is not None)
    put(file, lines_of(file)[:-1])
    assert inspected(file)[0] == 1


def of_batch(path: Path) -> Path:
    """The export of one batch of forty, so that its path has two levels."""
    book = opened(path)
    for number in range(2, 41):
        book.append([(f"b-{number}", ev.Noted(f"note {n}", "Ansel")) for n in range(3)], AT)
    book.close()
    return exported(path, Part(batch="b-17"))[0]


def test_a_batch_alone_is_proved_by_its_path_to_the_root_beside_the_ledger(path: Path) -> None:
    file = of_batch(path)
    lines, mark = lines_of(file), read_mark(path)
    assert mark is not None
    assert len(lines[0]["path"]["levels"]) == 2
    status, says = inspected(file)
    assert (status, len(lines)) == (0, 4)
    assert f"3 events; they are all that the batch had under the root {mark.root}" in says
    assert "so line 1 says, unproved: the ledger ends at event" in says


def test_a_batch_without_a_path_is_said_to_be_not_proved_whole(path: Path) -> None:
    file = of_batch(path)
    lines = lines_of(file)
    put(file, [lines[0] | {"path": None}, *lines[1:]])
    status, says = inspected(file)
    assert (status, "NOT proved: that none of them is missing" in says) == (0, True)


def test_an_older_ledger_gives_a_batch_without_a_path(tmp_path: Path) -> None:
    old = Path(shutil.copy(OLD / "v3.sqlite", tmp_path / "old.ledger"))
    with open_reader(old) as db:
        (batch,) = db.execute("SELECT batch FROM event WHERE batch IS NOT NULL LIMIT 1").fetchone()
    file, about = exported(old, Part(batch=batch))
    assert (about.path, inspected(file)[0]) == (None, 0)


def test_a_range_of_days_has_what_lies_between_even_where_the_clock_was_set_back(
    path: Path,
) -> None:
    before = checked(path).events
    book = opened(path)
    for day in ("2026-12-01", "2026-12-02", "2026-12-01", "2026-12-03"):
        book.append(note(), f"{day}T00:00:00.000Z")
    book.close()
    asked = Part(begin="2026-12-01T00:00:00.000Z", end="2026-12-02T00:00:00.000Z")
    file, about = exported(path, asked)
    assert (about.first, about.last) == (before + 1, before + 3)
    assert inspected(file)[0] == 0
    with_seq = Part(first=3, end="2026-12-02T00:00:00.000Z")
    assert export(path, path.with_name("seq.jsonl"), with_seq).first == 3


def test_csv_has_the_same_events_for_a_spreadsheet(path: Path) -> None:
    target = path.with_name("e.csv")
    export(path, target, Part(), as_csv=True)
    rows = list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
    file, _ = exported(path)
    events = lines_of(file)[1:]
    assert [row["hash"] for row in rows] == [event["hash"] for event in events]
    assert [json.loads(row["body"]) for row in rows] == [event["body"] for event in events]
    assert len(pandas.read_csv(target)) == len(events)
    assert inspected(target)[0] == 2


def test_nothing_is_written_over_and_the_ledger_is_only_read(path: Path) -> None:
    before = path.read_bytes()
    file, _ = exported(path)
    verifier = file.with_name("verify.py")
    verifier.write_text("mine")
    result = run("ledger", "export", "--out", str(file), "--ledger", str(path))
    assert (result.exit_code, "exists already" in result.stderr) == (3, True)
    assert "next: give the export a new name" in result.stderr
    again = file.with_name("again.jsonl")
    assert run("ledger", "export", "--out", str(again), "--ledger", str(path)).exit_code == 0
    assert verifier.read_text() == "mine"
    assert path.read_bytes() == before


def test_an_export_that_fails_leaves_no_file(path: Path) -> None:
    tamper(path, "UPDATE event SET body = '{' WHERE seq = 5")
    target = path.with_name("e.jsonl")
    result = run("ledger", "export", "--out", str(target), "--ledger", str(path))
    assert (result.exit_code, "event 5 cannot be read" in result.stderr) == (3, True)
    assert not target.exists()


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("--batch", "b-1", "--from", "3"), 2, "a batch has no --from and --to"),
        (("--from", "9", "--to", "8"), 2, "--from 9 is after --to 8"),
        (("--from", "0"), 2, "there is no event 0"),
        (("--to", "9" * 16), 2, "there is no event 9999"),
        (("--from", "yesterday"), 2, "expected a day"),
        (("--from", "900"), 3, "there is no such event"),
        (("--to", "2025-01-01"), 3, "there is no such event"),
        (("--batch", "b-9"), 3, "there is no such event"),
    ],
)
def test_what_is_asked_wrongly_is_a_sentence_and_no_file(
    path: Path, words: tuple[str, ...], status: int, says: str
) -> None:
    target = path.with_name("e.jsonl")
    result = run("ledger", "export", "--out", str(target), "--ledger", str(path), *words)
    assert (result.exit_code, says in result.stderr) == (status, True), result.stderr
    assert not target.exists()


def test_a_day_is_taken_whole_at_both_ends(path: Path) -> None:
    day = AT[:10]
    words = ("--out", str(path.with_name("e.jsonl")), "--ledger", str(path), "--json")
    told = json.loads(run("ledger", "export", *words, "--from", day, "--to", day).stdout)
    assert (told["first"], told["events"], told["of"]) == (1, checked(path).events, "range")
