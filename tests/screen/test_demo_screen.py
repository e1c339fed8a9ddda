"""The demo on the display, in a real terminal."""

import signal
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.screen.stand_in import Display
from tests.service.daemons import station

pytestmark = pytest.mark.slow


@pytest.fixture
def demo(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Display]:
    display = Display(None, 80, 24, command=("demo", *request.param), folder=tmp_path)
    yield display
    display.child.close(force=True)


def daemons(folder: Path) -> list[str]:
    """The daemons that use a demo's folder."""
    found = []
    for place in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = place.read_bytes().decode().split("\0")
        except OSError:
            continue  # it has ended meanwhile
        if "run" in words and any(word.startswith(f"{folder}/") for word in words):
            found.append(" ".join(words))
    return found


@pytest.mark.timeout(240)  # on a busy machine too
@pytest.mark.parametrize("demo", [("--speed", "6")], indirect=True)
def test_the_demo_is_shown_on_the_display_and_a_signal_puts_everything_away(
    demo: Display, tmp_path: Path
) -> None:
    demo.until(lambda text: "Salt, poured too fast: look at TAKE OUT" in text, 90, whole=False)
    demo.until(lambda text: "TAKE OUT, and how" in text and "too much" in text, 90, whole=False)
    demo.until(lambda text: "cable is out" in text, 90, whole=False)
    assert daemons(tmp_path)
    before = termios.tcgetattr(demo.child.child_fd)
    assert not before[3] & termios.ICANON
    demo.child.kill(signal.SIGTERM)
    demo.read(3)
    demo.child.wait()
    assert termios.tcgetattr(demo.child.child_fd)[3] & termios.ICANON
    assert not daemons(tmp_path)


@pytest.mark.timeout(240)  # on a busy machine too
@pytest.mark.parametrize("demo", [("--hands", "--speed", "10")], indirect=True)
def test_a_person_pours_with_the_arrow_keys_and_pulls_the_plug(demo: Display) -> None:
    demo.until(lambda text: "which tub?" in text, 40)
    demo.until(lambda text: "tub 1 in hand" in text, 10)
    demo.press("3")
    demo.until(lambda text: "in tub 1: set tub 1 down" in text)
    demo.press("\x1b[A")
    demo.until(lambda text: "tub 1 is empty" in text)
    for _ in range(8):
        demo.press("\x1b[C")
        demo.read(0.05)
    demo.until(lambda text: "accept takes the load" in text or "wait until it settles" in text)
    demo.press("p")
    demo.until(lambda text: "cable is out" in text)
    demo.press("p")
    demo.until(lambda text: "accept takes the load" in text and "Enter accept" in text)
    demo.child.sendintr()
    demo.read(3)
    assert "The ledger stays at" in demo.text


def test_your_own_hands_need_a_terminal() -> None:
    result = station("demo", "--hands", "--json")
    assert (result.returncode, "needs a terminal" in result.stderr) == (2, True)
