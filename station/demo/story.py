"""Two batches of the invented Fenwether Yard kitchen: what happens, in order. All invented."""

from typing import Protocol

from station.demo.hands import Hands
from station.demo.stage import Stage


class Tell(Protocol):
    """Takes what is told in one or more lengths, the longest first."""

    def __call__(self, *captions: str) -> None: ...


CUPS = {"cup 1": 86.9, "cup 2": 98.45, "cup 3": 131.2, "cup 4": 147.6}
TUB = 1200.0
BOWL = 340.0


async def two_batches(stage: Stage, tell: Tell) -> str:
    """Play a cured ring, and a fresh link in its pause; returns the ring's id."""
    hands = Hands(stage)
    await _vessels(hands, tell)
    tell(
        "Ansel opens a garlic ring for 12 kg, but 9.4 kg arrive: look at what + asks.",
        "9.4 kg arrive for 12: what does + ask?",
    )
    await stage.say("open", formula="garlic-ring", meat="12 kg", who="Ansel")
    await hands.meat("pork shoulder", "tub 1", TUB, 5634, short=True)
    await hands.meat("pork belly", "tub 1", TUB, 3766, short=True)
    tell(
        "The card's 24 g of premix would be 160 mg/kg of nitrite here: it says 18.8 g.",
        "24 g of premix would be 160 mg/kg",
    )
    await stage.read()
    ring = str(stage.shown.batch)
    await _lots(stage, hands, tell)
    await _salt(stage, hands, tell)
    await _premix(stage, hands, tell)
    link = await _begin_link(stage, hands, tell)
    await stage.say("take-up", batch=ring)
    await _mistaken_cup(stage, hands, tell, link)
    await _finish_ring(stage, hands, tell)
    await _finish_link(stage, hands, tell, link)
    return ring


async def _begin_link(stage: Stage, hands: Hands, tell: Tell) -> str:
    tell(
        "The cured mix rests: it is parked, and a herb link begins on the same bench.",
        "The ring is parked, a link begins",
    )
    await stage.say("park")
    await stage.say("open", formula="herb-link", meat="4 kg", who="Brida")
    await _tub_as_meat(stage, hands, tell)
    await hands.meat("pork shoulder", "tub 1", TUB, 4010)
    link = str(stage.shown.batch)
    tell(
        "Salt again, poured far too fast: SLOWER, then STOP, and it ends in the band.",
        "Salt too fast: SLOWER, then STOP",
    )
    await hands.vessel("salt", "fine", "cup 4", CUPS["cup 4"])
    await hands.heed("fine", "cup 4", 10.0)
    await hands.fill("salt", "fine", "cup 4", 1.0)
    tell(
        "Its salt stands in cup 4. Look at the batch's name: the ring is taken up again.",
        "Its salt stands; the ring comes back",
    )
    hands.full["cup 4"] = hands.lift("fine", "cup 4")
    await hands.settle("fine")
    await stage.say("park")
    return link


async def _tub_as_meat(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "The wrong tub is named, so that 860 g of plastic count as meat: look.",
        "The wrong tub: plastic as meat?",
    )
    await stage.say("use", vessel="bowl")
    hands.set_down("bench", "tub 1", TUB + 4010)
    await hands.settle("bench")
    await stage.say("accept", line="pork shoulder")
    said = await hands.refused("end", line="pork shoulder")
    tell(f"  {said}")
    await stage.read()
    await stage.say("meat-out", line="pork shoulder")
    hands.lift("bench", "tub 1")
    await hands.settle("bench")


async def _mistaken_cup(stage: Stage, hands: Hands, tell: Tell, link: str) -> None:
    tell(
        "Kneading, and then the wrong cup: the station knows whose salt that is.",
        "The wrong cup: whose salt is that?",
    )
    await stage.say("who", name="Brida")
    await stage.until(lambda shown: shown.role == "step", "the step is shown")
    await stage.say("step", name="knead until tacky", value="8 degC, tacky")
    hands.set_down("fine", "cup 4", hands.full["cup 4"])
    await stage.until(lambda shown: shown.blocked == ("vessel",), "the cup is known")
    await stage.read()
    hands.lift("fine", "cup 4")
    await hands.settle("fine")


