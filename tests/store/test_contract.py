"""What the stores promise, on every kind of database."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine, event, func, select, update
from sqlalchemy.exc import StatementError

from appraise.errors import (
    BadCase,
    CaseChangedElsewhere,
    CaseNotFound,
    NewerSchema,
)
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.models.preferences import Preferences, Venue
from appraise.store.cases import CaseStore, CaseSummary, StoredCase
from appraise.store.database import transaction
from appraise.store.preferences import PreferenceStore, StoredPreferences
from appraise.store.raw import RawText
from appraise.store.tables import CaseRow, PreferencesRow


def renamed(case: Case, **changes: object) -> Case:
    return Case.model_validate(case.model_dump() | changes)


def ids(summaries: tuple[CaseSummary, ...]) -> list[str]:
    return [summary.id for summary in summaries]


class TestCases:
    @pytest.fixture
    def store(self, engine: Engine, clock: Callable[[], datetime]) -> CaseStore:
        return CaseStore(engine, now=clock)

    def test_an_empty_database_has_no_cases(self, store: CaseStore) -> None:
        assert store.summaries() == ()
        assert store.removed() == ()

    def test_a_full_case_comes_back_to_the_last_digit(
        self, store: CaseStore, full_case: Case
    ) -> None:
        added = store.add(full_case)
        loaded = store.load(full_case.id)
        assert loaded == added == StoredCase(full_case, 1, added.updated_at)
        # Equal decimals may differ in their digits, and 1 equals True: compare the writing too.
        assert loaded.case.model_dump_json() == full_case.model_dump_json()
        assert repr(loaded.case) == repr(full_case)

    def test_what_is_saved_is_what_is_loaded(
        self, store: CaseStore, small_case: Case, full_case: Case
    ) -> None:
        first = store.add(small_case)
        changed = renamed(full_case, id=small_case.id)
        second = store.save(changed, first.version)
        assert second.version == 2
        assert second.updated_at > first.updated_at
        assert store.load(small_case.id) == second
        assert second.case == changed

    def test_summaries_tell_the_saved_state_newest_first(
        self, store: CaseStore, small_case: Case, full_case: Case
    ) -> None:
        small = store.add(small_case)
        full = store.add(full_case)
        assert store.summaries() == (
            CaseSummary(full_case.id, full_case.title, "owned", 1, full.updated_at),
            CaseSummary("small", "Small", "prospect", 1, small.updated_at),
        )
        saved = store.save(renamed(small_case, title="Mended", standing="let_go"), 1)
        assert store.summaries()[0] == CaseSummary("small", "Mended", "let_go", 2, saved.updated_at)
        assert ids(store.summaries()) == ["small", full_case.id]

    def test_cases_of_one_moment_are_listed_by_id(
        self, engine: Engine, small_case: Case, clock: Callable[[], datetime]
    ) -> None:
        moment = clock()
        store = CaseStore(engine, now=lambda: moment)
        for case_id in ("b", "c", "a"):
            store.add(renamed(small_case, id=case_id))
        assert ids(store.summaries()) == ["a", "b", "c"]

    def test_the_list_is_made_without_the_documents(
        self, engine: Engine, store: CaseStore, full_case: Case
    ) -> None:
        store.add(full_case)
        statements: list[str] = []

        def listen(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
            statements.append(statement)

        event.listen(engine, "before_cursor_execute", listen)
        store.summaries()
        assert len(statements) == 1
        assert "doc" not in statements[0]
        store.load(full_case.id)
        assert "doc" in statements[1]

    def test_the_second_of_two_editors_is_refused(self, store: CaseStore, small_case: Case) -> None:
        store.add(small_case)
        mine, yours = store.load("small"), store.load("small")
        kept = store.save(renamed(small_case, note="mine"), mine.version)
        with pytest.raises(CaseChangedElsewhere, match="small"):
            store.save(renamed(small_case, note="yours"), yours.version)
        assert store.load("small") == kept

    @pytest.mark.parametrize("version", [0, 2, 99, -1])
    def test_a_version_that_was_never_read_is_refused(
        self, store: CaseStore, small_case: Case, version: int
    ) -> None:
        kept = store.add(small_case)
        with pytest.raises(CaseChangedElsewhere):
            store.save(renamed(small_case, note="new"), version)
        with pytest.raises(CaseChangedElsewhere):
            store.remove("small", version)
        assert store.load("small") == kept

    def test_of_editors_at_the_same_moment_one_wins(self, engine: Engine, small_case: Case) -> None:
        CaseStore(engine).add(small_case)
        editors = 4
        gate = threading.Barrier(editors)

        def edit(number: int) -> str:
            store = CaseStore(engine)
            version = store.load("small").version
            gate.wait(timeout=30)
            try:
                return store.save(renamed(small_case, note=str(number)), version).case.note
            except CaseChangedElsewhere:
                return "refused"

        with ThreadPoolExecutor(editors) as pool:
            said = list(pool.map(edit, range(editors)))
        assert said.count("refused") == editors - 1
        (won,) = set(said) - {"refused"}
        loaded = CaseStore(engine).load("small")
        assert (loaded.case.note, loaded.version) == (won, 2)

    def test_saves_of_different_cases_at_once_are_all_kept(
        self, engine: Engine, small_case: Case
    ) -> None:
        store = CaseStore(engine)

        def work(number: int) -> None:
            case = renamed(small_case, id=f"car-{number}")
            version = store.add(case).version
            for turn in range(10):
                version = store.save(renamed(case, note=str(turn)), version).version

        with ThreadPoolExecutor(4) as pool:
            list(pool.map(work, range(4)))
        assert [one.version for one in store.summaries()] == [11] * 4
        assert {store.load(one.id).case.note for one in store.summaries()} == {"9"}

    def test_a_taken_id_is_refused(self, store: CaseStore, small_case: Case) -> None:
        kept = store.add(small_case)
        with pytest.raises(BadCase, match="already a case called 'small'") as caught:
            store.add(renamed(small_case, title="Another"))
        assert caught.value.where == "id"
        assert store.load("small") == kept

    def test_a_removed_case_keeps_its_id(self, store: CaseStore, small_case: Case) -> None:
        store.add(small_case)
        store.remove("small", 1)
        with pytest.raises(BadCase, match="already a case called 'small'"):
            store.add(small_case)

    def test_a_removed_case_is_gone_until_put_back(
        self, store: CaseStore, small_case: Case, full_case: Case
    ) -> None:
        added = store.add(small_case)
        store.add(full_case)
        store.remove("small", added.version)
        assert ids(store.summaries()) == [full_case.id]
        assert store.removed() == (CaseSummary("small", "Small", "prospect", 2, added.updated_at),)
        with pytest.raises(CaseNotFound, match="was removed"):
            store.load("small")
        with pytest.raises(CaseNotFound, match="was removed"):
            store.save(small_case, 2)
        with pytest.raises(CaseNotFound, match="was removed"):
            store.remove("small", 2)

        store.put_back("small")
        assert store.load("small") == StoredCase(small_case, 3, added.updated_at)
        assert ids(store.summaries()) == [full_case.id, "small"]
        assert store.removed() == ()

    def test_the_last_removed_is_listed_first(self, store: CaseStore, small_case: Case) -> None:
        for case_id in ("a", "b", "c"):
            store.add(renamed(small_case, id=case_id))
        for case_id in ("c", "a", "b"):
            store.remove(case_id, 1)
        assert ids(store.removed()) == ["b", "a", "c"]

    def test_putting_back_what_is_there_changes_nothing(
        self, store: CaseStore, small_case: Case
    ) -> None:
        added = store.add(small_case)
        store.put_back("small")
        assert store.load("small") == added

    def test_who_read_before_a_removal_cannot_save_after_it(
        self, store: CaseStore, small_case: Case
    ) -> None:
        read = store.add(small_case)
        store.remove("small", read.version)
        store.put_back("small")
        with pytest.raises(CaseChangedElsewhere):
            store.save(small_case, read.version)

    def test_what_never_was_is_not_found(self, store: CaseStore, small_case: Case) -> None:
        for attempt in (
            lambda: store.load("small"),
            lambda: store.save(small_case, 1),
            lambda: store.remove("small", 1),
            lambda: store.put_back("small"),
            lambda: store.raw_text("small"),
        ):
            with pytest.raises(CaseNotFound, match="no case called 'small'"):
                attempt()
        assert store.summaries() == ()

    def test_an_id_is_data_and_never_a_statement(self, store: CaseStore, small_case: Case) -> None:
        store.add(small_case)
        with pytest.raises(CaseNotFound):
            store.remove("small' OR '1'='1", 1)
        with pytest.raises(CaseNotFound):
            store.load("%")
        assert ids(store.summaries()) == ["small"]

    def test_moments_are_kept_to_the_microsecond_in_utc(
        self, engine: Engine, small_case: Case
    ) -> None:
        east = timezone(timedelta(hours=5, minutes=45))
        moment = datetime(2026, 1, 1, 2, 0, 0, 123456, tzinfo=east)
        CaseStore(engine, now=lambda: moment).add(small_case)
        (summary,) = CaseStore(engine).summaries()
        loaded = CaseStore(engine).load("small")
        assert summary.updated_at == loaded.updated_at == moment
        assert summary.updated_at.utcoffset() == timedelta(0)
        assert loaded.updated_at.utcoffset() == timedelta(0)
        assert summary.updated_at.isoformat() == "2025-12-31T20:15:00.123456+00:00"

    def test_the_day_of_making_stays(self, engine: Engine, small_case: Case) -> None:
        early, late = datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC)
        CaseStore(engine, now=lambda: early).add(small_case)
        CaseStore(engine, now=lambda: late).save(small_case, 1)
        with transaction(engine) as connection:
            row = connection.execute(select(CaseRow.created_at, CaseRow.updated_at)).one()
        assert tuple(row) == (early, late)

    def test_the_usual_clock_tells_the_present(self, engine: Engine, small_case: Case) -> None:
        before = datetime.now(UTC)
        added = CaseStore(engine).add(small_case)
        assert before <= added.updated_at <= datetime.now(UTC)

    def test_a_moment_without_a_time_zone_stores_nothing(
        self, engine: Engine, small_case: Case
    ) -> None:
        naive = datetime(2026, 1, 1)  # noqa: DTZ001
        with pytest.raises(StatementError, match="without a time zone"):
            CaseStore(engine, now=lambda: naive).add(small_case)
        assert CaseStore(engine).summaries() == ()

    def test_nothing_is_kept_of_a_failed_transaction(
        self, engine: Engine, store: CaseStore, small_case: Case
    ) -> None:
        kept = store.add(small_case)

        def change_and_fail() -> None:
            with transaction(engine) as connection:
                changed = connection.execute(update(CaseRow).values(title="Half", version=9))
                assert changed.rowcount == 1
                raise RuntimeError("in the middle")

        with pytest.raises(RuntimeError, match="in the middle"):
            change_and_fail()
        assert store.load("small") == kept
        assert store.summaries()[0].title == "Small"

    def test_a_character_that_cannot_be_kept_is_named(
        self, store: CaseStore, small_case: Case, full_case: Case
    ) -> None:
        """The model refuses it too; the store has to, for what was made without the model."""
        first, second, *rest = full_case.findings
        odd = second.model_copy(update={"note": "a\0b"})
        with pytest.raises(BadCase, match="NUL") as caught:
            store.add(full_case.model_copy(update={"findings": (first, odd, *rest)}))
        assert caught.value.where == "findings[1].note"
        kept = store.add(small_case)
        with pytest.raises(BadCase, match="NUL"):
            store.save(small_case.model_copy(update={"title": "a\0b"}), 1)
        assert ids(store.summaries()) == ["small"]
        assert store.load("small") == kept

    def test_a_newer_layout_is_refused_and_still_listed(
        self, engine: Engine, store: CaseStore, small_case: Case
    ) -> None:
        store.add(small_case)
        newer = small_case.model_dump(mode="json") | {"schema_version": SCHEMA_VERSION + 1}
        with transaction(engine) as connection:
            connection.execute(update(CaseRow).values(doc=newer, standing="on_the_moon"))
        with pytest.raises(NewerSchema, match="newer version") as caught:
            store.load("small")
        assert "Update" in caught.value.hint
        assert [(one.id, one.standing) for one in store.summaries()] == [("small", "on_the_moon")]

    def test_a_stored_document_that_does_not_fit_names_its_field(
        self, engine: Engine, store: CaseStore, small_case: Case
    ) -> None:
        store.add(small_case)
        with transaction(engine) as connection:
            broken = small_case.model_dump(mode="json") | {"draws": 3}
            connection.execute(update(CaseRow).values(doc=broken))
        with pytest.raises(BadCase, match=r"stored case 'small'.*draws"):
            store.load("small")

    def test_cases_outlive_the_engine(
        self, url: str, opened: Callable[..., Engine], full_case: Case
    ) -> None:
        first = opened(url)
        added = CaseStore(first).add(full_case)
        first.dispose()
        assert CaseStore(opened(url)).load(full_case.id) == added


class TestPreferences:
    @pytest.fixture
    def store(self, engine: Engine, clock: Callable[[], datetime]) -> PreferenceStore:
        return PreferenceStore(engine, now=clock)

    @pytest.fixture
    def mine(self, full_case: Case) -> Preferences:
        return Preferences(
            currency="GBP",
            distance_unit="km",
            deal=full_case.deal,
            venues=(Venue(name="Yard", fees=full_case.deal.fees, tax_percent=Decimal("8.250")),),
        )

    def test_at_first_they_are_the_defaults(self, store: PreferenceStore) -> None:
        assert store.load() == StoredPreferences(Preferences(), 0)

    def test_they_come_back_to_the_last_digit(
        self, store: PreferenceStore, mine: Preferences
    ) -> None:
        assert store.save(mine, 0) == StoredPreferences(mine, 1) == store.load()
        assert store.load().preferences.model_dump_json() == mine.model_dump_json()

    def test_versions_rise(self, store: PreferenceStore, mine: Preferences) -> None:
        store.save(Preferences(), 0)
        assert store.save(mine, 1).version == 2
        assert store.load() == StoredPreferences(mine, 2)

    @pytest.mark.parametrize("version", [0, 1, 3])
    def test_who_has_not_seen_the_last_ones_is_refused(
        self, store: PreferenceStore, mine: Preferences, version: int
    ) -> None:
        store.save(mine, 0)
        store.save(mine, 1)
        with pytest.raises(CaseChangedElsewhere, match="preferences"):
            store.save(Preferences(), version)
        assert store.load() == StoredPreferences(mine, 2)

    def test_a_version_before_any_were_saved_is_refused(self, store: PreferenceStore) -> None:
        with pytest.raises(CaseChangedElsewhere):
            store.save(Preferences(), 1)
        assert store.load().version == 0

    @pytest.mark.parametrize(
        ("doc", "said"),
        [
            ({"schema_version": 4}, "newer version"),
            ({"deal": {"confidence": "0.999"}}, "deal.confidence"),
            (RawText('{"currency": "US'), "cut short"),
        ],
    )
    def test_what_cannot_be_read_leaves_the_defaults_and_is_told(
        self, engine: Engine, store: PreferenceStore, doc: Any, said: str
    ) -> None:
        store.save(Preferences(currency="GBP"), 0)
        with transaction(engine) as connection:
            connection.execute(update(PreferencesRow).values(doc=doc))
        found = store.load()

        assert (found.preferences, found.version) == (Preferences(), 1)
        assert said in found.wrong
        assert store.save(Preferences(currency="EUR"), 1) == store.load()

    def test_their_moment_is_aware(
        self, engine: Engine, store: PreferenceStore, clock: Callable[[], datetime]
    ) -> None:
        before = clock()
        store.save(Preferences(), 0)
        with transaction(engine) as connection:
            moment = connection.execute(select(PreferencesRow.updated_at)).scalar_one()
            rows = connection.execute(select(func.count()).select_from(PreferencesRow)).scalar()
        assert moment == before + timedelta(seconds=1)
        assert moment.utcoffset() == timedelta(0)
        assert rows == 1
