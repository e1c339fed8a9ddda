"""Times that are counted from something before the step: from the first meat out of the cold until
it is back in it, whatever has its turn meanwhile."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from station.batch.timing import Timing, clocks
from station.service.snapshot import snapshot
from station.weighing import commands as do
from tests.audit.test_sheet import sheet_of
from tests.benchside import Bench
from tests.weighing.test_tallying import FORMULA, put, set_down

BEGAN = "2026-11-30T10:00:00.000Z"
COLD = """
[[step]]
name = "links into the cold"
after = "filling"
since = "first meat"
time = "<= 90 min"
temperature = "<= 4 degC"
"""
SOAK = '[[step]]\nname = "soak the casings"\nbefore = "filling"\ntime = ">= 30 min"\n'
HANG = '[[step]]\nname = "hang"\nafter = "links into the cold"\ntime = ">= 1 h"\n'
COOK = '[[step]]\nname = "cook"\nafter = "hang"\nsince = "links into the cold"\ntime = "<= 24 h"\n'


def passes(bench: Bench, minutes: float) -> str:
    """It is so many minutes after ten o'clock from now on."""
    at = datetime.fromisoformat(BEGAN) + timedelta(minutes=minutes)
    bench.at = at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return bench.at


def mixed(*steps: str) -> Bench:
    """All is in the mix; the meat was weighed at ten o'clock."""
    bench = Bench(FORMULA + "".join(steps)).begin()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    return bench


def test_a_time_since_the_first_meat_runs_from_its_first_load() -> None:
    bench = Bench(FORMULA + COLD)
    bench.vessels()
    bench.open()
    passes(bench, 5)
    assert clocks(bench.batch, bench.at) == []
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    passes(bench, 35)
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    (clock,) = clocks(bench.batch, bench.at)
    assert (clock.step, clock.since) == ("links into the cold", "2026-11-30T10:05:00.000Z")
    assert clock.says == "links into the cold: 30 min of 90 min"


def test_of_two_meats_the_first_that_comes_out_of_the_cold_counts() -> None:
    one = '[[meat]]\nname = "pork"\nshare = "100 %"\n'
    assert one in FORMULA
    two = one.replace("100", "60") + one.replace("100", "40").replace("pork", "belly")
    bench = Bench(FORMULA.replace(one, two) + COLD)
    bench.vessels()
    bench.open()
    bench.say(do.Use("tub"))
    bench.show("bench", "7200")
    bench.say(do.Accept("pork"))
    assert [clock.since for clock in clocks(bench.batch, bench.at)] == [BEGAN]


@pytest.mark.parametrize(
    ("minutes", "late", "says"),
    [
        (90, False, "links into the cold: 90 min of 90 min"),
        (90.02, True, "links into the cold: 90 min, 90 min at most"),
    ],
)
def test_the_clock_is_late_once_the_most_is_passed(minutes: float, late: bool, says: str) -> None:
    bench = mixed(COLD)
    told = bench.floor.guide(now=passes(bench, minutes))
    (clock,) = told.clocks
    assert (clock.took.too_long, clock.says) == (late, says)


def test_a_least_that_runs_is_told_as_what_it_is_of() -> None:
    bench = mixed(COLD.replace("<= 90 min", ">= 90 min"))
    (clock,) = bench.floor.guide(now=passes(bench, 100)).clocks
    assert (clock.took.too_long, clock.says) == (False, "links into the cold: 100 min of 90 min")


def test_what_is_late_is_said_first_where_there_is_time_to_read_and_never_over_a_pour() -> None:
    bench = Bench(FORMULA + COLD).begin()
    late = "links into the cold: 100 min, 90 min at most"
    at = passes(bench, 100)
    told = bench.floor.guide(now=at)
    assert (told.word, told.sentence.split("; ")[0]) == ("SET DOWN", late)
    bench.pour("cup 1", "100")
    told = bench.floor.guide(now=at)
    assert told.word in ("POUR", "SLOWER")
    assert late not in told.sentence
    assert [clock.says for clock in told.clocks] == [late]


def test_the_step_under_way_says_its_own_time_once() -> None:
    bench = mixed(COLD)
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links", sure=True))
    told = bench.floor.guide(now=passes(bench, 100))
    assert told.line == "links into the cold"
    assert told.sentence.count("100 min") == 1
    assert told.calls


def test_the_clock_runs_on_while_the_batch_is_parked_and_says_whose_it_is() -> None:
    bench = mixed(COLD)
    bench.say(do.Park())
    told = bench.floor.guide(now=passes(bench, 100))
    assert [(clock.batch, clock.took.too_long) for clock in told.clocks] == [("b-1", True)]
    assert told.sentence.startswith("links into the cold: 100 min, 90 min at most; ")


def test_programs_get_the_times_as_values() -> None:
    bench = mixed(COLD)
    told = bench.floor.guide(now=passes(bench, 100))
    (clock,) = snapshot(bench.floor.sight(), told, bytes(32), 1, simulated=True).clocks
    assert (clock.batch, clock.step, clock.since) == ("b-1", "links into the cold", BEGAN)
    assert (clock.least_s, clock.most_s, clock.late) == (None, "5400", True)
    assert clock.says == "links into the cold: 100 min, 90 min at most"


