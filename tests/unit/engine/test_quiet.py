"""What C prints is dropped, and standard output comes back afterwards."""

from __future__ import annotations

import subprocess
import sys

C_PRINTS = """
import ctypes, os, sys
from threading import Thread
from appraise.engine.decide.solver_output import no_output
library = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
"""


def run(work: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", C_PRINTS + work], capture_output=True, text=True, check=True
    )


def test_what_c_prints_inside_is_dropped() -> None:
    done = run("""
library.puts(b"before")
with no_output():
    library.puts(b"inside")
library.puts(b"after")
""")

    assert done.stdout.split() == ["before", "after"]
    assert done.stderr == ""


def test_it_comes_back_after_an_error() -> None:
    done = run("""
try:
    with no_output():
        raise ValueError
except ValueError:
    pass
library.puts(b"after")
""")

    assert done.stdout.split() == ["after"]


def test_many_threads_leave_it_as_it_was() -> None:
    done = run("""
def work():
    for _ in range(50):
        with no_output():
            library.puts(b"inside")
threads = [Thread(target=work) for _ in range(8)]
[one.start() for one in threads]
[one.join() for one in threads]
library.puts(b"after")
""")

    assert done.stdout.split() == ["after"]
    assert done.stderr == ""


def test_without_a_standard_output_or_error_the_work_is_done_all_the_same() -> None:
    closed_output = run("""
os.close(1)
with no_output():
    os.write(2, b"done")
""")
    closed_error = run("""
os.close(2)
with no_output():
    pass
os.write(1, b"done")
""")

    assert closed_output.stderr == "done"
    assert closed_error.stdout == "done"
