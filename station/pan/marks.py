"""What is known of the thing on the pan besides its weight, until it leaves the pan."""


class Marks:
    """`counted`: its load was counted and it has not left since; `tipped_line`: whose vessel it is,
    if that was tipped while it stood here; `foreign`: it was here when another batch was at the
    bench."""

    def __init__(self) -> None:
        self.counted = False
        self.tipped_line: str | None = None
        self.foreign = False

    def left(self) -> None:
        """The pan was seen empty, settled or not: what comes now is another thing."""
        self.counted = self.foreign = False
        self.tipped_line = None

    def unseen(self) -> None:
        """Readings are missing: the counted load may have left."""
        self.counted = False

    def parked(self) -> None:
        """The batch leaves the bench: this is no vessel and no load of another one."""
        self.foreign = True
        if self.tipped_line:
            self.tipped_line = f"{self.tipped_line} of a parked batch"