async def _finish_ring(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "Pepper, then garlic in the same cup: once tipped, it is the next line's.",
        "Pepper, then garlic in the same cup",
    )
    await hands.vessel("black pepper", "fine", "cup 1", CUPS["cup 1"])
    await hands.fill("black pepper", "fine", "cup 1", 4.0)
    tare = CUPS["cup 1"]
    await hands.lift_and_tip("black pepper", "fine", "cup 1", tare, 0.1, stays=True)
    await hands.vessel("garlic", "fine", "cup 1", tare + 0.1)
    tell(
        "The bag of garlic runs out in mid-pour: the cup stays on, the next bag goes on.",
        "The bag runs out: the next one goes on",
    )
    await hands.pour("fine", "cup 1", float(stage.shown.aim_g or "nan") / 2, 6.0)
    await stage.say("next-bag", line="garlic", lot="G-118")
    await hands.settle("fine")
    left = float(stage.shown.aim_g or "nan") - float(stage.shown.net_g or "nan")
    await hands.pour("fine", "cup 1", left, 4.0)
    await hands.lift_and_tip("garlic", "fine", "cup 1", tare + 0.1, 0.3)
    tell(
        "Ice, aside, on the bench scale: the fine one has no room for it.",
        "Ice, on the bench scale: it has room",
    )
    await hands.vessel("ice", "bench", "bowl", BOWL)
    await hands.fill("ice", "bench", "bowl", 120.0)
    await hands.lift_and_tip("ice", "bench", "bowl", BOWL, 4.0)
    await stage.say("close")


async def _finish_link(stage: Stage, hands: Hands, tell: Tell, link: str) -> None:
    tell(
        "The herb link is taken up; its salt goes in, and the rest of it.",
        "The herb link is taken up again",
    )
    await stage.say("take-up", batch=link)
    hands.set_down("fine", "cup 4", CUPS["cup 4"] + 0.1)
    await stage.until(lambda shown: not shown.standing, "the salt is in the mix")
    await hands.settle("fine")
    hands.lift("fine", "cup 4")
    await hands.settle("fine")
    tare = CUPS["cup 1"]
    for line, flow in (("black pepper", 1.5), ("dried sage", 1.0), ("dried crumb", 15.0)):
        await hands.vessel(line, "fine", "cup 1", tare)
        await hands.fill(line, "fine", "cup 1", flow)
        await hands.lift_and_tip(line, "fine", "cup 1", tare, 0.1, stays=True)
        tare += 0.1
    await hands.vessel("chilled water", "fine", "cup 1", tare)
    await hands.fill("chilled water", "fine", "cup 1", 30.0)
    await hands.lift_and_tip("chilled water", "fine", "cup 1", tare, 0.3)
    await stage.until(lambda shown: shown.ends_by_key, "the crumb stands")
    await stage.say(
        "step",
        name=str(stage.shown.line),
        value="4 degC",
        reason="the demo does not wait so long",
    )
    await _taste(stage, hands, tell)
    await _pack(stage, hands, tell)
    tell(
        "Into the cold: the time since the first meat stood above all the while.",
        "Into the cold, in good time",
    )
    await stage.until(lambda shown: bool(shown.clocks) and shown.ends_by_key, "the cold is asked")
    await stage.say("step", name=str(stage.shown.line), value="3 degC")
    await stage.say("close")


async def _taste(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "Ansel cooks a sample and tastes it: more salt, worked out for what is left.",
        "Ansel tastes a sample: more salt",
    )
    await stage.say("who", name="Ansel")
    await stage.say("sample", net="90 g")
    await stage.read()
    await stage.say("taste", line="salt", wish="1.8 %")
    await hands.vessel("salt", "fine", "cup 3", CUPS["cup 3"] + 0.2)
    await hands.fill("salt", "fine", "cup 3", 1.0)
    await hands.lift_and_tip("salt", "fine", "cup 3", CUPS["cup 3"] + 0.2, 0.1)
    await stage.say("tasted")


async def _pack(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "Packs of 400 g: each counts when it is taken off. Look what the third one weighs.",
        "Packs of 400 g count by themselves",
    )
    await stage.say("packs", nominal="400 g", scale="bench", store="fridge", keeps="4 d")
    await stage.until(lambda shown: shown.role == "packs", "packs are counted")
    packs = str(stage.shown.line)
    for number, grams in enumerate((404.0, 402.0, 380.0), 1):
        await _one_pack(stage, hands, number, grams)
    await stage.read()
    await stage.say("again", number="3")
    await _one_pack(stage, hands, 3, 406.0)
    await stage.say("end", line=packs)


