"""One batch of the invented Fenwether Yard kitchen: what happens, in order. All invented."""

from collections.abc import Callable

from station.demo.hands import Hands
from station.demo.stage import Stage

CUPS = {"cup 1": 86.9, "cup 2": 98.45, "cup 3": 131.2, "cup 4": 147.6}
TUB = 1200.0
BOWL = 340.0


async def one_batch(stage: Stage, tell: Callable[[str], None]) -> str:
    """Play the batch; returns its id."""
    hands = Hands(stage)
    await _vessels(hands, tell)
    tell("Ansel opens a garlic ring for 12 kg; the meat comes a little short.")
    await stage.say("open", formula="garlic-ring", meat="12 kg", who="Ansel")
    await hands.meat("pork shoulder", "tub 1", TUB, 6934)
    await hands.meat("pork belly", "tub 1", TUB, 4706)
    batch = str(stage.shown["batch"])
    await _lots(stage, hands, tell)
    await _salt(stage, hands, tell)
    await _premix(stage, hands, tell)
    tell("Brida takes over, kneads, and reads the temperature of the mix.")
    await stage.say("who", name="Brida")
    await stage.until(lambda shown: shown["role"] == "step", "the step is shown")
    await stage.say("step", name="knead until tacky", value="8 degC, tacky")
    tell("Pepper, then garlic in the same cup: once tipped, it is the next line's at once.")
    await hands.vessel("black pepper", "fine", "cup 1", CUPS["cup 1"])
    await hands.fill("black pepper", "fine", "cup 1", 4.0)
    tare = CUPS["cup 1"]
    await hands.lift_and_tip("black pepper", "fine", "cup 1", tare, 0.1, stays=True)
    await hands.vessel("garlic", "fine", "cup 1", tare + 0.1)
    await hands.fill("garlic", "fine", "cup 1", 6.0)
    await hands.lift_and_tip("garlic", "fine", "cup 1", tare + 0.1, 0.3)
    tell("Ice, aside, on the bench scale: the fine one has no room for it.")
    await hands.vessel("ice", "bench", "bowl", BOWL)
    await hands.fill("ice", "bench", "bowl", 120.0)
    await hands.lift_and_tip("ice", "bench", "bowl", BOWL, 4.0)
    await stage.say("close")
    return batch


async def _vessels(hands: Hands, tell: Callable[[str], None]) -> None:
    tell("Before the batch: the empty vessels are weighed and recorded.")
    for cup, grams in CUPS.items():
        await hands.record("fine", cup, grams)
    await hands.record("bench", "tub 1", TUB)
    await hands.record("bench", "bowl", BOWL)


async def _lots(stage: Stage, hands: Hands, tell: Callable[[str], None]) -> None:
    tell("The first bag of premix is of another strength: the station refuses it.")
    said = await hands.refused(
        "lot", line="curing premix", lot="P-77", contains=["sodium nitrite=0.6 %"]
    )
    tell(f"  {said}")
    await hands.wait(2)
    await stage.say(
        "lot",
        line="curing premix",
        lot="P-41",
        contains=["sodium nitrite=6.25 %"],
        expires="2027-06-30",
    )


async def _salt(stage: Stage, hands: Hands, tell: Callable[[str], None]) -> None:
    tell("Salt, poured too fast: it runs over, and is taken back before it reaches the mix.")
    await hands.vessel("salt", "fine", "cup 3", CUPS["cup 3"])
    aim = float(stage.shown["aim_g"])
    await hands.pour("fine", "cup 3", aim + 14.0, 25.0)
    await stage.until(lambda shown: shown["word"] == "TAKE OUT", "the station says TAKE OUT")
    await hands.wait(2)
    over = float(stage.shown["net_g"]) - aim
    await hands.pour("fine", "cup 3", -over, 5.0)
    await stage.until(lambda shown: shown["word"] == "IN BAND", "salt is in band")
    await hands.lift_and_tip("salt", "fine", "cup 3", CUPS["cup 3"], 0.2)


async def _premix(stage: Stage, hands: Hands, tell: Callable[[str], None]) -> None:
    tell("Half way through the curing premix the fine scale's plug comes out, and goes back in.")
    await hands.vessel("curing premix", "fine", "cup 2", CUPS["cup 2"])
    await hands.pour("fine", "cup 2", float(stage.shown["aim_g"]) / 2, 2.5)
    stage.scales["fine"].unplug()
    await stage.until(lambda shown: shown["word"] == "BLOCKED", "the lost scale is noticed")
    await hands.wait(4)
    stage.scales["fine"].plug()
    await stage.until(
        lambda shown: shown["line"] == "curing premix" and shown["word"] == "POUR",
        "the pour goes on",
    )
    await hands.settle("fine")
    await hands.fill("curing premix", "fine", "cup 2", 2.5)
    await hands.lift_and_tip("curing premix", "fine", "cup 2", CUPS["cup 2"], 0.05, key=True)
