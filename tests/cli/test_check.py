"""`station formula check` names the law and how that was chosen, and is short where all is well."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from station.cli.formula import formula
from station.resources import packaged

RING = packaged() / "formulas" / "garlic-ring.toml"
LINK = packaged() / "formulas" / "herb-link.toml"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(formula, [str(word) for word in words])


def checked(*words: str | Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run("check", *words, "--json").stdout)
    return found


@pytest.fixture
def named(tmp_path: Path) -> Path:
    """The ring, written for the law of Great Britain."""
    file = tmp_path / "ring.toml"
    text = RING.read_text(encoding="utf-8")
    file.write_text(text.replace("revision = 1", 'revision = 1\nauthority = "gb"'), "utf-8")
    return file


@pytest.fixture
def eu_bench(tmp_path: Path) -> Path:
    """A configuration whose bench judges by the law of the European Union."""
    folder = tmp_path / "mine"
    folder.mkdir()
    text = (packaged() / "station.toml").read_text(encoding="utf-8")
    (folder / "station.toml").write_text(text.replace('"us"', '"eu"'), "utf-8")
    return folder


def test_a_check_names_the_law_of_the_bench_and_its_file(eu_bench: Path) -> None:
    file = str(packaged() / "station.toml")
    assert f"by the law of us, which the bench has ({file}), as of " in run("check", RING).stdout
    found = checked(RING)
    assert (found["authority"], found["authority_by"]) == ("us", "bench")
    assert found["bench"] == {"authority": "us", "file": file}
    mine = str(eu_bench / "station.toml")
    said = run("check", RING, "--config", eu_bench).stdout
    assert f"by the law of eu, which the bench has ({mine}), as of " in said


def test_the_law_that_a_formula_names_comes_before_that_of_the_bench(
    named: Path, eu_bench: Path
) -> None:
    result = run("check", named, "--config", eu_bench)
    said = "by the law of gb, which the formula names (the bench has eu), as of "
    assert (result.exit_code, said in result.stdout) == (0, True)
    found = checked(named, "--config", eu_bench)
    assert (found["authority"], found["authority_by"]) == ("gb", "formula")
    assert found["bench"]["authority"] == "eu"


def test_the_law_that_is_asked_for_comes_before_all_others(named: Path) -> None:
    result = run("check", named, "--authority", "eu")
    said = "by the law of eu, which was asked for (the bench has us), as of "
    assert (result.exit_code, said in result.stdout) == (1, True)
    found = checked(named, "--authority", "eu")
    assert (found["authority"], found["authority_by"]) == ("eu", "asked")
    same = run("check", RING, "--authority", "us").stdout
    assert "by the law of us, which was asked for, as of " in same


def test_a_law_that_nobody_knows_is_a_mistake(named: Path) -> None:
    named.write_text(named.read_text("utf-8").replace('"gb"', '"uk"'), "utf-8")
    result = run("check", named)
    assert (result.exit_code, "found 'uk', allowed us, eu, gb" in result.stderr) == (2, True)


@pytest.mark.parametrize("verb", ["sheet", "scale"])
def test_what_is_written_for_another_law_is_not_judged_by_the_bench(named: Path, verb: str) -> None:
    """Never by the bench's in silence, and never by one that the bench does not have."""
    result = run(verb, named, "--meat", "12 kg")
    assert result.exit_code == 2
    assert "is written for the law of gb, and this bench judges by us" in result.stderr
    named.write_text(named.read_text("utf-8").replace('"gb"', '"us"'), "utf-8")
    assert run(verb, named, "--meat", "12 kg").exit_code == 0


@pytest.mark.parametrize(("file", "most"), [(RING, 6), (LINK, 5)])
def test_a_formula_that_is_fine_says_so_in_a_few_lines(file: Path, most: int) -> None:
    result = run("check", file)
    lines = result.stdout.splitlines()
    assert result.exit_code == 0
    assert lines[0].endswith(": nothing is broken")
    assert len(lines) <= most


