"""What the tests of the display share."""

from pathlib import Path

import pytest


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Where the station's socket is."""
    return tmp_path / "s.sock"
