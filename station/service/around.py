"""What methods may need beyond their parameters."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from station.products import Product
from station.resources import Config
from station.service.channel import Channel
from station.service.desk import Desk
from station.settings import Settings


@dataclass(frozen=True, slots=True)
class Bench:
    """The bench as a method finds it."""

    desk: Desk
    config: Config
    settings: Settings
    channels: Mapping[str, Channel] = field(default_factory=dict)
    products: tuple[Product, ...] = ()
