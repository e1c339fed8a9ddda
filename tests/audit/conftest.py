"""A ledger with everything an auditor asks about, made once."""

from pathlib import Path

import pytest

from tests.audit.kitchen_record import record


@pytest.fixture(scope="session")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "kept.ledger"
    record(path)
    return path