def test_each_row_says_agent_amount_limit_basis_source_and_how_it_is_known() -> None:
    lines = run("check", RING).stdout.splitlines()
    rows = [line for line in lines if " of the meat block, " in line]
    assert rows == [
        "sodium nitrite or potassium nitrite: 125 mg/kg of the meat block, at most 156.25: within"
        " (9 CFR 424.21(c), 2015 edition: nitrite, 1/4 oz to 100 lb chopped meat; seen;"
        " as of 2015-01-01)",
        "sodium nitrite or potassium nitrite: 125 mg/kg of the meat block, at least 120: within"
        " (FSIS Directive 7620.3, p. 12: ingoing nitrite of cured products kept chilled;"
        " second-hand; advice only; as of 1995-01-01)",
    ]
    told = checked(RING)["agents"]
    assert [(row["kind"], row["seen"], row["since"]) for row in told] == [
        ("ingoing", True, "2015-01-01"), ("required", False, "1995-01-01"),
        ("residual", True, "2015-01-01"),
    ]  # fmt: skip


def test_what_needs_no_figure_says_so(tmp_path: Path) -> None:
    text = RING.read_text(encoding="utf-8")
    text += (
        '[[addition]]\nname = "ascorbate"\namount = "0.05 %"\nrole = "accelerator"\n'
        'contains = { "sodium ascorbate" = "100 %" }\n'
    )
    (tmp_path / "f.toml").write_text(text, "utf-8")
    said = run("check", tmp_path / "f.toml", "--authority", "gb").stdout
    assert "500 mg/kg of the meat block, as needed: not judged (" in said


def test_each_line_of_a_formula_gets_one_caution_the_heaviest(tmp_path: Path) -> None:
    """A fixed mass of cure at the limit: where its aim goes is a warning, what hangs on the meat
    and what may be left of it are advice."""
    text = RING.read_text(encoding="utf-8")
    file = tmp_path / "f.toml"
    file.write_text(text.replace('"0.20 %"', '"25 g"'), "utf-8")
    lines = run("check", file).stdout.splitlines()
    cautions = [line for line in lines if re.match("broken|warning|advice", line)]
    (one,) = cautions
    assert one.startswith("warning: curing premix: its band reaches over the limit")
    assert lines[-1] == "and 2 more on these lines: --json tells all"
    assert len(checked(file)["findings"]) == 3


def test_all_that_is_broken_is_told_however_much_there_is_on_a_line(tmp_path: Path) -> None:
    """A cure without a curing agent, and an agent that no row knows, on one line."""
    text = RING.read_text(encoding="utf-8").replace('"sodium nitrite"', '"sodium nitrte"')
    file = tmp_path / "f.toml"
    file.write_text(text.replace('name = "garlic"', 'name = "cure no. 1"'), "utf-8")
    result = run("check", file)
    lines = result.stdout.splitlines()
    assert (result.exit_code, lines[0].endswith(": 3 broken")) == (1, True)
    where = [line.split(": ")[1] for line in lines if line.startswith("broken: ")]
    assert where == ["curing premix", "curing premix", "cure no. 1"]


def test_what_is_said_of_the_whole_formula_is_never_left_out() -> None:
    said = run("check", LINK, "--authority", "gb").stdout
    whole = [line for line in said.splitlines() if line.startswith("advice: Fenwether herb link: ")]
    assert len(whole) == len(checked(LINK, "--authority", "gb")["findings"]) > 1


def test_a_line_that_no_scale_is_fit_for_says_what_would_help() -> None:
    """It comes before what is only advice, for the bench will not weigh it."""
    lines = run("check", RING, "--meat", "1 kg").stdout.splitlines()
    at = next(n for n, told in enumerate(lines) if told.startswith("warning: curing premix: "))
    assert "no scale is fit for it; of fine: its band of 0.040 g is under 3" in lines[at]
    assert lines[at + 1] == (
        "  would help: a batch of 2 kg of meat, or a scale with a division of 0.02 g, or"
        " a premix of 3 % sodium nitrite: 4.17 g of it, and 15.83 g of salt instead of 18 g"
    )
    told = checked(RING, "--meat", "1 kg")["findings"]
    assert [(f["line"], f["severity"]) for f in told if f["cause"] == "scale"] == [
        ("curing premix", "warning")
    ]
    assert run("check", RING, "--meat", "2 kg").stdout.count("would help") == 0


