"""Hands that slip, and lie: one person says whatever comes to mind; the kitchen keeps the truth.

python -m tests.weighing.hands --episodes 20000 --seed 1
"""

import random
import sys
from argparse import ArgumentParser
from decimal import Decimal

from station.weighing import commands as do
from tests.benchside import CUPS
from tests.weighing.kitchen import Kitchen, kitchen, wrong

LEFT = [Decimal("0.60"), Decimal(6), Decimal(24)]
OTHER_ZEROS = [Decimal(0), Decimal("0.10"), Decimal(3)]
DRIFTS = [Decimal(-3), Decimal("-0.10"), Decimal("0.10"), Decimal(3)]
GRAMS = [Decimal(text) for text in ("0.10", "0.60", "2", "6", "12", "20", "24", "24", "30")]

Act = tuple[str, tuple[object, ...]]


def slip(dice: random.Random) -> Act:
    """One thing that a hand does, as a method of `Kitchen` and what it is given."""
    cup, grams = dice.choice(list(CUPS)), dice.choice(GRAMS)
    choices: list[tuple[int, str, tuple[object, ...]]] = [
        (10, "set_down", (cup,)),
        (10, "lift", (dice.random() < 0.8,)),
        (8, "pour", (grams, dice.choice([3, 40, 40]))),
        (4, "spoon", (grams, dice.random() < 0.5)),
        (8, "tip", (cup, dice.random() < 0.7)),
        (2, "leave", (dice.choice(LEFT), dice.random() < 0.5)),
        (2, "clear", ()),
        (2, "drift", (dice.choice(DRIFTS),)),
        (1, "zero", ()),
        (1, "lose_link", ()),
        (2, "find_link", ()),
        (1, "swap", (dice.choice(OTHER_ZEROS),)),
        (2, "die", ()),
        (12, "offered", (dice.randrange(12),)),
        (1, "second_voids", ()),
        (1, "second_says_standing", ()),
        (2, "weigh_jar", ()),
        (1, "close", ()),
        (6, "say", (_said(dice, cup),)),
    ]  # fmt: skip
    weights = [weight for weight, _, _ in choices]
    _, name, given = dice.choices(choices, weights)[0]
    return name, given


def _said(dice: random.Random, cup: str) -> do.Command:
    return dice.choice(
        [
            do.Accept("premix"),
            do.Accept("premix"),
            do.Accept("premix", as_weighed=True),
            do.Tip("premix"),
            do.Tip("premix", unaccepted=True),
            do.Void("premix", "a word"),
            do.Void("premix", "a word", said_tipped=True),
            do.End("premix"),
            do.Use(cup),
            do.RecordVessel(cup, "fine"),
            do.OpenLot("premix", "P-41", {"sodium nitrite": Decimal("0.0313")}, None, "2026-11-30"),
            do.OpenLot(
                "premix", "P-41", {"sodium nitrite": Decimal("0.0313")}, None, "2026-11-30", True
            ),
            do.ByHand("premix", Decimal(24), "fine", "its cable is torn"),
            do.ByHand("premix", Decimal(1), "fine", "its cable is torn", in_mix=True),
            do.Skip("premix", "later"),
            do.ConfirmScale("fine"),
        ]
    )


def play(did: list[Act]) -> Kitchen:
    """A kitchen of its own after these acts and, if they ended no batch, an attempt to close."""
    there = kitchen()
    for name, given in did:
        getattr(there, name)(*given)
        if there.bench.batch.end is not None:
            return there
    there.close()
    return there


def episode(seed: str) -> list[Act]:
    """The way of a premix from the empty cup to the end, perhaps begun again in the middle, with
    slips and lies between; what should be done is left out or done twice now and then."""
    dice = random.Random(seed)
    did: list[Act] = []
    slips = dice.choice([0.05, 0.15, 0.3])
    for _ in range(dice.choice([1, 1, 2, 3])):
        grams = dice.choice([Decimal(24), Decimal(24), Decimal("23.50"), *GRAMS])
        acts = way(dice.choice(list(CUPS)), grams, dice.random() < 0.3)
        for act in acts[dice.choice([0, 0, 0, dice.randrange(len(acts))]) :]:
            while dice.random() < slips:
                did.append(slip(dice))
            did += [act] * dice.choices([0, 1, 2], [5, 90, 5])[0]
    return did


def way(cup: str, grams: Decimal, into_mix: bool) -> list[Act]:
    """Premix from the empty cup to the mix: poured once, or in two goes, or some is spooned out
    again. All as it should be, but for where that goes."""
    did: list[Act] = [("set_down", (cup,)), ("pour", (grams, 40))]
    if grams < 23:
        did.append(("pour", (24 - grams, 40)))
    if grams > 24:
        did.append(("spoon", (grams - 24, into_mix)))
    did += [("say", (do.Accept("premix"),)), ("lift", (True,)), ("tip", (cup, True))]
    return [*did, ("set_down", (cup,)), ("lift", (True,))]


def shortest(did: list[Act]) -> list[Act]:
    """As few of these acts as still go wrong."""
    n = 0
    while n < len(did):
        fewer = did[:n] + did[n + 1 :]
        if wrong(play(fewer)):
            did = fewer
        else:
            n += 1
    return did


def main() -> int:
    asked = ArgumentParser(description=__doc__)
    asked.add_argument("--episodes", type=int, default=1000)
    asked.add_argument("--seed", default="1")
    given = asked.parse_args()
    steps = 0
    for number in range(given.episodes):
        did = episode(f"{given.seed}/{number}")
        steps += len(did)
        if found := wrong(play(did)):
            print(f"seed {given.seed}/{number}: {found}")
            for name, params in shortest(did):
                print("   ", name, *params)
            return 1
    print(f"seed {given.seed}: {given.episodes} episodes, {steps} acts, nothing found")
    return 0


if __name__ == "__main__":
    sys.exit(main())
