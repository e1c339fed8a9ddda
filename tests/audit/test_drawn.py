"""Charts as places: figures lie where they belong, and what is beyond or unknown is told so."""

from itertools import pairwise

import pytest
from msgspec import structs

from station.audit.capability import band_ends
from station.audit.drawn import bands as in_bands
from station.audit.drawn import course as in_time
from station.audit.drawn.axis import Axis, short, ticks
from station.audit.drawn.bands import LOWER, UPPER, bands, said, signed
from station.audit.drawn.control import plots
from station.audit.drawn.course import course, lasted
from station.audit.rows import SpanRow
from station.audit.series import Point, series
from station.weighing import commands as do
from tests.audit.test_sheet import row_of, salted_and_more, sheet_of
from tests.benchside import Bench


def test_a_figure_has_its_place_and_what_is_beyond_stays_at_the_end() -> None:
    axis = Axis(0, 10, 100, 200)
    assert [axis.place(figure) for figure in (-5, 0, 2.5, 10, 11)] == [100, 100, 125, 200, 200]
    assert Axis(3, 3, 0, 10).place(3) == 5


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [
        (0, 10, ["0", "2", "4", "6", "8", "10"]),
        (-0.07, -0.04, ["−0.07", "−0.06", "−0.05", "−0.04"]),
        (123.9, 126.1, ["124.0", "124.5", "125.0", "125.5", "126.0"]),
        (0, 3000, ["0", "1000", "2000", "3000"]),
        (2, 2, ["2"]),
    ],
)
def test_the_figures_beside_an_axis_are_round(low: float, high: float, says: list[str]) -> None:
    assert [tick.text for tick in ticks(Axis(low, high, 0, 100))] == says


def test_a_name_that_is_too_long_ends_in_a_dot_of_its_own() -> None:
    assert (short("garlic", 6), short("garlics", 6)) == ("garlic", "garli…")


def weighed(actual: str | None, **more: str | None):  # type: ignore[no-untyped-def]
    """Salt with a band of 98 to 102 g about 100 g."""
    row = row_of(salted_and_more(), "salt")
    return structs.replace(
        row, target_g="100", lower_g="98", upper_g="102", actual_g=actual,
        difference_percent=None, unknown_more=None, verdict="in", **more,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lower", "upper", "division", "says"),
    [
        ("165.816", "172.584", "0.05", ("165.85", "172.55")),
        ("18.224", "19.176", "0.05", ("18.25", "19.15")),
        ("49.35", "49.4", "0.05", ("49.35", "49.40")),
        ("1188", "1212", "2", ("1188", "1212")), ("1187", "1213", "2", ("1188", "1212")),
        ("1.5", "2.5", None, ("1.5", "2.5")),
    ],
)  # fmt: skip
def test_a_band_is_told_on_the_grid_of_its_scale_and_never_wider_than_it_is(
    lower: str, upper: str, division: str | None, says: tuple[str, str]
) -> None:
    row = structs.replace(weighed("100"), lower_g=lower, upper_g=upper, division_g=division)
    assert band_ends(row) == says
    chart = bands("x", [row])
    assert chart is not None and (chart.bars[0].lower, chart.bars[0].upper) == says


@pytest.mark.parametrize(
    ("actual", "mark", "beyond"),
    [
        ("98", LOWER, 0), ("102", UPPER, 0), ("100", (LOWER + UPPER) / 2, 0),
        ("103.5", in_bands.RIGHT, 0), ("103.6", in_bands.RIGHT, 1),
        ("96.5", in_bands.LEFT, 0), ("96.4", in_bands.LEFT, -1), (None, None, 0),
    ],
)  # fmt: skip
def test_a_weight_at_its_limit_stands_at_the_post(
    actual: str | None, mark: float | None, beyond: int
) -> None:
    chart = bands("x", [weighed(actual)])
    assert chart is not None
    (bar,) = chart.bars
    assert (bar.mark, bar.beyond) == (mark, beyond)
    assert bar.target == (LOWER + UPPER) / 2


def test_what_is_not_known_is_said_and_never_drawn_as_nothing() -> None:
    assert said(weighed(None)) == "not weighed, in"
    unknown = structs.replace(weighed(None), unknown_more="Ansel", verdict="unaccepted")
    assert said(unknown) == "unknown amount, unaccepted"
    more = structs.replace(weighed("99"), unknown_more="Ansel", verdict=None)
    assert said(more) == "at least 99 g, not accepted"
    chart = bands("x", [unknown, more])
    assert chart is not None
    assert [(bar.mark is None, bar.more) for bar in chart.bars] == [(True, True), (False, True)]
    assert chart.desc == "salt: unknown amount, unaccepted; salt: at least 99 g, not accepted"


