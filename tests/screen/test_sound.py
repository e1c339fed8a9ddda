"""Sounds told apart by count and pace, and what waits to be drawn."""

from station.bench.face import Face
from station.bench.frames import Frames
from station.bench.sound import REMIND_S, Sounds


def heard(sounds: Sounds, begin: float, end: float) -> list[float]:
    """When it beeps, asked a hundred times a second."""
    times = [begin + n / 100 for n in range(round((end - begin) * 100))]
    return [round(time_s, 2) for time_s in times if sounds.due(time_s)]


def test_it_is_silent_while_pouring() -> None:
    sounds = Sounds()
    for n, word in enumerate(("SET DOWN", "POUR", "SLOWER", "IN BAND", "TAKE OUT", "ANSWER")):
        sounds.show(word, False, None, float(n))
        assert heard(sounds, n, n + 1) == []


def test_stop_is_fast_and_unbroken_until_the_word_changes() -> None:
    sounds = Sounds()
    sounds.show("STOP", False, None, 0.0)
    beeps = heard(sounds, 0, 3)
    assert beeps[0] == 0 and len(beeps) > 20
    sounds.show("IN BAND", False, None, 3.0)
    assert heard(sounds, 3, 9) == []


def test_accepted_is_one_and_refused_is_three() -> None:
    sounds = Sounds()
    sounds.show("WAIT", False, None, 0.0)
    sounds.told("accepted", 0.0)
    assert len(heard(sounds, 0, 5)) == 1
    sounds.told("refused", 5.0)
    assert len(heard(sounds, 5, 9)) == 3


def test_an_alarm_calls_once_and_then_every_ten_seconds_until_a_key() -> None:
    sounds = Sounds()
    sounds.show("BLOCKED", True, "link", 0.0)
    assert heard(sounds, 0, 2 * REMIND_S + 1) == [0.0, REMIND_S, 2 * REMIND_S]
    sounds.key()
    assert heard(sounds, 21, 60) == []
    sounds.show("BLOCKED", True, "jump", 60.0)  # another reason calls anew
    assert heard(sounds, 60, 61) == [60.0]
    sounds.show("PUT BACK", True, "jump", 61.0)  # and so does another word
    assert heard(sounds, 61, 62) == [61.0]
    sounds.show("POUR", False, None, 62.0)
    assert heard(sounds, 62, 99) == []


def face(name: str) -> Face:
    return Face((name,), False)


def test_frames_of_one_word_replace_each_other_and_words_never_do() -> None:
    frames = Frames()
    for n in range(100):
        frames.offer("POUR", face(f"pour {n}"))
        frames.want("sound")
    frames.offer("STOP", face("stop"))
    for n in range(100):
        frames.want("sound")
        frames.offer("IN BAND", face(f"in {n}"))
    drawn = [frames.next() for _ in range(3)]
    assert drawn == [face("pour 99"), face("stop"), face("in 99")]


def test_sounds_that_nobody_could_hear_are_one_and_the_end_comes_last() -> None:
    frames = Frames()
    for _ in range(50):
        frames.want("sound")
    frames.want("end")
    frames.offer("STOP", face("stop"))
    assert [frames.next() for _ in range(3)] == [face("stop"), "sound", "end"]
