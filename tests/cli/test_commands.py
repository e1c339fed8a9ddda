"""The command line: help with an example for every verb, JSON, and exit statuses."""

import json
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from station import CAUTION
from station.cli import GROUPS, main
from tests.service.daemons import ROOT, Daemon, station

pytestmark = pytest.mark.slow


def verbs(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    yield path
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            found = command.get_command(click.Context(command), name)
            assert found is not None
            yield from verbs(found, (*path, name))


@pytest.mark.parametrize("path", list(verbs(main)), ids=" ".join)
def test_every_verb_has_help_with_an_example(path: tuple[str, ...]) -> None:
    result = CliRunner().invoke(main, [*path, "--help"])
    assert result.exit_code == 0
    assert "Example: station" in result.output


@pytest.mark.parametrize(
    "path", [p for p in verbs(main) if p and p[-1] not in ("run", "follow", "bench")], ids=" ".join
)
def test_every_verb_that_ends_prints_json(path: tuple[str, ...]) -> None:
    result = CliRunner().invoke(main, [*path, "--help"])
    assert "--json" in result.output or "Commands:" in result.output


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from station.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'pint', 'sqlite_utils', 'rich', 'msgspec', 'serial'} & set(sys.modules)\n"
        "sys.exit(', '.join(heavy) or 0)\n"
    )
    result = station_python(code)
    assert result.returncode == 0, result.stderr
    assert CAUTION[:30] in result.stdout


def station_python(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=30,
        check=False,
    )


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (["state", "--socket", "/nowhere/s.sock"], 3, "start it: station run"),
        (["audit", "batch", "x", "--ledger", "/nowhere/x.ledger"], 3, "no ledger at"),
        (["ledger", "verify", "--ledger", "/nowhere/x.ledger"], 3, "no ledger at"),
        (["run", "--config", "/nowhere"], 2, "no configuration folder"),
        (["formula", "check", "/nowhere.toml"], 2, "cannot be read"),
        (["acept", "salt"], 2, "No such command"),
        (["accept"], 2, "Missing argument"),
    ],
)
def test_what_goes_wrong_is_one_sentence_and_a_status(
    words: list[str], status: int, says: str
) -> None:
    result = station(*words)
    assert (result.returncode, says in result.stderr) == (status, True), result.stderr
    assert "Traceback" not in result.stderr


@pytest.fixture
def formulas(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "config" / "formulas", tmp_path / "formulas")
    return tmp_path / "formulas"


def test_a_formula_is_checked_against_the_law(formulas: Path) -> None:
    ring = formulas / "garlic-ring.toml"
    lawful = station("formula", "check", str(ring), "--json")
    found = json.loads(lawful.stdout)
    assert lawful.returncode == 0
    assert (found["agents"][0]["ppm"], found["agents"][0]["limit"]) == ("125", "156.25")
    assert found["salt_percent_of_meat"] == "1.9875"
    ring.write_text(ring.read_text().replace('"0.20 %"', '"0.25 %"'))
    at_limit = station("formula", "check", str(ring), "--json")
    found = json.loads(at_limit.stdout)["findings"]
    (warning,) = [finding for finding in found if finding["severity"] == "warning"]
    assert at_limit.returncode == 0
    assert not [finding for finding in found if finding["severity"] == "broken"]
    assert "the aim is" in warning["text"]
    ring.write_text(ring.read_text().replace('"0.25 %"', '"0.26 %"'))
    over = station("formula", "check", str(ring))
    assert (over.returncode, "162.5 mg/kg" in over.stdout) == (1, True)
    ring.write_text(ring.read_text().replace("role", "rolle"))
    wrong = station("formula", "check", str(ring))
    assert wrong.returncode == 2
    assert wrong.stderr.count("did you mean 'role'?") == 5


