"""`station formula keep`: what was wished after tasting becomes the next revision."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from station.cli.formula import formula
from station.formula.sheet import parse_formula
from station.ledger.book import Book
from station.weighing import commands as do
from tests.audit.kitchen_record import append_batch
from tests.benchside import Bench
from tests.ledger.ledgers import BORN
from tests.weighing.test_tallying import FORMULA

WRITTEN = "# by hand\n" + FORMULA.replace('amount = "1.8 %"', 'amount = "1.8 %"  # as always')


def tasted(bench: Bench) -> None:
    bench.open()
    bench.weigh_meat()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    bench.say(do.TakeSample(None, None, Decimal(180), "cook it through"))
    bench.say(do.Wish("salt", Decimal("0.0205")))
    bench.add("salt", "cup 1", "30")
    bench.say(do.EndTasting())
    bench.say(do.Close())


def plain_one(bench: Bench) -> None:
    bench.open()


@pytest.fixture(name="yard")
def _yard(tmp_path: Path) -> Path:
    """A folder of one's own with the formula, and a ledger beside it."""
    (tmp_path / "mine" / "formulas").mkdir(parents=True)
    (tmp_path / "mine" / "formulas" / "ring.toml").write_text(WRITTEN)
    book = Book.open(tmp_path / "a.ledger", BORN, "2026-11-30T06:00:00.000Z")
    append_batch(book, "261130-1", "2026-11-30T08", WRITTEN, tasted)
    book.close()
    return tmp_path


def keep(yard: Path, *words: str) -> Result:
    where = ["--config", str(yard / "mine"), "--ledger", str(yard / "a.ledger")]
    return CliRunner(catch_exceptions=False).invoke(formula, ["keep", *words, *where])


def test_it_writes_the_next_revision_beside_the_old(yard: Path) -> None:
    result = keep(yard, "261130-1")
    assert result.exit_code == 0, result.output
    new = yard / "mine" / "formulas" / "ring-2.toml"
    assert result.stdout.splitlines() == [
        f"{new}: test ring, revision 2", "  salt: 1.8 % -> 2.05 %",
    ]  # fmt: skip
    found = parse_formula(new.read_text(), "ring-2.toml")
    assert (found.revision, found.addition("salt").amount.text) == (2, "2.05 %")
    assert new.read_text().startswith("# by hand\n")
    assert (yard / "mine" / "formulas" / "ring.toml").read_text() == WRITTEN


def test_it_never_writes_over_a_file(yard: Path) -> None:
    to = yard / "other.toml"
    told = json.loads(keep(yard, "261130-1", "--to", str(to), "--json").stdout)
    assert told == {
        "file": str(to), "revision": 2,
        "changed": [{"line": "salt", "was": "1.8 %", "amount": "2.05 %"}],
    }  # fmt: skip
    again = keep(yard, "261130-1", "--to", str(to))
    assert (again.exit_code, "is there already" in again.stderr) == (3, True)


def test_a_file_that_was_changed_since_is_not_taken(yard: Path) -> None:
    file = yard / "mine" / "formulas" / "ring.toml"
    file.write_text(WRITTEN.replace("0.30 %", "0.35 %"))
    (file.parent / "wrong.toml").write_text("name = 3")
    result = keep(yard, "261130-1")
    assert result.exit_code == 3
    assert "no file is test ring, revision 1, as the batch was opened by" in result.stderr


def test_where_nothing_was_wished_there_is_nothing_to_keep(yard: Path) -> None:
    book = Book.open(yard / "a.ledger", BORN, "2026-11-30T20:00:00.000Z")
    append_batch(book, "261201-2", "2026-12-01T08", WRITTEN, plain_one)
    book.close()
    result = keep(yard, "261201-2")
    assert result.exit_code == 3
    assert "nothing was wished in batch 261201-2" in result.stderr
