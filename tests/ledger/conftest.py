"""A ledger of one batch, and a copy of it for each test."""

import contextlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from station.ledger.book import Book, LedgerError
from tests.ledger.ledgers import copied, opened, write


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("ledger") / "a.ledger"
    write(path)
    return path


@pytest.fixture
def path(written: Path, tmp_path: Path) -> Path:
    return copied(written, tmp_path)


@pytest.fixture
def book(path: Path) -> Iterator[Book]:
    book = opened(path)
    yield book
    with contextlib.suppress(LedgerError):
        book.close()
