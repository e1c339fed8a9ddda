"""What happened, in the past tense. These are what the ledger keeps: fields may be added with a
default, never renamed. Masses are grams, `raw` the bytes of a frame in hex."""

from station.batch.events.base import ByHand as ByHand
from station.batch.events.base import Event as Event
from station.batch.events.batch import *  # noqa: F403 - every event, without a second list
from station.batch.events.bench import *  # noqa: F403
from station.batch.events.product import *  # noqa: F403
from station.batch.events.weighing import *  # noqa: F403
