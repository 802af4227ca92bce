"""What takes how long is measured without workers beside it: they share caches and memory."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ALONE = "measured without workers: python -m pytest tests/bench"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.skip(reason=ALONE))