def test_verbs_speak_to_the_station_and_answer_in_words_or_json(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    at = ["--socket", str(daemon.socket)]
    try:
        opened = station("open", "garlic-ring", "--meat", "12 kg", "--who", "Ansel", *at, "--json")
        batch = json.loads(opened.stdout)["batch"]
        refused = station("accept", "pork shoulder", *at)
        assert (refused.returncode, "cable is out" in refused.stderr) == (3, True)
        unknown = station("accept", "pork sholder", *at)
        assert (unknown.returncode, "did you mean 'pork shoulder'?" in unknown.stderr) == (2, True)
        assert json.loads(station("state", *at, "--json").stdout)["batch"] == batch
        assert "its cable is out" in station("state", *at).stdout
        sheet = station("audit", "batch", batch, "--ledger", str(daemon.ledger), "--json")
        assert json.loads(sheet.stdout)["refusals"][0]["addition"] == "pork shoulder"
        other = station("audit", "batch", "nonsense", "--ledger", str(daemon.ledger))
        assert (other.returncode, batch in other.stderr) == (2, True)
        copy = tmp_path / "copy.ledger"
        made = station("ledger", "backup", str(copy), "--ledger", str(daemon.ledger), "--json")
        assert (made.returncode, json.loads(made.stdout)["ok"]) == (0, True)
    finally:
        daemon.stop()
    verdict = json.loads(station("ledger", "verify", "--ledger", str(copy), "--json").stdout)
    keys = {"ok", "events", "head", "first_broken", "reason"}
    assert set(verdict) == keys | {"not_checked"}, "a copy has no mark beside it"
    own = json.loads(station("ledger", "verify", "--ledger", str(daemon.ledger), "--json").stdout)
    assert set(own) == keys


def test_a_sheet_from_a_changed_ledger_says_that_it_is_not_to_be_trusted(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    batch = daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")["batch"]
    daemon.stop()
    with closing(sqlite3.connect(daemon.ledger, isolation_level=None)) as db:
        db.execute("DROP TRIGGER event_no_update")
        db.execute("UPDATE event SET body = replace(body, '12000', '9000')")
    sheet = station("audit", "batch", batch, "--ledger", str(daemon.ledger))
    assert (sheet.returncode, "DO NOT TRUST" in sheet.stdout.upper()) == (1, True)
    as_json = station("audit", "batch", batch, "--ledger", str(daemon.ledger), "--json")
    assert "was changed" in json.loads(as_json.stdout)["broken"]
    assert station(*daemon.words).returncode == 3


RING = "config/formulas/garlic-ring.toml"


def formula_json(*words: str) -> dict[str, Any]:
    result = station("formula", *words, "--json")
    assert result.returncode in (0, 1), result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_a_formula_is_checked_against_the_law_that_is_asked_for() -> None:
    verdicts = {}
    for authority in ("us", "eu", "gb"):
        result = station("formula", "check", RING, "--authority", authority, "--json")
        told = json.loads(result.stdout)
        first = told["agents"][0]
        verdicts[authority] = (told["authority"], first["verdict"], result.returncode)
        assert set(first) == {
            "agent",
            "kind",
            "ppm",
            "basis",
            "limit",
            "unit",
            "verdict",
            "source",
            "seen",
            "own",
            "since",
        }
        keys = {"line", "severity", "text", "source", "cause", "helps"}
        assert all(set(finding) == keys for finding in told["findings"])
    assert verdicts == {
        "us": ("us", "within", 0), "eu": ("eu", "over", 1), "gb": ("gb", "within", 0),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("plan", "meat_g"),
    [
        (("--meat", "7340g"), "7340"),
        (("--meat", "1 lb"), "453.59237"),
        (("--have", "pork belly=3kg"), "7500"),
        (("--have", "pork belly=3kg", "--have", "pork shoulder=3 kg"), "5000"),
    ],
)
def test_a_formula_is_scaled_exactly(plan: tuple[str, ...], meat_g: str) -> None:
    told = formula_json("scale", RING, *plan)
    assert told["meat_g"] == meat_g
    rows = {row["name"]: row for row in told["additions"]}
    target = Decimal(meat_g) * Decimal("0.018")
    assert Decimal(rows["salt"]["target_g"]) == target.quantize(Decimal("0.000001")).normalize()
    assert set(rows["salt"]) == {"name", "role", "target_g", "lower_g", "upper_g"}


def test_a_formula_is_scaled_to_a_mix_and_to_pieces() -> None:
    mix = formula_json("scale", RING, "--mix", "10kg")
    assert Decimal(mix["mix_g"]) == 10_000
    pieces = formula_json("scale", RING, "--pieces", "40")
    assert Decimal(pieces["mix_g"]).quantize(Decimal("0.01")) == Decimal(
        "7422.68"
    )  # 40 x 180 / 0.97


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "a plan is one of"),
        (("--meat", "7 kg", "--mix", "8 kg"), "a plan is one of"),
        (("--have", "pork=3kg"), "is no meat of it"),
        (("--have", "pork belly=3"), "expected a mass"),
        (("--meat", "heavy"), "expected a mass"),
    ],
)
def test_a_plan_that_cannot_be_is_named(words: tuple[str, ...], says: str) -> None:
    result = station("formula", "scale", RING, *words)
    assert (result.returncode, says in result.stderr) == (2, True), result.stderr


