"""The pages: whole HTML by a strict parser, nobody's text taken for markup, nothing lost."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import html5lib
import pytest

from station.audit.page import _PAGES, About, grams, number
from station.audit.pages import batch_page
from station.audit.series import Point, series
from station.batch import events as ev
from station.cli.common import local
from station.ledger.mark import mark_path
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.test_sheet import salted_and_more, sheet_of
from tests.benchside import Bench
from tests.ledger.ledgers import copied, tamper

PAGES = (
    *(("batch", "261130-1"), ("batch", "261130-2"), ("batch", "261201-3"), ("batch", "261201-4")),
    *(("batch", "261204-7"), ("day", "2026-11-30"), ("day", "2020-01-01")),
    *(("report",), ("report", "--from", "2030-01-01")),
    *(("recall", "P-41"), ("recall", "P-42"), ("recall", "B-7"), ("recall", "P-30")),
)
ABOUT = About(9, "aa", None, True, "verified")
AT = "2026-11-30T12:00:00+00:00"


def written(ledger: Path, folder: Path, *words: str, status: int = 0) -> str:
    file = folder / "page.html"
    result = ask(ledger, *words, "--html", str(file))
    assert result.exit_code == status, result.output
    return file.read_text(encoding="utf-8")


def parsed(text: str) -> Any:
    """By the WHATWG's algorithm; any parse error fails."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)


def words_of(node: Any) -> str:
    return " ".join("".join(node.itertext()).split())


