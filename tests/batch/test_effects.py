"""Every event that changes a batch finds its effect."""

from pathlib import Path

from station.batch import effects
from station.batch.evolve import PARTS


def test_every_file_of_effects_is_read() -> None:
    """A file that is not named would leave its events without effect, and nothing would say so."""
    folder = Path(effects.__path__[0])
    files = {path.stem for path in folder.glob("*.py")} - {"__init__", "base"}
    assert {part.__name__.rpartition(".")[2] for part in PARTS} == files
