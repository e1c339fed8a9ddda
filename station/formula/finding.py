"""What is said of a formula: how grave it is, of which line, and who says so."""

from typing import Literal, NamedTuple

Severity = Literal["broken", "warning", "advice"]


class Finding(NamedTuple):
    """What is to be said of a formula under the law; `broken` refuses it, the others do not."""

    line: str
    severity: Severity
    text: str
    source: str
