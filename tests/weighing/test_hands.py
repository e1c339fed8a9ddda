"""Hands that lie and slip, against the truth of what is in the mix."""

from decimal import Decimal

import pytest

from tests.weighing.hands import episode, play, shortest, way
from tests.weighing.kitchen import wrong

EPISODES = 50


@pytest.mark.parametrize("seed", ["barrel", "tub", "hook", "twine"])
def test_no_batch_closes_with_more_cure_or_less_than_the_law_has_it(seed: str) -> None:
    """python -m tests.weighing.hands plays as many more as you like."""
    for number in range(EPISODES):
        did = episode(f"{seed}/{number}")
        if found := wrong(play(did)):
            few = "\n".join(f"{name} {given}" for name, given in shortest(did))
            pytest.fail(f"seed {seed}/{number}: {found}\n{few}")


def test_the_hands_get_as_far_as_a_closed_batch_and_as_a_hold() -> None:
    """Otherwise they would prove nothing."""
    ends = [play(episode(f"barrel/{number}")).bench.batch for number in range(EPISODES)]
    assert sum(batch.end == "closed" for batch in ends) >= EPISODES / 10
    assert sum(bool(batch.hold) for batch in ends) > EPISODES / 10


def test_more_in_the_mix_than_was_weighed_is_found() -> None:
    """The judge knows what no scale saw."""
    there = play(way("cup 2", Decimal(24), into_mix=True))
    assert there.bench.batch.end == "closed" and wrong(there) is None
    there.mix_g += 24
    assert wrong(there) is not None
    there.mix_g -= 36
    assert wrong(there) is not None