@pytest.mark.parametrize("words", PAGES, ids=" ".join)
def test_a_page_is_whole_html_without_a_script_that_a_screen_reader_can_tell(
    kept: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    text = written(kept, tmp_path, *words)
    page = parsed(text)
    assert page.get("lang") == "en" and page.find("head/title").text.strip()
    assert len(page.findall(".//h1")) == 1 and len(page.findall(".//main")) == 1
    assert not [tag for tag in ("script", "link", "img", "iframe") if list(page.iter(tag))]
    names = [node.get("id") for node in page.iter() if isinstance(node.tag, str) and node.get("id")]
    assert len(names) == len(set(names))
    charts = list(page.iter("{http://www.w3.org/2000/svg}svg"))
    for chart in charts:
        assert chart.get("role") == "img"
        told_by = chart.get("aria-labelledby").split()
        assert len(told_by) == 2 and set(told_by) <= set(names)
    assert len(charts) == len(list(page.iter("figure")))
    assert not charts or list(page.iter("table")), "a table stands beside a chart"
    for table in page.iter("table"):
        assert table.find("caption") is not None
        assert all(head.get("scope") for head in table.iter("th"))
    assert "SIMULATED" in page.find("head/title").text
    assert "http-equiv" in text and "default-src 'none'" in text
    assert "None" not in words_of(page.find("body")), "a value that nobody knows is said in words"


def test_sheet_day_and_report_have_their_charts(kept: Path, tmp_path: Path) -> None:
    """A band and a course; a band a batch; three charts for each figure that
    spreads, one where all are the same."""
    counts = {}
    for words in (("batch", "261130-1"), ("day", "2026-11-30"), ("report",)):
        (tmp_path / words[0]).mkdir()
        text = written(kept, tmp_path / words[0], *words)
        counts[words[0]] = len(list(parsed(text).iter("{http://www.w3.org/2000/svg}svg")))
    report = told(kept, "report")
    every = [line["series"] for line in report["lines"]] + report["salt"] + report["ingoing"]
    spread = [series for series in every if series["statistics"]["sigma"]]
    same = [series for series in every if series["statistics"]["sigma"] == 0]
    assert (len(spread), len(same)) == (5, 1)
    assert counts == {"batch": 2, "day": 2, "report": 3 * len(spread) + len(same)}


def test_a_sheet_on_paper_says_what_the_sheet_says(kept: Path, tmp_path: Path) -> None:
    sheet = told(kept, "batch", "261130-2")
    body = words_of(parsed(written(kept, tmp_path, "batch", "261130-2")))
    for row in sheet["additions"]:
        assert row["name"] in body and (row["actual_g"] or "not weighed") in body
    assert f"head {sheet['head']}" in body and sheet["caution"] in body
    assert f"before this was written it was proved: {sheet['proof']['proves']}" in body
    assert f"not looked at: {sheet['proof']['leaves']}" in body
    assert "garlic: read and typed, not sent by the scale: the cable is torn" in body
    assert sheet["limits"][0]["actual"] in body and sheet["salt_percent"]["actual"] in body


def test_a_page_of_a_broken_batch_does_not_say_that_it_was_proved(
    kept: Path, tmp_path: Path
) -> None:
    path = copied(kept, tmp_path)
    tamper(path, "UPDATE event SET body = replace(body, 'Ansel', 'Brida') WHERE batch = '261130-2'")
    body = words_of(parsed(written(path, tmp_path, "batch", "261130-2", status=1)))
    assert (
        "THE LEDGER IS BROKEN" in body
        and "verified before this was written, and found broken" in body
    )
    assert "it was proved" not in body


def test_an_amount_that_nobody_knows_is_a_least_in_table_and_chart(
    kept: Path, tmp_path: Path
) -> None:
    text = written(kept, tmp_path, "batch", "261201-3")
    body = words_of(parsed(text))
    assert "at least 215.9 g, unaccepted" in body
    assert "at least 1.9859" in body and "at least 124.479" in body
    assert "salt: more went in, nobody knows how much" in body
    assert body.count("not weighed") >= 4, "pepper and garlic, in chart and table"


def test_nobodys_text_is_markup_and_no_sign_breaks_the_page() -> None:
    nasty = "<script>alert(1)</script> \"'&amp; </title><b>"
    bench = Bench().begin()
    bench.say(do.Note(nasty))
    page = batch_page(sheet_of(bench), ABOUT, local, AT)
    found = parsed(page)
    assert not list(found.iter("script")) and not list(found.iter("b"))
    assert nasty in "".join(found.itertext())


def test_a_sign_that_is_none_is_written_as_what_it_is(kept: Path, tmp_path: Path) -> None:
    path = copied(kept, tmp_path)
    tamper(path, "UPDATE lot SET supplier = 'bell \x07 \u202e end' WHERE lot = 'P-41'")
    mark_path(path).unlink(missing_ok=True)
    body = words_of(parsed(written(path, tmp_path, "recall", "P-41")))
    assert "bell \\x07 \\u202e end" in body


def test_a_page_never_takes_the_place_of_a_file(kept: Path, tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    file.write_text("mine")
    result = ask(kept, "batch", "261130-1", "--html", str(file))
    assert (result.exit_code, file.read_text()) == (2, "mine")
    assert result.stderr.endswith(
        "page.html is there already\n  next: name another file, or move that one away\n"
    )


def test_a_page_that_cannot_be_written_ends_in_a_sentence(kept: Path, tmp_path: Path) -> None:
    result = ask(kept, "day", "2026-11-30", "--html", str(tmp_path / "none" / "page.html"))
    assert (result.exit_code, "cannot be written: No such file" in result.stderr) == (3, True)
    assert result.stderr.endswith("\n  next: name another file\n")


@pytest.mark.parametrize(
    "words",
    [("batch", "261130-1", "--json"), ("day", "2026-11-30", "--csv"), ("report", "--json")],
)
def test_two_forms_of_one_answer_are_refused_and_nothing_is_written(
    kept: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    file = tmp_path / "page.html"
    result = ask(kept, *words, "--html", str(file))
    assert (result.exit_code, "two forms of one answer" in result.stderr) == (2, True)
    assert not file.exists()


def test_a_page_of_a_broken_ledger_says_so_first(kept: Path, tmp_path: Path) -> None:
    path = copied(kept, tmp_path)
    tamper(path, "UPDATE addition SET actual_g = 1 WHERE name = 'salt'")
    mark_path(path).unlink(missing_ok=True)
    page = parsed(written(path, tmp_path, "batch", "261130-1", status=1))
    (alarm,) = [node for node in page.iter("p") if node.get("role") == "alert"]
    assert words_of(alarm).startswith("THE LEDGER IS BROKEN, do not trust this page:")


def test_an_unknown_name_writes_nothing(kept: Path, tmp_path: Path) -> None:
    for words in (("batch", "none"), ("recall", "none"), ("day", "none")):
        file = tmp_path / "page.html"
        assert ask(kept, *words, "--html", str(file)).exit_code == 2
        assert not file.exists()


def test_the_text_of_the_sheet_is_what_the_page_shows_where_more_went_in() -> None:
    body = words_of(parsed(batch_page(salted_and_more(), ABOUT, local, AT)))
    assert "at least 1.7992" in body and "unknown" in body


@pytest.mark.parametrize(
    ("text", "says"),
    [("216", "216"), ("216.12", "216.12"), ("211.6800001", "211.68"), (None, "unknown")],
)
def test_a_mass_has_two_digits_at_most_and_is_never_nothing(text: str | None, says: str) -> None:
    assert grams(text) == says


def test_a_statistic_that_is_not_known_is_said_so() -> None:
    assert (number(None), number(0.0), number(-1.23456)) == ("unknown", "0", "−1.2346")


def test_a_report_counts_what_its_sheets_say(kept: Path) -> None:
    found = told(kept, "report")
    assert (found["closed"], found["abandoned"], found["open"]) == (4, 2, 1)
    assert (found["meat_g"], found["unknown"]) == ("84000", 1)
    listed = {row["batch"]: row for row in told(kept, "list")["batches"]}
    (salt,) = found["salt"]
    assert {p["batch"]: p["figure"] for p in salt["points"]} == {
        name: row["salt_pct"] for name, row in listed.items() if row["state"] == "closed"
    }
    assert {row["batch"] for row in salt["left_out"]} == {"261201-3", "261201-4", "261204-7"}
    (nitrite,) = found["ingoing"]
    for point in nitrite["points"]:
        (on_it,) = told(kept, "batch", point["batch"])["limits"]
        assert point["figure"] == on_it["actual"]
    left = {row["batch"]: row["reason"] for row in nitrite["left_out"]}
    assert left["261201-3"].startswith("at least 124.479 mg/kg: more went in")


def test_a_report_of_days_has_the_batches_opened_in_them(kept: Path) -> None:
    found = told(kept, "report", "--from", "2026-12-03")
    assert [row["batch"] for row in found["batches"]] == ["261203-6", "261204-7"]
    text = ask(kept, "report", "--from", "2026-12-03").stdout
    assert "report from 2026-12-03: 2 batches" in text and "salt" in text


def test_only_a_page_loads_the_templates(kept: Path, tmp_path: Path) -> None:
    """What no answer needs must not slow it: asked in a process of its own."""
    code = (
        "import sys; from station.cli import main\n"
        "try: main(['audit', 'list', '--ledger', sys.argv[1]])\n"
        "except SystemExit: pass\n"
        "print('jinja2' in sys.modules)"
    )
    ledger = shutil.copy(kept, tmp_path / "kept.ledger")
    out = subprocess.run(
        [sys.executable, "-c", code, ledger], capture_output=True, text=True, check=True
    ).stdout
    assert out.splitlines()[-1] == "False"


def test_the_timeline_says_what_blocked_and_until_when() -> None:
    bench = Bench().begin()
    bench.events += [
        ev.Blocked("salt", "fine", "link", "fine: its cable is out"),
        ev.Unblocked("salt", "fine", "link"),
        ev.Blocked("salt", "fine", "zero", "fine shows 3 g, empty"),
    ]
    spans = {(s.kind, s.name): s for s in sheet_of(bench).timeline}
    assert spans["blocked", "link"].end is not None
    assert spans["blocked", "zero"].end is None, "still so"
    body = words_of(parsed(batch_page(sheet_of(bench), ABOUT, local, AT)))
    assert "still so" in body and "fine: its cable is out" in body
    assert json.dumps([s.kind for s in sheet_of(bench).timeline]).count("blocked") == 2


def test_a_step_that_was_left_out_is_not_called_done() -> None:
    bench = Bench().begin()
    bench.events += [
        ev.StepEnded(name="chill", value=None, who="Ansel", reason="no ice", skipped=True),
        ev.StepEnded(name="rest", value=None, who="Ansel"),
    ]
    sheet = sheet_of(bench)
    assert [(step.said, step.reason) for step in sheet.steps] == [
        ("left out", "no ice"), ("done", None),
    ]  # fmt: skip
    assert [s.text for s in sheet.timeline if s.kind == "step"] == ["left out", "done"]
    body = words_of(parsed(batch_page(sheet, ABOUT, local, AT)))
    assert "left out" in body and "no ice" in body


@pytest.mark.parametrize(("count", "tables"), [(7, 1), (8, 2), (9, 2), (24, 2)])
def test_figures_beside_each_other_have_each_their_head_and_their_average(
    count: int, tables: int
) -> None:
    points = [
        Point(batch=f"b-{n}", at="2026-11-30T08:00:00.000Z", figure=str(n % 5), formula="ring",
              revision=1)
        for n in range(count)
    ]  # fmt: skip
    made = series("salt", "%", points, ())
    text = _PAGES.from_string(
        '{% import "tables.html" as tables with context %}{{ tables.points(found, 24) }}'
    ).render(found=made, local=local, number=number)
    parts = html5lib.parse(text, namespaceHTMLElements=False).findall(".//table")
    rows = [row for part in parts for row in part.findall("tbody/tr")]
    assert [len(part.findall("thead/tr")) for part in parts] == [1] * tables
    assert [words_of(row.find("th")) for row in rows] == [point.batch for point in points]
    averages = [words_of(row.findall("td")[-1]) for row in rows]
    assert averages == [number(figure) for figure in made.statistics.averages]
