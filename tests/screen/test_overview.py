"""The overview: the batch so far, on as many pages as it takes."""

import pytest
from msgspec.structs import replace

from station.bench.face import Size, Words, face, page_rows
from station.bench.overview import overview, pages
from station.weighing import commands as do
from station.wire import Change, LotShown, Parked, ThermometerShown
from tests.benchside import NITRITE, Bench
from tests.screen.moments import shown


def under_way() -> Bench:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "214")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    return bench


def test_it_says_meat_salt_and_each_line_planned_and_actual() -> None:
    """213.9 g of salt and 23.95 g of premix of 93.75 % on 12 kg: what clung is off."""
    assert overview(shown(under_way())) == (
        "meat 12000 g",
        "salt 1.97 % of the meat, planned 1.99 %",
        "pork 12000 of 12000 g: in the mix",
        "salt 213.9 of 216.00 g: in the mix",
        "premix 24 of 24.00 g: stands",
        "pepper 36.00 g: left",
        "garlic 60.00 g: left",
        "standing: premix 24 g in cup 2 since 10:00 UTC, Ansel",
    )


def test_it_says_what_the_thermometers_at_ports_show_or_why_not() -> None:
    change = replace(
        shown(under_way()),
        thermometers=(
            ThermometerShown("probe", True, "8.4 degC"),
            ThermometerShown("oven", True, None, says="its cable is out"),
            ThermometerShown("cellar", True),
            ThermometerShown("dial", False),
        ),
    )
    assert overview(change)[-3:] == (
        "probe: 8.4 degC", "oven: its cable is out", "cellar: nothing yet",
    )  # fmt: skip


def test_an_amount_that_nobody_knows_is_at_least_what_was_weighed() -> None:
    bench = under_way()
    bench.say(do.Tip("salt", more=True))
    lines = overview(shown(bench))
    assert "salt at least 1.97 % of the meat, planned 1.99 %" in lines
    assert "salt at least 213.9 of 216.00 g: in the mix" in lines


def test_a_line_that_is_left_for_the_end_and_one_under_way_say_so() -> None:
    bench = Bench().begin()
    bench.say(do.Skip("salt", "none was delivered"))
    bench.add("premix", "cup 2", "24")
    bench.pour("cup 1", "20")
    lines = overview(shown(bench))
    assert "salt 216.00 g: left out" in lines
    assert "pepper 36.00 g: now" in lines


def test_why_it_is_on_hold_is_said_before_the_lines() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("premix", more=True))
    assert overview(shown(bench))[2] == "ON HOLD: nobody knows how much premix is in the mix"


@pytest.mark.parametrize(
    ("expires", "told"), [("2026-12-14", True), ("2026-12-15", False), (None, False)]
)
def test_a_bag_within_two_weeks_of_its_date_is_told(expires: str | None, told: bool) -> None:
    """The bench's day is 2026-11-30."""
    bench = Bench().begin()
    bench.say(do.OpenLot("premix", "P-42", NITRITE, expires, "2026-11-30"))
    near = [LotShown("premix", "P-42", expires)] if told and expires else []
    assert list(shown(bench).lots_near) == near
    said = [line for line in overview(shown(bench)) if "expires" in line]
    assert said == (["premix: lot P-42 expires 2026-12-14"] if told else [])


def test_a_parked_batch_on_hold_is_still_said() -> None:
    parked = Parked("b-1", "ring", None, hold=("nobody knows how much premix is in the mix",))
    change = Change(word="READY", parked=(parked,))
    assert "b-1 is on hold: nobody knows how much premix is in the mix" in overview(change)


def test_without_a_batch_it_says_that_nothing_stands() -> None:
    assert overview(shown(Bench())) == ("nothing stands, no batch is parked",)


def test_pages_hold_every_line_whole_and_wrap_what_is_long() -> None:
    found = pages(("a" * 8, "one two three", "end"), 8, 2)
    assert found == (("a" * 8, "one two"), ("  three", "end"))


@pytest.mark.parametrize("size", [Size(80, 24), Size(40, 12)])
def test_every_page_is_whole_on_the_screen_under_the_word(size: Size) -> None:
    said = shown(under_way())
    made = pages(overview(said), size.columns - 2, page_rows(size))
    for page in made:
        rows = face(said, size, Words(looked=page, keys=("9 next page",)), True).rows
        assert rows[1].strip() == said.word
        assert [row.strip() for row in rows[2 : 2 + len(page)]] == [row.strip() for row in page]
        assert rows[-1].strip() == "9 next page"


def test_the_place_does_not_jump_to_a_line_whose_bag_is_asked_for_early() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    said = shown(bench)
    assert (said.line, said.place, said.places) == ("premix", 2, 5)
    bench.say(do.OpenLot("premix", "P-41", NITRITE, None, "2026-11-30"))
    said = shown(bench)
    assert (said.line, said.place) == ("salt", 2)
