"""What came, as a person wrote it down: right, or it says what is wrong."""

from decimal import Decimal
from pathlib import Path

import pytest

from station.received import Received, load_received
from station.resources import Config
from station.tomlfile import FileMistakes

CAME = """
[[came]]
line = "curing premix"
lot = "P-41"
amount = "1 kg"
expires = "2027-05-31"

[[came]]
line = "salt"
lot = "P-41"
amount = "500 g"
"""


def load(folder: Path, text: str) -> tuple[Received, ...]:
    (folder / "stock.toml").write_text(text)
    return load_received(Config(folder))


def test_a_lot_that_came_has_a_line_an_amount_and_perhaps_a_date(tmp_path: Path) -> None:
    assert load(tmp_path, CAME) == (
        Received("curing premix", "P-41", Decimal(1000), "2027-05-31"),
        Received("salt", "P-41", Decimal(500)),
    )


def test_the_list_that_is_shipped_says_of_nothing_that_it_came() -> None:
    assert load_received(Config()) == ()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('"1 kg"', '"1"'), "came[1].amount: found '1', expected a mass"),
        (('"1 kg"', '"0 g"'), "expected more than nothing"),
        (("2027-05-31", "May"), "came[1].expires: found 'May', expected a date"),
        (('lot = "P-41"', ""), "came[1].lot"),
        (("[[came]]", "[[bought]]"), "bought"),
        (('"500 g"', '"500 g"\ncost = "1"'), "came[2].cost"),
        (('"salt"', '"curing premix"'), "lot 'P-41' of 'curing premix' stands twice"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(
    change: tuple[str, str], says: str, tmp_path: Path
) -> None:
    with pytest.raises(FileMistakes) as caught:
        load(tmp_path, CAME.replace(*change, 1))
    assert says in str(caught.value)