def test_too_long_out_of_the_cold_is_asked_about_and_a_finding_with_its_reason() -> None:
    bench = mixed(COLD)
    passes(bench, 91)
    refusal = bench.refused(do.EndStep("links into the cold", "5 degC"))
    assert refusal.code == "out-of-limit"
    bench.say(do.EndStep("links into the cold", "5 degC", reason="the fridge was open"))
    row = next(row for row in sheet_of(bench).steps if row.name == "links into the cold")
    assert (row.started, row.value, row.verdict) == (BEGAN, "5 degC", "out")
    assert row.limit == "<= 90 min since first meat, <= 4 degC"
    assert row.misses == ("5 degC, <= 4 degC is meant", "91 min, <= 90 min is meant")
    assert row.reason == "the fridge was open"
    assert clocks(bench.batch, bench.at) == []


@pytest.mark.parametrize("name", ["chill", "zest"])
def test_a_step_whose_name_comes_before_or_behind_the_first_meat_is_a_step(name: str) -> None:
    other = f'[[step]]\nname = "{name}"\nafter = "pepper"\n'
    hang = f'[[step]]\nname = "hang"\nbefore = "filling"\nsince = "{name}"\ntime = "<= 1 h"\n'
    bench = mixed(other, hang)
    assert clocks(bench.batch, passes(bench, 5)) == []
    bench.say(do.EndStep(name))
    (clock,) = clocks(bench.batch, passes(bench, 7))
    assert clock.says == "hang: 2 min of 60 min"


def test_a_step_that_is_under_way_does_not_begin_again() -> None:
    bench = mixed('[[step]]\nname = "rest"\nbefore = "filling"\ntime = ">= 1 h"\n')
    began = bench.batch.step_since["rest"]
    passes(bench, 30)
    bench.say(do.Who("Brida", ("Ansel", "Brida")))
    assert bench.batch.step_since["rest"] == began


def test_past_its_least_a_time_is_not_too_soon() -> None:
    assert not Timing(1801, Decimal(1800), None).too_soon


def test_a_time_since_another_step_runs_from_its_end() -> None:
    bench = mixed(COLD, HANG, COOK)
    passes(bench, 60)
    assert [clock.step for clock in clocks(bench.batch, bench.at)] == ["links into the cold"]
    bench.say(do.EndStep("links into the cold", "3 degC"))
    passes(bench, 80)
    (clock,) = clocks(bench.batch, bench.at)
    assert (clock.step, clock.says) == ("cook", "cook: 20 min of 1440 min")
    assert bench.told.line == "hang"


def test_nothing_is_filled_before_the_steps_that_come_before_it() -> None:
    bench = mixed(SOAK, COLD)
    assert bench.told.line == "soak the casings"
    refusal = bench.refused(do.CountPieces("links", "fine"))
    assert (refusal.code, refusal.line) == ("step-first", "soak the casings")
    assert not [offer for offer in bench.told.offers if offer.verb == "pieces"]
    bench.say(do.TakeSample(None, None, Decimal(90), "cook it through"))  # that needs no casing
    bench.say(do.EndTasting())
    passes(bench, 30)
    bench.say(do.EndStep("soak the casings"))
    assert [offer.verb for offer in bench.told.offers if offer.verb == "pieces"] == ["pieces"]
    assert bench.told.sentence.startswith("fill it; then links into the cold: <= 90 min")
    assert bench.told.next.startswith("/ counts pieces and packs")
    ends = next(offer for offer in bench.told.offers if offer.verb == "step")
    assert (ends.key, ends.danger) == ("accept", True)
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    assert bench.batch.filled
    bench.say(do.End("links", sure=True))
    ends = next(offer for offer in bench.told.offers if offer.verb == "step")
    assert (ends.key, ends.danger) == ("accept", False)


def test_a_step_after_the_filling_counts_its_own_time_from_the_end_of_the_filling() -> None:
    bench = mixed('[[step]]\nname = "hang"\nafter = "filling"\ntime = ">= 1 h"\n')
    assert bench.told.line == "hang"
    assert "hang" not in bench.batch.step_since
    bench.say(do.CountPieces("links", "fine"))
    set_down(bench, "60")
    put(bench, "60")
    assert "hang" not in bench.batch.step_since
    passes(bench, 20)
    bench.say(do.End("links", sure=True))
    assert bench.batch.step_since["hang"] == "2026-11-30T10:20:00.000Z"
    assert bench.told.sentence.startswith("hang: >= 1 h")


def test_who_does_not_weigh_the_pieces_ends_the_steps_after_the_filling_all_the_same() -> None:
    bench = mixed(COLD)
    passes(bench, 40)
    bench.say(do.EndStep("links into the cold", "3 degC"))
    assert sheet_of(bench).steps[-1].verdict == "in"
    bench.say(do.Close())
    assert bench.batch.end == "closed"
