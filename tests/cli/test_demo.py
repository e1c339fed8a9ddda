"""The demo: the real daemon, two simulated scales, one whole batch."""

import ast
import json
from decimal import Decimal
from pathlib import Path

import pytest

from station import CAUTION
from tests.service.daemons import ROOT, station

pytestmark = pytest.mark.slow


@pytest.mark.timeout(90)
def test_the_demo_prints_one_object_and_its_ledger_stays_whole(tmp_path: Path) -> None:
    result = station("demo", "--speed", "6", "--json", env_extra={"TMPDIR": str(tmp_path)})
    assert result.returncode == 0, result.stderr
    shown = json.loads(result.stdout)
    rows = {row["name"]: row for row in shown["additions"]}
    assert [row["verdict"] for row in rows.values()] == ["in"] * 5
    assert (rows["salt"]["scale"], rows["ice"]["scale"]) == ("fine", "bench")
    assert rows["curing premix"]["lot"] == "P-41"
    for row in rows.values():
        actual, target = Decimal(row["actual_g"]), Decimal(row["target_g"])
        assert Decimal(row["lower_g"]) <= actual <= Decimal(row["upper_g"])
        assert Decimal(row["difference_g"]) == actual - target
    kinds = {(warning["addition"], warning["kind"]) for warning in shown["warnings"]}
    assert {("salt", "over"), ("curing premix", "blocked")} <= kinds
    share, short, strength = (refusal["reason"] for refusal in shown["refusals"])
    assert "pork shoulder, 60 % by the formula, is 47 % of the plan" in share
    assert "% less than the plan's 12000 g" in short
    assert "0.6 % sodium nitrite" in strength
    assert shown["simulated"] is True
    assert (shown["nitrite_ppm"]["planned"], shown["nitrite_ppm"]["limit"]) == ("125", "156.25")
    assert abs(Decimal(shown["nitrite_ppm"]["actual"]) - 125) < 3
    verified = station("ledger", "verify", "--json", "--ledger", shown["ledger"])
    verdict = json.loads(verified.stdout)
    assert (verdict["ok"], verdict["events"], verdict["head"]) == (
        True,
        shown["events"],
        shown["head"],
    )
    sheet = station("audit", "batch", shown["batch"], "--ledger", shown["ledger"])
    assert "SIMULATED" in sheet.stdout
    assert CAUTION.split(". ")[0] in " ".join(sheet.stdout.split())
    assert shown["head"] in sheet.stdout
    pours = json.loads(station("audit", "pours", "--json", "--ledger", shown["ledger"]).stdout)
    rows = {(row["addition"], row["who"]): row for row in pours["pours"]}
    heeded, careless = rows["salt", "Brida"], rows["salt", "Ansel"]
    assert (heeded["stops"], heeded["in_time"], heeded["slower"]) == (1, 1, 1)
    assert (careless["stops"], careless["in_time"]) == (1, 0)
    assert Decimal(careless["beyond_most_g"]) > Decimal(heeded["beyond_most_g"])
    table = station("audit", "pours", "--ledger", shown["ledger"]).stdout
    assert "1 of 1" in table and "0 of 1" in table


def test_every_caption_has_a_length_that_fits_forty_columns() -> None:
    """The display takes the first that fits; one row is one less than the screen."""
    tree = ast.parse((ROOT / "station/demo/story.py").read_text("utf-8"))
    calls = [
        [arg.value for arg in node.args if isinstance(arg, ast.Constant)]
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "tell"
    ]
    told = [captions for captions in calls if captions]
    assert len(told) > 10
    assert all(len(captions[-1]) < 39 for captions in told)
