"""No byte of a file, a label or a frame orders the terminal about, whatever the station sent."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from station.bench.face import Size, Words, face
from station.wire import Change
from tests.screen.stand_in import Display, StandIn

ORDERS = {
    "clear": "\x1b[2J", "title": "\x1b]0;owned\x07", "c1": "\x9b31m", "bell": "\x07",
    "line": "\r\n", "delete": "\x7f", "back": "\x08", "shift": "\x0e", "bidi": "\u202e",
    "isolate": "\u2066", "separator": "\u2028", "surrogate": "\ud800", "zero": "\x00",
}  # fmt: skip
EVERY = "".join(sign for name, sign in ORDERS.items() if name != "surrogate")
"""What JSON carries."""


def hostile(text: str) -> Change:
    """A snapshot in which every text that the display takes from the station is as bad."""
    bad = f"a{text}b"
    return Change(
        word="WAIT", sentence=bad, next=bad, batch=bad, formula=bad, scale=bad, vessel=bad, who=bad,
        line=bad, place=1, places=2,
    )  # fmt: skip


@pytest.mark.parametrize("order", ORDERS.values(), ids=ORDERS.keys())
@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 8)])
def test_no_sign_of_a_face_moves_a_cursor(order: str, size: tuple[int, int]) -> None:
    bad = f"a{order}b"
    words = [Words(notice=bad, caption=bad, keys=(bad,)), Words(looked=(bad,)), Words()]
    for said in words:
        for ascii_only in (False, True):
            drawn = face(hostile(order), Size(*size), said, ascii_only)
            assert all(row.isprintable() and len(row) == size[0] for row in drawn.rows)


@pytest.fixture(params=["C.UTF-8", "C"])
def display(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Display]:
    place = tmp_path / "s.sock"
    stand_in = StandIn(place, hostile(EVERY + " \u00e9 \u4e2d end"))
    display = Display(place, 80, 24, lang=request.param)
    yield display
    display.child.close(force=True)
    stand_in.close()


def test_a_hostile_station_leaves_the_terminal_as_it_is(display: Display) -> None:
    titles: list[str] = []
    display.screen.set_title = titles.append  # type: ignore[method-assign]
    text = display.until(lambda text: "end" in text and "b" in text)
    assert display.bells <= 1  # its own, for a station that is there
    assert "owned" not in titles
    rows = text.splitlines()
    assert len(rows) <= 24 and any("a?" in row for row in rows)
    assert not any(sign in text for sign in EVERY if sign != "\n" and not sign.isprintable())
    assert display.child.isalive()
