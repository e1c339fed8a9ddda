"""The benchmark of pours: its figures have the shape that was promised, the same for a seed."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
GRID = """
seed = 1
pours = 4
windows_s = [0.3]
print_hz = 10.0
noise_d = 0.35
f0_hz = [8.0, 20.0]
damping = [0.1, 0.3]
fall_m = [0.05, 0.25]
manners = ["stream"]
[[case]]
name = "salt"
target = 60.0
band = 0.05
division = 0.5
flow = [5.0, 10.0]
"""


def test_a_small_run_tells_of_every_method_and_repeats_itself(tmp_path: Path) -> None:
    grid = tmp_path / "grid.toml"
    grid.write_text(GRID, encoding="utf-8")
    words = [sys.executable, str(ROOT / "tests/bench/pours.py"), "--grid", str(grid), "--json"]
    runs = [
        subprocess.run(words, capture_output=True, text=True, check=True).stdout for _ in range(2)
    ]
    assert runs[0] == runs[1]
    (case,) = json.loads(runs[0])["cases"]
    assert set(case["methods"]) == {
        "naive", "line", "station_one", "station", "oracle_one", "oracle",
    }  # fmt: skip
    for row in case["methods"].values():
        assert set(row) == {"safe", "shortfall_g", "in_band", "needless", "seconds"}