def test_no_line_with_a_band_makes_no_chart() -> None:
    assert bands("x", [structs.replace(weighed("99"), lower_g=None)]) is None
    assert bands("x", []) is None


@pytest.mark.parametrize(("figure", "says"), [("-0.5", "−0.5"), ("0.5", "+0.5"), ("0", "+0")])
def test_a_difference_has_its_sign(figure: str, says: str) -> None:
    assert signed(figure) == says


def charted(*figures: str) -> tuple:  # type: ignore[type-arg]
    points = [
        Point(batch=f"b-{n}", at="2026", figure=figure, formula="x", revision=1)
        for n, figure in enumerate(figures)
    ]
    return plots("x", series("salt", "%", points, []), (-2.0, 2.0))


def test_a_series_has_individuals_ranges_and_averages_with_their_levels() -> None:
    single, ranges, average = charted(*["1", "-1"] * 20, "30")
    assert [len(plot.dots) for plot in (single, ranges, average)] == [41, 40, 41]
    assert sorted(rule.kind for rule in single.rules) == [
        "band", "band", "center", "limit", "limit",
    ]  # fmt: skip
    assert [rule.kind for rule in ranges.rules] == ["limit", "center"]
    marked = [dot.sign for dot in single.dots]
    assert not marked[0] and marked[40], "what is a sign is marked"
    assert single.dots[40].y < single.dots[0].y < single.dots[1].y, "more is higher"
    assert "b-40: " in single.desc and "41 batches, b-0 to b-40" in single.desc
    assert single.x_ticks[0].text == "b-0" and single.x_ticks[-1].text == "b-40"


def test_texts_beside_levels_keep_apart() -> None:
    single, *_ = charted("0.1", "0.1", "0.1", "0.2")
    places = sorted(rule.text_y for rule in single.rules)
    assert all(b - a >= 10.4 for a, b in pairwise(places))


def test_figures_all_the_same_make_one_chart_and_fewer_than_two_none() -> None:
    (only,) = charted("1", "1", "1")
    assert [rule.kind for rule in only.rules] == ["center"]
    assert charted("1") == charted() == ()


AT = "2026-11-30T10:{}Z"


def span(kind: str, name: str, begin: str, end: str | None) -> SpanRow:
    last = None if end is None else AT.format(end)
    return SpanRow(kind=kind, name=name, text="why", begin=AT.format(begin), end=last)


def test_the_course_has_a_lane_a_line_and_one_for_each_way_of_waiting() -> None:
    spans = [
        span("work", "salt", "00:00", "05:00"),
        span("blocked", "link", "01:00", "02:00"),
        span("blocked", "zero", "03:00", "04:00"),
        span("hold", "hold", "05:00", None),
    ]
    chart = course("x", spans, AT.format("00:00"), AT.format("10:00"), lambda at: at)
    assert chart is not None
    assert [(lane.name, len(lane.bars)) for lane in chart.lanes] == [
        ("salt", 1), ("blocked", 2), ("on hold", 1),
    ]  # fmt: skip
    salt, hold = chart.lanes[0].bars[0], chart.lanes[2].bars[0]
    half = (in_time.RIGHT - in_time.LEFT) / 2
    assert (salt.x, salt.width) == (in_time.LEFT, half)
    assert hold.x + hold.width == in_time.RIGHT, "what is so still goes on to the edge"
    assert "blocked: 2 times; on hold: once" in chart.desc
    assert [tick.text for tick in chart.ticks] == ["10:00", "10:02", "10:04", "10:06", "10:08",
                                                   "10:10"]  # fmt: skip


def test_nothing_done_makes_no_course() -> None:
    assert course("x", [], AT.format("00:00"), AT.format("00:00"), lambda at: at) is None


@pytest.mark.parametrize(
    ("begin", "end", "says"),
    [
        ("00:00", "00:59", "59 s"), ("00:00", "01:00", "1 min"), ("00:00", "59:00", "59 min"),
        ("00:00", None, "still so"),
    ],
)  # fmt: skip
def test_how_long_something_lasted(begin: str, end: str | None, says: str) -> None:
    assert lasted(span("blocked", "x", begin, end)) == says


def test_hours_are_told_as_hours() -> None:
    long = structs.replace(span("parked", "x", "00:00", "00:00"), end="2026-11-30T12:05:00Z")
    assert lasted(long) == "2 h 5 min"
    assert lasted(span("refused", "x", "00:00", "00:00")) == ""


def test_parked_and_held_and_refused_are_on_the_timeline_until_they_end() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Park())
    spans = sheet_of(bench).timeline
    (parked,) = [one for one in spans if one.kind == "parked"]
    assert (parked.name, parked.end) == ("parked", None)
    work = [one.name for one in spans if one.kind == "work"]
    assert work == ["pork", "salt"]
    assert all(one.end is not None and one.begin <= one.end for one in spans if one != parked)
