"""What the display shows, as values: no terminal."""

from collections.abc import Callable
from decimal import Decimal
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from drivers.reading import Condition, Kind
from station.bench.actions import answers, keys_now
from station.bench.bar import column, posts
from station.bench.face import Face, Size, Words, face, to_go
from station.pan.view import REASONS, Trouble
from station.service.snapshot import snapshot
from station.weighing.words import Word
from station.wire import Ask, Change, Clock, Offer, changed
from tests.benchside import Bench
from tests.screen.moments import WORDS, aged, shown

LARGE, SMALL = Size(80, 24), Size(40, 12)


def at(size: Size, change: Change) -> Face:
    keys = keys_now(change, {"quiet": "0", "void": "-"})
    return face(change, size, Words(keys=keys, answers=answers(change)), False)


def text(rows: tuple[str, ...]) -> str:
    return " ".join(" ".join(rows).split())


@pytest.mark.parametrize("size", [LARGE, SMALL, Size(200, 60), Size(41, 13), Size(69, 40)])
def test_every_face_fills_the_screen_exactly(size: Size) -> None:
    for make in WORDS.values():
        rows = at(size, make()).rows
        assert {len(row) for row in rows} == {size.columns}
        assert len(rows) == size.rows


@pytest.mark.parametrize("size", [LARGE, SMALL])
@pytest.mark.parametrize("word", sorted(WORDS))
def test_an_old_backup_covers_no_alarm_and_moves_no_row(size: Size, word: str) -> None:
    fresh = at(size, WORDS[word]())
    old = at(size, aged(replace(WORDS[word](), ledger=None)))
    differs = [after for before, after in zip(fresh.rows, old.rows, strict=True) if before != after]
    told = [row for row in differs if "the last backup is 9 days old" in row]
    assert differs == told and len(told) <= 1
    if fresh.inverse:
        assert not told
    elif word in ("POUR", "READY", "IN BAND", "DO") and size == LARGE:
        assert told[0].rstrip().endswith("> station ledger backup FILE")


def running(step: str, late: bool = False, batch: str = "b-1") -> Clock:
    return Clock(batch, step, "2026-11-30T10:00:00Z", None, "5400", late, f"{step}: 34 min of 90")


def test_times_that_run_stand_in_a_row_of_their_own_the_late_first() -> None:
    shown = replace(WORDS["POUR"](), batch="b-1")
    plain = at(LARGE, shown).rows
    clocks = (running("hang", batch="b-2"), running("cold"), running("rest", late=True))
    rows = at(LARGE, replace(shown, clocks=clocks)).rows
    (told,) = [row for before, row in zip(plain, rows, strict=True) if before != row]
    assert told.strip() == "rest: 34 min of 90  cold: 34 min of 90  b-2 hang: 34 min of 90"
    small = at(SMALL, replace(WORDS["IN BAND"](), batch="b-1", clocks=clocks[1:2])).rows
    assert sum("cold: 34 min of 90" in row for row in small) == 1


def test_the_backup_stands_behind_the_times_where_there_is_room() -> None:
    shown = aged(replace(WORDS["POUR"](), batch="b-1", ledger=None, clocks=(running("cold"),)))
    assert at(LARGE, shown).rows[1].strip() == "cold: 34 min of 90  the last backup is 9 days old"
    many = replace(shown, clocks=tuple(running(f"a long name {n}") for n in range(3)))
    assert "backup" not in at(LARGE, many).rows[1]


@pytest.mark.parametrize("size", [LARGE, SMALL])
def test_no_time_covers_an_alarm(size: Size) -> None:
    shown = replace(WORDS["PUT BACK"](), batch="b-1")
    assert at(size, replace(shown, clocks=(running("cold"),))) == at(size, shown)


@pytest.mark.parametrize("size", [LARGE, SMALL])
def test_nothing_jumps_when_the_word_changes(size: Size) -> None:
    """Header, bar and the number's last digit stay where they are from POUR to TAKE OUT."""
    faces = [
        at(size, WORDS[word]()).rows for word in ("POUR", "SLOWER", "STOP", "IN BAND", "TAKE OUT")
    ]
    bars = [[row for row in rows if "┃" in row] for rows in faces]
    assert (
        len({tuple(rows.index(bar[0]) for bar in [bars[n]]) for n, rows in enumerate(faces)}) == 1
    )
    post = {bar[0].index("┃") for bar in bars}
    assert len(post) == 1
    number = slice(7, 13) if size == LARGE else slice(4, 7)
    edges = {max(len(row.rstrip(" g")) for row in rows[number]) for rows in faces}
    assert len(edges) == 1


def test_stop_and_every_alarm_turn_the_screen_inverse_and_nothing_else_does() -> None:
    inverse = {word for word, make in WORDS.items() if at(LARGE, make()).inverse}
    assert inverse == {"STOP", "PUT BACK", "ANSWER", "BLOCKED", "ON HOLD"}


def test_a_question_about_nothing_wrong_is_calm() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.show("bench", "9000")
    asked = shown(bench)
    assert (asked.word, asked.alarm) == ("ANSWER", False)


def test_there_is_a_screen_of_every_word() -> None:
    assert set(WORDS) == set(get_args(Word))


@pytest.mark.parametrize("size", [LARGE, SMALL])
def test_a_question_shows_every_answer_whole_and_what_to_do_if_none_is_true(size: Size) -> None:
    asked = WORDS["ANSWER"]()
    said = text(at(size, asked).rows)
    assert "24.00 g less than when lifted: PREMIX in the mix?" in said
    assert "1 twice in the mix" in said and "2 twice it went back" in said
    assert "else put back what was in it" in said


