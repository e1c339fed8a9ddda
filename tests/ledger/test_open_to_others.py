"""The tables and views are documented column by column, and other programs read them."""

import re
from pathlib import Path

import pandas
import pytest
from sqlite_utils import Database

from station.ledger.schema import TABLES
from station.ledger.views import VIEWS
from tests.audit.kitchen_record import record

PAGE = (Path(__file__).parents[2] / "config" / "LEDGER.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "kept.ledger"
    record(path)
    return path


def documented() -> dict[str, list[str]]:
    """Table or view -> its columns, as the page has them."""
    sections = re.split(r"^### (\w+)$", PAGE, flags=re.MULTILINE)[1:]
    return {
        name: re.findall(r"^\| `(\w+)` \|", text, flags=re.MULTILINE)
        for name, text in zip(sections[::2], sections[1::2], strict=True)
    }


def test_the_page_has_every_table_and_view_with_every_column_and_no_other(kept: Path) -> None:
    db = Database(kept)
    there = {name: [column.name for column in db[name].columns] for name in (*TABLES, *VIEWS)}
    assert documented() == there
    db.close()


def test_the_page_names_every_foreign_key(kept: Path) -> None:
    db = Database(kept)
    keys = {(key.table, key.column, key.other_table) for name in TABLES for key in
            db[name].foreign_keys}  # fmt: skip
    db.close()
    assert keys == {("addition", "batch", "batch"), ("lot", "batch", "batch")}
    for table, column, other in keys:
        section = PAGE.partition(f"### {table}\n")[2].partition("###")[0]
        assert f"`{column}` refers to `{other}.{column}`" in section


def test_the_question_on_the_page_is_answered(kept: Path) -> None:
    (query,) = re.findall(r'sqlite3 -readonly station.ledger "(.*)"', PAGE)
    db = Database(kept)
    rows = {row[0]: row[1] for row in db.execute(query)}
    db.close()
    assert set(rows) == {"salt", "premix", "pepper", "garlic"}
    assert rows["salt"] == pytest.approx((-0.05 + 0.42 - 0.05 - 0.04 - 0.04) / 5)


@pytest.mark.parametrize("view", VIEWS)
def test_a_view_has_a_row_for_each_of_its_table(kept: Path, view: str) -> None:
    db = Database(kept)
    table = {"audit_batches": "batch", "audit_additions": "addition", "audit_lots": "lot"}[view]
    assert db[view].count == db[table].count > 0
    db.close()


def test_what_is_not_known_is_not_nothing_in_pandas(kept: Path) -> None:
    db = Database(kept)
    additions = pandas.read_sql("SELECT * FROM audit_additions", db.conn)
    lots = pandas.read_sql("SELECT * FROM audit_lots", db.conn)
    db.close()
    more = additions[additions.unknown_more.notna()]
    assert set(zip(more.batch, more.addition, strict=True)) == {
        ("261201-3", "salt"), ("261201-3", "premix"),
    }  # fmt: skip
    assert more.difference_percent_of_target.isna().all() and (more.actual_g > 0).all()
    assert additions[additions.batch == "261201-4"].actual_g.isna().all()
    assert lots[lots.lot == "P-44"].weighed_g.isna().all()
    assert lots[lots.lot == "P-41"].weighed_g.sum() == pytest.approx(95.65)


def test_a_view_says_the_unit_of_a_figure(kept: Path) -> None:
    """Every column of a number but counts and marks has its unit in its name."""
    counts = {"revision", "place", "loads", "salt_is_at_least", "simulated"}
    db = Database(kept)
    for view in VIEWS:
        frame = pandas.read_sql(f"SELECT * FROM {view}", db.conn)
        figures = set(frame.select_dtypes("number").columns) - counts
        assert figures and all(re.search(r"_g$|_percent_of_\w+$", name) for name in figures)
    db.close()
