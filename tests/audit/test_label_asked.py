"""`station label`, asked of a ledger."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from station.cli.label import label_of
from station.resources import Config
from tests.audit.asking import told


def ask(ledger: Path, *words: str) -> Result:
    return CliRunner(catch_exceptions=False).invoke(label_of, [*words, "--ledger", str(ledger)])


def closed(ledger: Path) -> dict[str, Any]:
    found = told(ledger, "list")["batches"]
    return next(row for row in found if row["state"] == "closed" and row["salt_pct"])


def test_it_answers_in_the_shape_that_programs_know(kept: Path) -> None:
    batch = closed(kept)["batch"]
    result = ask(kept, batch, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert {"ingredients", "meat_percent", "salt_g_per_100g", "text"} <= set(found)
    assert set(found["ingredients"][0]) >= {"name", "percent", "allergens"}
    assert found["batch"] == batch and found["simulated"] is True


def test_as_text_every_line_is_a_line_and_the_stamp_stands_on_it(kept: Path) -> None:
    batch = closed(kept)["batch"]
    lines = ask(kept, batch).stdout.splitlines()
    assert lines[0] == f"batch {batch}  SIMULATED"
    assert any(line.startswith("Ingredients: ") for line in lines)
    assert any("The maker and local law decide" in line for line in lines)


def test_a_batch_that_is_none_is_told_with_those_that_are(kept: Path) -> None:
    result = ask(kept, "no-batch")
    assert result.exit_code == 2 and "no batch 'no-batch'; there are " in result.stderr


def test_a_batch_of_which_nobody_knows_how_much_has_none(kept: Path) -> None:
    for row in told(kept, "list")["batches"]:
        result = ask(kept, str(row["batch"]))
        if result.exit_code == 3:
            assert "has no label: " in result.stderr and "station audit batch" in result.stderr
            return
    raise AssertionError("the record has a batch with an amount that nobody knows")


def test_it_counts_meat_and_salt_by_the_files_of_the_folder_that_is_named(
    kept: Path, tmp_path: Path
) -> None:
    """Twice the salt for a gram of sodium is twice the salt on the label."""
    batch = closed(kept)["batch"]
    text = Config().read("label.toml")[0]
    (tmp_path / "label.toml").write_text(text.replace('"2.5"', '"5"'), "utf-8")
    usual, twice = (
        Decimal(json.loads(ask(kept, batch, "--json", *more).stdout)["salt_g_per_100g"])
        for more in ((), ("--config", str(tmp_path)))
    )
    assert usual and abs(twice - 2 * usual) <= Decimal("0.01")
    (tmp_path / "label.toml").write_text(text.replace('"2.5"', '"much"'), "utf-8")
    result = ask(kept, batch, "--config", str(tmp_path))
    assert result.exit_code == 2 and "label.toml" in result.stderr
