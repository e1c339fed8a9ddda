"""Ports: what the running station says of them; or, where nobody holds them, what is heard."""

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from drivers.kinds import Instrument, ScaleFile
from drivers.link import LinkState, PortSettings
from drivers.measured import Measured
from drivers.reading import Fault, Reading
from station.client import Client, ClientError
from station.doctor.found import Found
from station.service.clock import Clock
from station.settings import ScaleSettings, Settings, ThermometerSettings

LISTENS_S = 2.0


def held(settings: Settings, socket: Path) -> Iterator[Found]:
    """Ports that the station holds: what it says of them."""
    for scale in settings.scales:
        yield _running_scale(scale, socket)
    for thermometer in settings.thermometers:
        if thermometer.at is not None:
            yield _running_thermometer(thermometer, thermometer.at.port, socket)


def free(settings: Settings) -> Iterator[Found]:
    """Ports that nobody holds: open each and listen."""
    for scale in settings.scales:
        stable = scale.scale.sends == "stable"
        yield asyncio.run(_listen(f"scale {scale.scale.name}", scale.port, scale.kind, stable))
    for thermometer in settings.thermometers:
        if thermometer.at is not None:
            name, at = f"thermometer {thermometer.name}", thermometer.at
            yield asyncio.run(_listen(name, at.port, at.kind, stable=False))


def _running_scale(scale: ScaleSettings, socket: Path) -> Found:
    name = f"scale {scale.scale.name}"
    try:
        pan = _state(socket)["scales"].get(scale.scale.name)
    except ClientError as error:
        return Found(name, False, error.sentence, error.next)
    if pan is None:
        return Found(name, False, "the running station does not know it", "restart the station")
    if pan["troubles"]:
        return Found(name, False, f"{pan['says']}, at {scale.port.port}", pan["next"])
    if pan["gross_g"] is None:
        step = "station follow says what to do"
        return Found(name, False, f"nothing is read at {scale.port.port}", step)
    return Found(name, True, f"it reads {pan['gross_g']} g at {scale.port.port}")


def _running_thermometer(
    thermometer: ThermometerSettings, port: PortSettings, socket: Path
) -> Found:
    name = f"thermometer {thermometer.name}"
    try:
        known = {one["name"]: one for one in _state(socket)["thermometers"]}
    except ClientError as error:
        return Found(name, False, error.sentence, error.next)
    shown = known.get(thermometer.name)
    if shown is None:
        return Found(name, False, "the running station does not know it", "restart the station")
    if shown["shows"] is None:
        says = shown["says"] or "nothing is read"
        return Found(name, False, f"{says}, at {port.port}", shown["next"] or "switch it on")
    return Found(name, True, f"it shows {shown['shows']} at {port.port}")


def _state(socket: Path) -> dict[str, Any]:
    with Client(socket, 5) as client:
        return client.call("state")


async def _listen(
    name: str, port: PortSettings, kind: ScaleFile | Instrument, stable: bool
) -> Found:
    """What is heard at a port; `stable`: it need not send before something settles."""
    states: list[LinkState] = []
    items: list[Any] = []
    source = kind.source(port, Clock(), lambda got, _: items.extend(got), states.append)
    running = asyncio.ensure_future(source.run())
    try:
        for _ in range(round(LISTENS_S / 0.05)):
            await asyncio.sleep(0.05)
            if any(not isinstance(i, Fault) for i in items) or (states and not states[-1].up):
                break
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    if states and not states[-1].up:
        return Found(name, False, states[-1].reason, states[-1].next)
    understood = [item for item in items if isinstance(item, (Reading, Measured))]
    if understood:
        sent = f"{understood[-1].value} {understood[-1].unit or ''}".strip()
        return Found(name, True, f"it sends {sent} at {port.port}")
    if items:
        seen = f"bytes but no frame: {items[0].raw[:16].hex(' ')}"
        step = (
            f"check speed and parity: {port.baud} {port.bits}; station scale identify {port.port}"
        )
        return Found(name, False, seen, step)
    if stable:
        return Found(name, True, f"{port.port} is open; it sends only when settled")
    step = "switch it on; check that it sends by itself"
    return Found(name, False, f"silent for {LISTENS_S:.0f} s at {port.port}", step)
