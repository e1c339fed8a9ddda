"""What methods may need beyond their parameters."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from station.products import Product
from station.resources import Config, ResourceError
from station.service.channel import Channel
from station.service.desk import Desk
from station.settings import Settings
from station.tomlfile import FileMistakes
from station.weighing.commands import Refusal

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Bench:
    """The bench as a method finds it."""

    desk: Desk
    config: Config
    settings: Settings
    channels: Mapping[str, Channel] = field(default_factory=dict)
    products: tuple[Product, ...] = ()


def parsed(bench: Bench, name: str, parse: Callable[[str, str], T]) -> T:
    """What a file of the configuration says now. Raises `Refusal` with its first mistake."""
    try:
        return parse(*bench.config.read(name))
    except (FileMistakes, ResourceError) as error:
        raise Refusal("bad-file", str(error).splitlines()[0], f"mend {name}") from None