def test_a_line_that_is_weighed_all_the_same_is_only_advised_about() -> None:
    told = checked(RING, "--meat", "300 g")["findings"]
    assert {f["line"]: f["severity"] for f in told if f["cause"] == "scale"} == {
        "curing premix": "warning", "black pepper": "advice",
    }  # fmt: skip


def test_a_line_over_a_limit_is_told_its_highest_lawful_amount(tmp_path: Path) -> None:
    """156.25 mg/kg of nitrite are 2.5 g/kg of a premix of 6.25 % (9 CFR 424.21(c), computed)."""
    file = tmp_path / "f.toml"
    text = RING.read_text(encoding="utf-8")
    file.write_text(text.replace('"0.20 %"', '"0.4 %"'), "utf-8")
    lines = run("check", file).stdout.splitlines()
    at = next(n for n, told in enumerate(lines) if told.startswith("broken: curing premix: "))
    assert lines[at + 1] == "  would help: at most 2.5 g/kg of curing premix, 25 g here"
    found = checked(file)["findings"]
    assert [f["line"] for f in found if f["cause"] == "law"] == ["curing premix"]


def test_what_helps_against_a_limit_stands_beside_what_is_over_it(tmp_path: Path) -> None:
    """Less of it makes no agent lawful that no row allows."""
    file = tmp_path / "f.toml"
    text = RING.read_text(encoding="utf-8").replace('"0.20 %"', '"0.4 %"')
    sorbate = '"sodium nitrite" = "6.25 %", "potassium sorbate" = "1 %", "salt" = "92.75 %"'
    text = text.replace('"sodium nitrite" = "6.25 %", "salt" = "93.75 %"', sorbate)
    file.write_text(text, "utf-8")
    broken = [f for f in checked(file)["findings"] if f["severity"] == "broken"]
    assert [(" is over " in f["text"], len(f["helps"])) for f in broken] == [(False, 0), (True, 1)]


def test_where_others_take_all_that_the_law_leaves_that_is_told(tmp_path: Path) -> None:
    text = RING.read_text(encoding="utf-8")
    text += (
        '[[addition]]\nname = "second"\namount = "0.3 %"\nrole = "cure"\n'
        'contains = { "sodium nitrite" = "6.25 %" }\n'
    )
    (tmp_path / "f.toml").write_text(text, "utf-8")
    (helps,) = [f["helps"] for f in checked(tmp_path / "f.toml")["findings"] if f["helps"]][:1]
    assert helps == [
        "no curing premix, or less of the others that bring the same",
        "at most 0.5 g/kg of second, 5 g here",
    ]


def test_a_sheet_says_what_is_loud_beside_the_page(tmp_path: Path) -> None:
    """The paper gives targets all the same: little salt is enforced nowhere."""
    text = RING.read_text(encoding="utf-8").replace("cooked cured", "raw cured dried")
    (tmp_path / "f.toml").write_text(text, "utf-8")
    result = run("sheet", tmp_path / "f.toml", "--meat", "12 kg")
    assert (result.exit_code, "TOO LITTLE SALT" in result.stderr) == (0, True)
    assert "TOO LITTLE SALT" not in result.stdout
    assert run("sheet", RING, "--meat", "12 kg").stderr == ""


def test_a_row_of_ones_own_is_shown_as_such(tmp_path: Path) -> None:
    (tmp_path / "limits").mkdir()
    (tmp_path / "limits" / "own.toml").write_text(
        'authority = "own"\n[[row]]\nwords = []\nagents = ["sodium nitrite"]\n'
        'basis = "meat block"\nmaximum = "110 mg/kg"\nsource = "Ansel"\nsince = "2026-01-01"\n',
        "utf-8",
    )
    result = run("check", RING, "--config", tmp_path)
    assert result.exit_code == 1
    assert "at most 110: over (Ansel; a rule of your own; as of 2026-01-01)" in result.stdout
    assert run("check", RING).exit_code == 0


