"""What was looked at."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Found:
    """One thing looked at: whether it is well, what was seen, and what to do if it is not."""

    what: str
    well: bool
    seen: str
    next: str = ""
