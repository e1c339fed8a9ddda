"""What is not as planned is said before a batch is closed."""

import pytest

from station.batch.overview import not_as_planned
from station.weighing import commands as do
from tests.benchside import Bench


def made(salt: str, pepper: str = "36") -> Bench:
    bench = Bench().begin()
    bench.add("salt", "cup 3", salt)
    bench.add("premix", "cup 2", "24")
    bench.add("pepper", "cup 1", pepper)
    bench.add("garlic", "cup 1", "60")
    return bench


def test_a_batch_as_planned_has_nothing_to_say() -> None:
    bench = made("216")
    assert not_as_planned(bench.batch) == ()
    assert bench.told.sentence == "all is in the mix"


@pytest.mark.parametrize(
    ("salt", "said"),
    [
        ("214", ("salt 213.90 of 216.00 g, under by 2.10",)),
        ("218", ("salt 217.90 of 216.00 g, over by 1.90",)),
        ("216.25", ()),  # 3 d after what clung, 0.10 g
        ("216.30", ("salt 216.20 of 216.00 g, over by 0.20",)),
        ("215.95", ()),
        ("215.90", ("salt 215.80 of 216.00 g, under by 0.20",)),
    ],
)
def test_a_figure_more_than_three_divisions_off_is_said_with_its_side(
    salt: str, said: tuple[str, ...]
) -> None:
    bench = made(salt)
    assert not_as_planned(bench.batch) == said
    assert bench.told.sentence == "; ".join(["all is in the mix", *said])


def test_what_was_left_out_is_said() -> None:
    bench = Bench().begin()
    bench.say(do.Skip("salt", "none was delivered"))
    assert not_as_planned(bench.batch) == ("salt left out",)


def test_an_amount_that_nobody_knows_is_said() -> None:
    bench = made("216")
    bench.say(do.Tip("garlic", more=True))
    assert not_as_planned(bench.batch) == ("garlic: nobody knows how much",)
