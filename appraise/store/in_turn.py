"""Windows of one program write into a SQLite file in turn, as its own waiting is not in turn.

SQLite lets whoever is kept out look again after ever longer pauses. Among many who save without
pause one may be out of luck until it is told that the database is in use.
"""

from __future__ import annotations

from threading import Lock, get_ident

from sqlalchemy import Engine, event

__all__ = ["write_in_turn"]

WRITES = ("INSERT", "UPDATE", "DELETE", "BEGIN IMMEDIATE", "CREATE", "DROP", "ALTER")


def write_in_turn(engine: Engine, wait_seconds: float) -> None:
    """Let one thread at a time write through an engine, from its first word until it is done.

    Parameters
    ----------
    wait_seconds : after which the database itself is asked, with its own waiting and its own words.
    """
    gate, holder = Lock(), [0]

    @event.listens_for(engine, "before_cursor_execute")
    def _(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        writes = statement.lstrip().upper().startswith(WRITES)
        if writes and holder[0] != get_ident() and gate.acquire(timeout=wait_seconds):
            holder[0] = get_ident()

    @event.listens_for(engine, "checkin")
    def _(*_connection: object) -> None:
        if holder[0] == get_ident():
            holder[0] = 0
            gate.release()
