"""How long a long list of cars takes: reported; only generous bounds asserted."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert
from streamlit.testing.v1 import AppTest

from appraise.services import example_cases
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.database import open_database, transaction
from appraise.store.documents import to_document
from appraise.store.tables import CaseRow
from ui.session.opened import opened

APP = Path(__file__).parents[2] / "ui" / "app.py"
CARS = 5_000
SLOW = 10
"""Target times the allowance for a machine that is shared, slow or measures for coverage."""


def median(benchmark: Any) -> float:
    """Return the seconds that half the rounds took at most; skip where nothing is measured."""
    if benchmark.stats is None:
        pytest.skip("nothing is measured: --benchmark-disable")
    return float(benchmark.stats.stats.median)


@pytest.fixture(scope="module")
def long_list(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Return a data folder with five thousand cars."""
    folder = tmp_path_factory.mktemp("long") / "data"
    workspace = open_workspace(Settings(data_folder=folder))
    base = example_cases()[0]
    document, moment = to_document(base), datetime.now(UTC)
    rows = [
        {
            "id": f"car-{at}",
            "version": 1,
            "schema": base.schema_version,
            "title": f"Car {at}",
            "standing": "sold" if at % 500 == 0 else "prospect",
            "created_at": moment,
            "updated_at": moment,
            "doc": document | {"id": f"car-{at}", "title": f"Car {at}"},
        }
        for at in range(CARS)
    ]
    with transaction(workspace.cases.engine) as connection:
        connection.execute(insert(CaseRow), rows)
    yield folder
    workspace.cases.engine.dispose()


def test_the_list_of_five_thousand_cars(
    benchmark: Any, long_list: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within 300 ms of script."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(long_list))
    monkeypatch.setenv("APPRAISE_DAILY_BACKUP", "false")
    window = AppTest.from_file(APP, default_timeout=60).switch_page("app_pages/cars.py").run()
    assert not window.exception
    assert len([one for one in window.button if one.label == "Open"]) > 0

    benchmark.pedantic(window.run, rounds=5, warmup_rounds=1)
    opened.clear()
    assert median(benchmark) < 0.3 * SLOW


def test_opening_one_of_five_thousand(benchmark: Any, long_list: Path) -> None:
    """Within 150 ms."""
    store = CaseStore(open_database(f"sqlite:///{long_list / 'cases.sqlite'}"))

    benchmark.pedantic(store.load, args=("car-4321",), rounds=9, warmup_rounds=1)
    store.engine.dispose()
    assert median(benchmark) < 0.15 * SLOW
