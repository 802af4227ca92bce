"""Killed in the middle of it: what is found afterwards is the state before or after, never neither.

Each thing is done in a process that kills itself (SIGKILL) before its first step, then before its
second, until it comes to its end. Steps are the statements that it gives the database, and what it
does to files. A write is killed with half of it written.
"""

from __future__ import annotations

import os
import resource
import signal
import traceback
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

LEAST_LIMIT = 40_000
"""Bytes; SQLite opens no file whose index of the log, of 32 KiB, may not be written."""
PIECES = 10


def child(work: Callable[[], None]) -> int:
    """Do work in a process of its own; return the signal that ended it, 0 if it came to its end."""
    process = os.fork()
    if process == 0:
        try:
            work()
        except BaseException:  # noqa: BLE001 - nothing may get out into the tests
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(process, 0)
    if os.WIFSIGNALED(status):
        return os.WTERMSIG(status)
    assert os.WEXITSTATUS(status) == 0, "it was killed or came to its end"
    return 0


def killed_at(number: int, work: Callable[[], None], steps: Any, told: Path) -> bool:
    """Do work until its step of that number; return whether it came so far."""

    def in_child() -> None:
        names: list[str] = []

        def stop(name: str, half: Callable[[], object]) -> None:
            names.append(name)
            if len(names) == number:
                half()
                os.kill(os.getpid(), signal.SIGKILL)

        event.listen(
            Engine, "before_cursor_execute", lambda *given: stop(f"sql {given[2].split()[0]}", int)
        )
        event.listen(Engine, "commit", lambda _: stop("commit", int))
        steps(pytest.MonkeyPatch(), stop)
        work()
        stop("the end", int)
        told.write_text("\n".join(names), encoding="utf-8")

    return child(in_child) == signal.SIGKILL


def test_killed_at_each_of_its_steps(trial: Any, steps: Any, tmp_path: Path) -> None:
    told = tmp_path / "steps"
    tried: dict[object, Any] = {}
    for number in count(1):
        folder = trial.fresh()
        if not killed_at(number, partial(trial.work.do, folder), steps, told):
            break
        trial.assert_good(folder, tried)

    names = told.read_text(encoding="utf-8").splitlines()
    assert number == len(names) + 1 > 10, "every step was tried"
    assert set(tried.values()) == set(trial.good), "and the kills came before, between and after"


def killed_over(limit: int, work: Callable[[], None]) -> bool:
    """Do work until a file would grow over a size: the system writes up to it, and kills."""

    def in_child() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        work()

    return child(in_child) == signal.SIGXFSZ


def test_killed_in_the_middle_of_a_write(trial: Any) -> None:
    """Also those of SQLite into its files, which nobody else can cut in two."""
    kills, tried = 0, dict[object, Any]()
    for limit in range(LEAST_LIMIT, LEAST_LIMIT + PIECES * 9_001, 9_001):
        folder = trial.fresh()
        if not killed_over(limit, partial(trial.work.do, folder)):
            break
        kills += 1
        trial.assert_good(folder, tried)
    assert kills