def test_many_answers_share_rows_and_none_is_cut() -> None:
    offers = tuple(Offer("use", {"vessel": f"tub {n}"}, means=f"tub {n}") for n in range(1, 10))
    asked = Change(word="ANSWER", sentence="which tub?", asks=Ask("which tub?", offers))
    said = text(at(SMALL, asked).rows)
    assert all(f"{n} tub {n}" in said for n in range(1, 10))


@given(st.decimals(0, 400, places=3), st.sampled_from(["0.01", "0.05", "0.1", "1", "2", "5", "20"]))
def test_no_digit_is_finer_than_the_division(aim: Decimal, division: str) -> None:
    change = Change(aim_g=str(aim), division_g=division, net_g="0", word="POUR")
    number = Decimal(to_go(change))
    assert number % Decimal(division) == 0
    assert abs(number - aim) <= Decimal(division) / 2


def test_a_weight_that_is_not_known_is_dashes_and_never_the_last_number() -> None:
    change = WORDS["BLOCKED"]()
    assert to_go(change) == "-----"
    assert not any(sign in text(at(LARGE, change).rows[7:14]) for sign in "0123456789")


@given(
    st.integers(40, 200),
    st.decimals(1, 900, places=2),
    st.decimals(0, 50, places=2),
    st.decimals(-5, 2000, places=2),
)
def test_the_pointer_is_never_on_the_wrong_side_of_a_post(
    width: int, lower: Decimal, span: Decimal, net: Decimal
) -> None:
    upper = lower + span
    low, high = posts(width)
    where = column(width, lower, upper, net)
    assert 0 <= where < width
    assert (where < low) == (net < lower)
    assert (where > high) == (net > upper)


def _link() -> Bench:
    bench = _poured()
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    return bench


def _poured() -> Bench:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    return bench


def _stale() -> Bench:
    bench = _poured()
    bench.silence(5)
    return bench


def _backwards() -> Bench:
    bench = _poured()
    earlier = replace(bench.shown["fine"], time_s=bench.now - 60)
    bench.floor.observe("fine", earlier)
    return bench


def _reports(condition: Condition) -> Callable[[], Bench]:
    def make() -> Bench:
        bench = _poured()
        bench.show("fine", "0", condition=condition)
        return bench

    return make


def _device() -> Bench:
    bench = Bench().begin()
    bench.show("fine", "612")
    return bench


def _tared() -> Bench:
    bench = _poured()
    bench.show("fine", "0", kind=Kind.NET)
    return bench


def _gap() -> Bench:
    bench = _poured()
    bench.silence(5)
    bench.show("fine", "250")
    return bench


def _unit() -> Bench:
    bench = _poured()
    bench.show("fine", "0.51", unit="lb")
    return bench


def _zero() -> Bench:
    bench = Bench().begin()
    bench.show("fine", "0.40")
    return bench


def _vessel() -> Bench:
    bench = Bench().begin()
    bench.show("fine", "55")
    return bench


def _unfit() -> Bench:
    """1.40 g of premix: the band is narrower than three divisions."""
    bench = Bench().begin("700")
    bench.add("salt", "cup 3", "12.60")
    return bench


def _jump() -> Bench:
    bench = _poured()
    bench.move("fine", "331.20")
    bench.show("fine", "331.20")
    return bench


BLOCKED: dict[str, Callable[[], Bench]] = {
    "link": _link,
    "clock": _backwards,
    "stale": _stale,
    "error": _reports(Condition.ERROR),
    "overload": _reports(Condition.OVERLOAD),
    "underload": _reports(Condition.UNDERLOAD),
    "device": _device,
    "zeroed": _tared,
    "gap": _gap,
    "unit": _unit,
    "zero": _zero,
    "vessel": _vessel,
    "unfit": _unfit,
    "jump": _jump,
}


@pytest.mark.parametrize("reason", BLOCKED)
@pytest.mark.parametrize("size", [LARGE, SMALL])
def test_every_blocked_reason_is_told_whole_with_its_next_step(reason: str, size: Size) -> None:
    change = shown(BLOCKED[reason]())
    assert change.word == ("ANSWER" if change.asks else "BLOCKED")
    assert change.blocked[0] == reason
    told = at(size, change)
    assert told.inverse
    said = text(told.rows)
    assert change.sentence in said
    for means in answers(change) or [change.next]:
        assert means in said


def test_a_ledger_that_cannot_be_written_comes_before_every_other_reason() -> None:
    bench = _link()
    trouble = Trouble("ledger", "the ledger cannot be written: the disk is full", "make room")
    told = bench.floor.guide(trouble)
    change = changed(snapshot(bench.floor.sight(), told, bytes(32), 1, True))
    assert change.blocked == ("ledger", "link")
    assert "the disk is full" in text(at(SMALL, change).rows)
    assert {"ledger", *BLOCKED} == set(REASONS)


def test_names_with_control_signs_move_no_cursor() -> None:
    change = replace(WORDS["POUR"](), formula="ring\x1b[2J\nlink")
    rows = at(LARGE, change).rows
    assert all(row.isprintable() for row in rows)


def test_a_small_screen_shows_the_word_and_the_number_all_the_same() -> None:
    rows = face(WORDS["STOP"](), Size(20, 4), Words(), True).rows
    assert rows[0].split() == ["STOP", "-1.00"]
    assert "needs 40x12" in text(rows)
