"""The code on a formula's sheet is what a scanner at the bench types to open it."""

import re
from pathlib import Path

import numpy
import pytest
import zxingcpp

from tests.service.daemons import ROOT, station

RING = str(ROOT / "config" / "formulas" / "garlic-ring.toml")
DOT = 8


def read(svg: str) -> str:
    """What an independent reader sees in the code's strokes, drawn as squares."""
    size = max(float(found) for found in re.findall(r'(?:width|height)="([\d.]+)"', svg))
    scale = float(re.search(r"scale\(([\d.]+)\)", svg).group(1))  # type: ignore[union-attr]
    side = round(size / scale)
    paper = numpy.full((side * DOT, side * DOT), 255, numpy.uint8)
    x = y = 0.0
    for order, first, second in re.findall(r"([Mmh])(-?[\d.]+)(?:[ ,]?(-?[\d.]+))?", svg):
        if order == "h":
            row, start, end = int(y) * DOT, int(x) * DOT, int(x + float(first)) * DOT
            paper[row : row + DOT, start:end] = 0
            x += float(first)
        elif order == "M":
            x, y = float(first), float(second)
        else:
            x, y = x + float(first), y + float(second)
    (found,) = zxingcpp.read_barcodes(paper)
    return str(found.text)


def test_another_programs_reader_reads_the_formulas_name(tmp_path: Path) -> None:
    svg = tmp_path / "ring.svg"
    ended = station("formula", "sheet", RING, "--meat", "12 kg", "--code", str(svg))
    assert ended.returncode == 0, ended.stderr
    assert read(svg.read_text()) == "formula garlic-ring"


@pytest.mark.parametrize(("name", "status"), [("there.svg", 2), ("no/such/place.svg", 3)])
def test_no_file_is_written_over_and_a_failure_is_a_sentence(
    tmp_path: Path, name: str, status: int
) -> None:
    (tmp_path / "there.svg").write_text("mine")
    ended = station("formula", "sheet", RING, "--meat", "12 kg", "--code", str(tmp_path / name))
    assert ended.returncode == status and "next: name another file" in ended.stderr
    assert (tmp_path / "there.svg").read_text() == "mine"