def test_two_formulas_are_compared(tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    text = (ROOT / RING).read_text()
    text = text.replace('amount = "1.8 %"', 'amount = "1.9 %"').replace('"6.25 %"', '"6 %"')
    other.write_text(text.replace('"93.75 %"', '"94 %"').replace("revision = 1", "revision = 2"))
    told = formula_json("compare", RING, str(other))
    rows = {row["name"]: row for row in told["differences"]}
    assert (rows["salt"]["first_g_per_kg"], rows["salt"]["second_g_per_kg"]) == ("18", "19")
    assert rows["curing premix"]["contains_differs"] == ["salt", "sodium nitrite"]
    assert set(rows) == {"salt", "curing premix"}
    assert formula_json("compare", RING, RING)["differences"] == []


def test_the_sheet_is_one_page_and_none_is_made_of_an_unlawful_formula(tmp_path: Path) -> None:
    result = station("formula", "sheet", RING, "--meat", "12kg")
    lines = result.stdout.splitlines()
    assert result.returncode == 0 and len(lines) <= 60 and max(map(len, lines)) <= 80
    assert "curing premix*" in result.stdout and "second person" in result.stdout
    strong = tmp_path / "strong.toml"
    strong.write_text((ROOT / RING).read_text().replace('"0.20 %"', '"0.30 %"'))
    refused = station("formula", "sheet", str(strong), "--meat", "12kg")
    assert (refused.returncode, "is over 156.25 mg/kg" in refused.stderr) == (1, True)


def test_the_formulas_there_are_are_listed() -> None:
    result = station("formula", "list")
    assert "garlic-ring" in result.stdout and "Fenwether herb link" in result.stdout


def test_no_upper_end_of_a_scaled_line_is_over_its_limit(formulas: Path) -> None:
    """156.25 mg/kg is the limit: 25 g of a 6.25 % premix on 10 kg, not 2 % more."""
    ring = formulas / "garlic-ring.toml"
    ring.write_text(ring.read_text().replace('"0.20 %"', '"0.25 %"'))
    rows = {
        row["name"]: row for row in formula_json("scale", str(ring), "--meat", "10kg")["additions"]
    }
    assert (rows["curing premix"]["target_g"], rows["curing premix"]["upper_g"]) == ("25", "25")
    ring.write_text(ring.read_text().replace('"0.25 %"', '"1 %"'))
    told = station("formula", "scale", str(ring), "--meat", "10kg")
    assert "625 mg/kg" in told.stderr


@pytest.mark.parametrize(
    ("have", "says"),
    [
        (("pork belly=3kg", "pork belly=2kg"), "named twice"),
        (("pork belly=2000 t",), "no batch"),
        (("pork bely=3kg",), "no meat of it"),
    ],
)
def test_what_there_is_of_the_meat_is_said_once(have: tuple[str, ...], says: str) -> None:
    words = [word for text in have for word in ("--have", text)]
    result = station("formula", "scale", RING, *words)
    assert (result.returncode, says in result.stderr) == (2, True)


def test_a_formula_that_is_too_wet_gets_no_sheet_and_is_not_opened(formulas: Path) -> None:
    link = formulas / "herb-link.toml"
    link.write_text(link.read_text().replace('amount = "3 %"', 'amount = "20 %"'))
    sheet = station("formula", "sheet", str(link), "--meat", "5 kg")
    assert (sheet.returncode, "added water" in sheet.stderr) == (1, True)


def test_compare_says_everything_that_differs(formulas: Path) -> None:
    ring, other = formulas / "garlic-ring.toml", formulas / "other.toml"
    text = ring.read_text().replace("cooked cured", "raw cured")
    text = text.replace("revision = 1", 'revision = 1\nbasis = "mix"\nauthority = "gb"')
    text = text.replace('fat = "18 %"', 'fat = "22 %"').replace('piece = "180 g"', 'piece = "90 g"')
    other.write_text(text.replace('amount = "8 %"', 'amount = "800 g"'))
    told = formula_json("compare", str(ring), str(other))
    assert set(told["whole"]) == {"product", "piece_g", "basis", "authority"}
    rows = {row["name"]: row["differs"] for row in told["differences"]}
    assert rows["pork shoulder"] == ["fat"]
    assert rows["ice"] == ["amount on meat, then on fixed"]


def test_a_check_is_for_the_meat_that_is_named(formulas: Path) -> None:
    ring = formulas / "garlic-ring.toml"
    ring.write_text(ring.read_text().replace('"0.20 %"', '"25 g"'))
    assert station("formula", "check", str(ring)).returncode == 0
    less = station("formula", "check", str(ring), "--meat", "9 kg")
    assert (less.returncode, "173.62 mg/kg" in less.stdout) == (1, True)
    assert station("formula", "check", str(ring), "--meat", "9").returncode == 2


def test_every_verb_is_in_one_group_of_the_help() -> None:
    """In the order in which they are wanted, not in that of the alphabet."""
    grouped = [name for names in GROUPS.values() for name in names]
    assert sorted(grouped) == main.list_commands(click.Context(main))
    told = station("--help").stdout
    assert [told.index(f"{title}:") for title in GROUPS] == sorted(
        told.index(f"{title}:") for title in GROUPS
    )


def test_what_is_a_verb_of_a_group_is_none_beside_it() -> None:
    for words in (["lag", "fine"], ["review-lot", "salt", "A", "why"]):
        assert "No such command" in station(*words).stderr
    assert station("lot", "review", "--help").returncode == 0
    assert station("scale", "lag", "--help").returncode == 0
