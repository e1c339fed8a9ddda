"""`station audit ...` asked in this process."""

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from station.cli.audit import audit


def ask(ledger: Path, *words: str) -> Result:
    """The command's answer; whatever it raises but an exit fails the test."""
    return CliRunner(catch_exceptions=False).invoke(audit, [*words, "--ledger", str(ledger)])


def told(ledger: Path, *words: str, status: int = 0) -> dict[str, Any]:
    """Its JSON."""
    result = ask(ledger, *words, "--json")
    assert result.exit_code == status, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found