def test_words_that_would_change_a_bad_verdict_are_named(tmp_path: Path) -> None:
    """A fresh sausage may not have phosphate in Great Britain unless it is a breakfast sausage
    (Regulation (EU) 2018/74, annex); of a fine formula nothing is said."""
    file = tmp_path / "f.toml"
    text = LINK.read_text(encoding="utf-8")
    file.write_text(
        text + '[[addition]]\nname = "more"\namount = "0.2 %"\nrole = "phosphate"\n'
        'contains = { "sodium tripolyphosphate" = "100 %" }\n', "utf-8",
    )  # fmt: skip
    result = run("check", file, "--authority", "gb")
    said = result.stdout.splitlines()[-1]
    assert said.startswith("if one of these words is true, say it: ")
    assert "'breakfast' (nothing is broken)" in said
    assert "if one of these" not in run("check", LINK, "--authority", "gb").stdout
    assert checked(RING)["words"] == {}


def test_what_else_is_to_be_known_of_a_law_stands_behind_it() -> None:
    lines = run("check", LINK, "--authority", "gb").stdout.splitlines()
    assert (
        lines[2] == "note: Northern Ireland follows the law of the European Union: --authority eu"
    )
    assert not any(line.startswith("note: ") for line in run("check", RING).stdout.splitlines())


PUMPED = """name = "side"
revision = 1
product = "cured whole"
method = "pumped"
pump = "10 %"
[pickle]
water = "980 lb"
[[meat]]
name = "belly"
share = "100 %"
[[addition]]
name = "premix"
amount = "21 lb"
role = "cure"
in = "pickle"
contains = { "sodium nitrite" = "10 %", "salt" = "90 %" }
"""


def test_a_pickle_over_a_limit_is_told_its_highest_lawful_amount(tmp_path: Path) -> None:
    """9 CFR 424.21(c): 2 lb of nitrite to 1000 lb of pickle at 10 % pump, here 20 lb of 10 % in
    980 lb of water: 9071.8474 g, the pound being 453.59237 g."""
    file = tmp_path / "f.toml"
    file.write_text(PUMPED, "utf-8")
    lines = run("check", file).stdout.splitlines()
    assert "  would help: at most 9071.847 g of premix, 9071.847 g here" in lines
    file.write_text(PUMPED.replace("21 lb", "9071.847 g"), "utf-8")
    assert run("check", file).exit_code == 0
    file.write_text(PUMPED.replace("21 lb", "9071.848 g"), "utf-8")
    assert run("check", file).exit_code == 1


def test_a_pickle_in_which_others_take_all_is_told_so(tmp_path: Path) -> None:
    second = PUMPED[PUMPED.index("[[addition]]") :].replace('"premix"', '"second"')
    file = tmp_path / "f.toml"
    file.write_text(PUMPED + second, "utf-8")
    (helps,) = [f["helps"] for f in checked(file)["findings"] if f["severity"] == "broken"]
    assert helps == [
        f"less of the others that bring the same: the law leaves nothing of {name} beside the"
        " other lines" for name in ("premix", "second")
    ]  # fmt: skip


BACON = """[[addition]]
name = "erythorbate"
amount = "48 lb"
role = "accelerator"
in = "pickle"
contains = { "sodium erythorbate" = "10 %", "water" = "90 %" }
"""


def test_what_is_too_little_is_told_its_least_amount(tmp_path: Path) -> None:
    """9 CFR 424.22(b)(1): 550 mg/kg, here less 2 % for what a scale can meet, 539: at 10 % pump
    539 x 10 mg/kg of a pickle of 980 lb of water, 12 lb of premix and x lb at 10 %:
    0.1 x = 0.00539 (992 + x), x = 56.51 lb = 25634 g (computed)."""
    text = PUMPED.replace("cured whole", "cured whole bacon").replace("21 lb", "12 lb") + BACON
    text = text.replace('share = "100 %"', 'share = "100 %"\nskin = "0 %"')
    file = tmp_path / "f.toml"
    file.write_text(text, "utf-8")
    (short,) = [f for f in checked(file)["findings"] if f["severity"] == "broken"]
    (least,) = short["helps"]
    told = re.fullmatch(r"at least ([0-9.]+) g of erythorbate, ([0-9.]+) g here", least)
    assert told is not None
    assert abs(float(told[1]) - 25634) < 1
    for grams, status in ((told[1], 0), (str(float(told[1]) - 0.001), 1)):
        file.write_text(text.replace("48 lb", f"{grams} g"), "utf-8")
        assert run("check", file).exit_code == status
