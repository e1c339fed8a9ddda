"""What is left over when the pieces are filled goes to patties, with its weight."""

from decimal import Decimal

from station.audit.product import cost, pieces, yielded
from station.batch import events as ev
from station.weighing import commands as do
from tests.audit.test_sheet import sheet_of
from tests.benchside import Bench
from tests.weighing.test_tallying import FORMULA, mixed, put, set_down, tally

ODD = do.CountPieces("patties", "fine", odd=True)
PRICED = FORMULA.replace('share = "100 %"', 'share = "100 %"\ncost = "6 / kg"')


def filled(formula: str = FORMULA) -> Bench:
    bench = mixed(formula)
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "59")
    put(bench, "61")
    bench.say(do.End("links"))
    return bench


def test_it_is_offered_once_there_are_pieces() -> None:
    def odd(bench: Bench) -> list[dict[str, object]]:
        return [dict(o.params) for o in bench.told.offers if o.params.get("odd")]

    assert odd(mixed()) == []
    assert odd(filled()) == [{"name": "patties", "scale": "fine", "odd": True}]


def test_it_is_held_to_no_weight_and_counts_beside_the_pieces() -> None:
    bench = filled()
    bench.say(ODD)
    set_down(bench, "143")
    assert (bench.told.word, bench.told.target_g, bench.told.lower_g) == ("IN BAND", None, None)
    put(bench, "143")
    assert bench.last(ev.TallyBegun).odd
    assert tally(bench, "patties").count == 1
    found = pieces(bench.batch)
    assert found is not None
    assert (found.count, found.mean_g) == (2, "60")
    assert yielded(bench.batch).filled_g == "263"
    assert [(row.name, row.net_g) for row in sheet_of(bench).counts] == [
        ("links", "120"), ("patties", "143"),
    ]  # fmt: skip


def test_an_odd_end_alone_is_no_count_of_pieces() -> None:
    bench = mixed()
    bench.say(ODD)
    put(bench, "143")
    assert pieces(bench.batch) is None
    assert yielded(bench.batch).filled_g == "143"


def test_a_name_is_one_or_the_other() -> None:
    bench = filled()
    refusal = bench.refused(do.CountPieces("links", "fine", odd=True))
    assert (refusal.code, refusal.sentence) == ("name-taken", "links are pieces of a weight")
    bench.say(ODD)
    put(bench, "143")
    bench.say(do.End("patties"))
    refusal = bench.refused(do.CountPieces("patties", "fine"))
    assert refusal.sentence == "patties are the odd end"
    bench.say(ODD)  # it goes on
    put(bench, "20")
    assert tally(bench, "patties").net_g == Decimal(163)


def test_of_the_cost_the_odd_end_takes_its_share() -> None:
    """12 kg at 6 a kilogram are 72; 120 g of 160 g are three quarters: 54 for two pieces."""
    bench = filled(PRICED)
    bench.say(ODD)
    put(bench, "40")
    found = cost(bench.batch)
    assert found is not None
    assert (found.total, found.per_piece) == ("72.00", "27.00")