async def _one_pack(stage: Stage, hands: Hands, number: int, grams: float) -> None:
    hands.set_down("bench", f"pack {number}", grams)
    await stage.until(
        lambda shown: shown.role == "packs" and shown.net_g is not None, "the pack is weighed"
    )
    hands.lift("bench", f"pack {number}")
    await stage.until(lambda shown: shown.word == "SET DOWN", "the pack is counted")
    await hands.settle("bench")


async def _vessels(hands: Hands, tell: Tell) -> None:
    tell(
        "First the empty vessels are recorded. Where there is more to read, a key goes on.",
        "Vessels first; to read on: any key",
    )
    for cup, grams in CUPS.items():
        await hands.record("fine", cup, grams)
    await hands.record("bench", "tub 1", TUB)
    await hands.record("bench", "bowl", BOWL)


async def _lots(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "The first bag of premix is of another strength: it is refused.",
        "A bag of another strength: refused",
    )
    said = await hands.refused(
        "lot", line="curing premix", lot="P-77", contains=["sodium nitrite=0.6 %"]
    )
    tell(f"  {said}")
    await stage.read()
    await stage.say(
        "lot",
        line="curing premix",
        lot="P-41",
        contains=["sodium nitrite=6.25 %"],
        expires="2027-06-30",
    )


async def _salt(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "Salt, poured too fast: look at TAKE OUT, and how it comes back.",
        "Salt, too much: look at TAKE OUT",
    )
    await hands.vessel("salt", "fine", "cup 3", CUPS["cup 3"])
    aim = float(stage.shown.aim_g or "nan")
    await hands.pour("fine", "cup 3", aim + 14.0, 25.0)
    await stage.until(lambda shown: shown.word == "TAKE OUT", "the station says TAKE OUT")
    await stage.read()
    over = float(stage.shown.net_g or "nan") - aim
    await hands.pour("fine", "cup 3", -over, 5.0)
    await stage.until(lambda shown: shown.word == "IN BAND", "salt is in band")
    await hands.lift_and_tip("salt", "fine", "cup 3", CUPS["cup 3"], 0.2)


async def _premix(stage: Stage, hands: Hands, tell: Tell) -> None:
    tell(
        "Half way through the premix the scale's plug comes out, and goes back in.",
        "The plug comes out, and goes in again",
    )
    await hands.vessel("curing premix", "fine", "cup 2", CUPS["cup 2"])
    await hands.pour("fine", "cup 2", float(stage.shown.aim_g or "nan") / 2, 2.5)
    stage.scales["fine"].unplug()
    await stage.until(lambda shown: shown.word == "BLOCKED", "the lost scale is noticed")
    await stage.read()
    stage.scales["fine"].plug()
    await stage.until(
        lambda shown: shown.line == "curing premix" and shown.word == "POUR",
        "the pour goes on",
    )
    await hands.settle("fine")
    await _over_the_limit(stage, hands, tell)
    await hands.fill("curing premix", "fine", "cup 2", 2.5)
    await hands.lift_and_tip("curing premix", "fine", "cup 2", CUPS["cup 2"], 0.05, key=True)


async def _over_the_limit(stage: Stage, hands: Hands, tell: Tell) -> None:
    """More than the law allows, lifted all the same: nothing is accepted, and what is spooned out
    again counts until somebody else saw where it went."""
    tell(
        "Too much of it, 165 mg/kg of nitrite, and it is lifted: PUT BACK.",
        "Over the law, and lifted: PUT BACK",
    )
    aim = float(stage.shown.aim_g or "nan")
    await hands.pour("fine", "cup 2", aim + 6.0 - float(stage.shown.net_g or "nan"), 5.0)
    await stage.until(lambda shown: shown.word == "TAKE OUT", "the station says TAKE OUT")
    full = hands.lift("fine", "cup 2")
    await stage.until(lambda shown: shown.word == "PUT BACK", "the lift is not believed")
    await stage.read()
    hands.set_down("fine", "cup 2", full)
    await hands.settle("fine")
    tell(
        "A spoon takes it out; it may be in the mix until Brida saw where it went.",
        "Spooned out: Brida saw where to",
    )
    await hands.pour("fine", "cup 2", -7.0, 3.0)
    await stage.until(lambda shown: bool(shown.asks), "the station asks where it went")
    await stage.read()
    await stage.say("accept", line="curing premix")  # it went back
    await stage.say("accept", line="curing premix", second="Brida")
    await hands.settle("fine")
