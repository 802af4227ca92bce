"""How long a large log takes, reported, and what it may hold in memory, asserted."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from appraise.intake.logs.read import read_log

ROWS = 200_000
MOST_MEGABYTES = 300
HEADINGS = (
    "Time (s),Engine RPM (rpm),Vehicle Speed (km/h),MAP (kPa),Barometric Pressure (kPa),"
    "Throttle Position (%),Accelerator Pedal (%),Engine Load (%),Coolant Temperature (°C),"
    "Intake Air Temperature (°F),MAF (g/s),Lambda,STFT (%),LTFT (%),Timing Advance (°),Voltage (V)"
)
MEASURE = """
import re, resource, sys
from pathlib import Path
from appraise.intake.logs.read import read_log
log = read_log(Path(sys.argv[1]))
status = Path("/proc/self/status")
if status.exists():
    peak = int(re.search(r"VmHWM:\\s*(\\d+)", status.read_text())[1]) / 1024
else:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
print(log.rows, peak)
"""
"""On Linux `ru_maxrss` of a child starts at what its parent held; VmHWM is its own (proc(5))."""


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a log of 200,000 rows and 16 columns, about 25 MB."""
    path = tmp_path_factory.mktemp("logs") / "large.csv"
    count = HEADINGS.count(",")
    values = np.random.default_rng(1).uniform(0, 5000, (ROWS, count))
    with path.open("w", encoding="utf-8") as file:
        file.write(HEADINGS + "\n")
        for at, row in enumerate(values.tolist()):
            file.write(f"{at / 10:.1f}," + ",".join(f"{one:.2f}" for one in row) + "\n")
    return path


@pytest.fixture(scope="module")
def large_elsewhere(large: Path) -> Path:
    """Return the same with semicolons, decimal commas, clock times, Windows line ends, latin-1."""
    path = large.with_name("elsewhere.csv")
    lines = large.read_text(encoding="utf-8").splitlines()
    out = [lines[0].replace(",", ";").replace("Time (s)", "Time")]
    for at, line in enumerate(lines[1:]):
        rest = line.split(",")[1:]
        clock = f"{at // 36_000:02d}:{at // 600 % 60:02d}:{at / 10 % 60:04.1f}"
        out.append(";".join([clock, *rest]).replace(".", ","))
    path.write_bytes("\r\n".join(out).encode("latin-1"))
    return path


def test_a_large_log(benchmark: Any, large: Path) -> None:
    log = benchmark.pedantic(read_log, args=(large,), rounds=3, iterations=1, warmup_rounds=1)

    assert log.rows == ROWS
    assert len(log.columns) == 16


def test_a_large_log_from_elsewhere(benchmark: Any, large_elsewhere: Path) -> None:
    log = benchmark.pedantic(read_log, args=(large_elsewhere,), rounds=3, iterations=1)

    assert log.rows == ROWS
    assert log.columns["time_s"][-1] == pytest.approx((ROWS - 1) / 10)
    assert log.problems == ()


@pytest.mark.parametrize("which", ["large", "large_elsewhere"])
def test_a_fresh_process_with_a_large_log_stays_below_its_bound(
    which: str, request: pytest.FixtureRequest
) -> None:
    done = subprocess.run(  # noqa: S603 - our own interpreter and words
        [sys.executable, "-c", MEASURE, str(request.getfixturevalue(which))],
        capture_output=True,
        text=True,
        check=True,
    )
    rows, megabytes = done.stdout.split()

    assert int(rows) == ROWS
    assert float(megabytes) < MOST_MEGABYTES
