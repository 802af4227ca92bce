"""A log with the air outside that it is held against."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from appraise.engine.pressure import local_pressure
from appraise.reports.log_page import LogView
from appraise.services.logs import read_log

__all__ = ["log_view"]


def log_view(path: Path, height_m: float | None = None) -> LogView:
    """Return a log file ready to be shown; its own barometer comes before the height.

    Raises
    ------
    AppraiseError
        The file cannot be read, or is no log; the message says why.
    """
    log = read_log(path)
    logged = None
    baro = log.columns.get("baro_kpa")
    if baro is not None and np.isfinite(baro).any():
        logged = float(np.nanmedian(baro))
    return LogView(
        name=path.name,
        rows=log.rows,
        columns=log.columns,
        mapping=log.mapping,
        problems=log.problems,
        local=local_pressure(logged_kpa=logged, height_m=height_m),
    )
