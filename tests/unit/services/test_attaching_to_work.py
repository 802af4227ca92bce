"""Photos and PDFs of jobs and entries: nothing else changes, and none that is named is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from PIL import Image
from sqlalchemy import update

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.files import MOST_FILES, Attachment, Attachments
from appraise.models.work import Stage
from appraise.services.ownership.bookkeeping import (
    add_entry,
    attach_to_entry,
    on_file,
    take_back,
    totals,
)
from appraise.services.ownership.deciding import forecast_case
from appraise.services.ownership.working import add_job, attach_to_job, put_job, without_job
from appraise.services.records.backup import restore, write_backup
from appraise.services.records.changes import changes_of
from appraise.services.records.tidying import tidy
from appraise.services.records.workspace import (
    Workspace,
    add_copy,
    attach,
    attachment,
    open_workspace,
)
from appraise.settings import Settings
from appraise.store.files import FileStore
from appraise.store.history import LEAST_DAYS
from appraise.store.tables import CaseRow, HistoryRow

CAR = "farm-truck-owned"
JOB = "lines-to-rear"
ON = date(2026, 11, 25)
LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)
Attach = Callable[[Case, Attachments], Case]
Use = Callable[[Workspace, int], None]


@pytest.fixture
def workspace(tmp_path: Path) -> Iterator[Workspace]:
    """Return a workspace in which every file counts as kept long ago."""
    opened = open_workspace(Settings(data_folder=tmp_path / "data"))
    engine = opened.cases.engine
    yield replace(opened, files=FileStore(engine, now=lambda: LONG_AGO))
    engine.dispose()


@pytest.fixture
def car() -> Case:
    return services.load_case_file(CAR)


def photo(shade: int = 0) -> bytes:
    out = BytesIO()
    Image.new("RGB", (64, 48), (shade, 90, 90)).save(out, "JPEG")
    return out.getvalue()


def named(name: str, digit: str = "a") -> Attachment:
    """Return a photo or PDF that is kept nowhere."""
    return Attachment.model_validate(
        {
            "id": digit * 64,
            "name": name,
            "media_type": "application/pdf" if name.endswith(".pdf") else "image/jpeg",
            "size": 700,
            "added_on": ON,
        }
    )


def entry_of(case: Case) -> str:
    """Return an entry of the example that was not taken back."""
    return next(one.id for one in case.work.entries if one.job == JOB and one.amount)


def to_job(case: Case, files: Attachments) -> Case:
    return attach_to_job(case, JOB, files)


def to_entry(case: Case, files: Attachments) -> Case:
    return attach_to_entry(case, entry_of(case), files)


both = pytest.mark.parametrize("put", [to_job, to_entry])


# --- the case -------------------------------------------------------------------------------------


def test_a_photo_of_a_receipt_changes_nothing_that_the_entry_says(car: Case) -> None:
    name = entry_of(car)
    new = attach_to_entry(car, name, (named("receipt.jpg"), named("invoice.pdf", "b")))
    place = [one.id for one in car.work.entries].index(name)

    kept = new.work.entries[place]
    assert [one.name for one in kept.attachments] == ["receipt.jpg", "invoice.pdf"]
    assert attach_to_entry(new, name, ()) == car
    assert totals(new) == totals(car)
    reference = services.reference_values()
    assert forecast_case(new, reference, ON) == forecast_case(car, reference, ON)


def test_a_photo_of_a_job_changes_nothing_else_however_far_it_is(car: Case) -> None:
    for job in car.work.jobs:
        new = attach_to_job(car, job.id, (named("weld.jpg"),))
        found = new.work.job(job.id)
        assert found is not None
        assert found.attachments == (named("weld.jpg"),)
        assert attach_to_job(new, job.id, ()) == car
    assert {one.stage for one in car.work.jobs} >= {Stage.DONE, Stage.PLANNED}


@both
def test_one_photo_twice_or_more_than_may_be_are_refused(car: Case, put: Attach) -> None:
    twice = (named("a.jpg"), named("b.jpg"))
    many = tuple(
        named("a.jpg").model_copy(update={"id": f"{at:064x}"}) for at in range(MOST_FILES + 1)
    )

    with pytest.raises(BadCase, match="attached twice"):
        put(car, twice)
    with pytest.raises(BadCase, match="attachments"):
        put(car, many)
    assert put(car, many[1:])


def test_what_is_not_there_takes_no_photo(car: Case) -> None:
    with pytest.raises(BadCase, match="no entry 'unheard'"):
        attach_to_entry(car, "unheard", (named("a.jpg"),))
    with pytest.raises(BadCase, match="no planned job 'unheard'"):
        attach_to_job(car, "unheard", (named("a.jpg"),))


def test_taking_an_entry_back_leaves_its_photos_with_it(car: Case) -> None:
    """The entry that takes it back is shown by papers of its own, or by none."""
    new = add_entry(
        car, {"kind": "part", "on": ON, "amount": "10", "attachments": [named("a.jpg")]}
    )
    name = new.work.entries[-1].id
    back = take_back(new, name, ON)

    assert back.work.entries[-2].attachments == (named("a.jpg"),)
    assert back.work.entries[-1].attachments == ()
    again = attach_to_entry(back, back.work.entries[-1].id, (named("credit.pdf"),))
    assert again.work.entries[-1].attachments == (named("credit.pdf"),)
    assert attach_to_entry(again, name, ()).work.entries[-2].attachments == ()


def test_what_is_on_file_of_a_job_is_counted(car: Case) -> None:
    assert on_file(car) == {}
    new = attach_to_job(car, JOB, (named("a.jpg"), named("b.jpg", "b"), named("c.pdf", "c")))
    assert on_file(new) == {JOB: "2 photos, 1 PDF"}
    new = attach_to_entry(new, entry_of(new), (named("receipt.jpg", "d"),))
    assert on_file(new) == {JOB: "2 photos, 1 PDF, 1 receipt"}
    assert on_file(attach_to_job(new, JOB, ())) == {JOB: "1 receipt"}


def test_own_hours_and_what_was_taken_back_are_no_receipts(car: Case) -> None:
    picture = [named("a.jpg")]
    hours = {"kind": "hours", "on": ON, "hours": "1", "job": JOB, "attachments": picture}
    part = {"kind": "part", "on": ON, "amount": "10", "job": JOB, "attachments": picture}
    whole = part | {"job": None}
    assert on_file(add_entry(add_entry(car, hours), whole)) == {}
    new = add_entry(add_entry(car, part), part)
    assert on_file(new) == {JOB: "2 receipts"}
    back = take_back(new, new.work.entries[-1].id, ON)

    assert on_file(back) == {JOB: "1 receipt"}
    assert on_file(take_back(back, new.work.entries[-2].id, ON)) == {}


# --- the history ----------------------------------------------------------------------------------


@both
def test_the_history_names_what_came_and_what_went(
    workspace: Workspace, put: Attach, car: Case
) -> None:
    for files in ((named("a.jpg"), named("b.pdf", "b")), (named("b.pdf", "b"),)):
        stored = workspace.cases.load(CAR)
        workspace.cases.save(put(stored.case, files), stored.version)
    went, came = (one.fields for one in changes_of(workspace, CAR)[:2])

    where = f"work: jobs, {JOB}" if put is to_job else f"work: entries, {entry_of(car)}"
    assert came == (
        (f"{where}: attachments, a.jpg", "nothing", "a.jpg"),
        (f"{where}: attachments, b.pdf", "nothing", "b.pdf"),
    )
    assert went == ((f"{where}: attachments, a.jpg", "a.jpg", "nothing"),)


# --- the files ------------------------------------------------------------------------------------


def kept(workspace: Workspace, files: Attachments) -> list[str]:
    """Return the names of those that are still here."""
    here = workspace.files.thumbnails(one.id for one in files)
    return [one.name for one in files if one.id in here]


def saved(workspace: Workspace, case: Case) -> Case:
    return workspace.cases.save(case, workspace.cases.load(case.id).version).case


def long_before(workspace: Workspace, days: int) -> None:
    """Let everything done to the car have been done so many days ago."""
    then = datetime.now(UTC) - timedelta(days=days)
    with workspace.cases.engine.begin() as connection:
        connection.execute(
            update(HistoryRow).where(HistoryRow.case_id == CAR).values(saved_at=then)
        )
        connection.execute(update(CaseRow).where(CaseRow.id == CAR).values(deleted_at=then))


@both
def test_only_a_file_that_no_version_of_any_car_names_is_forgotten(
    workspace: Workspace, used_for: Use, put: Attach
) -> None:
    """All were kept long ago; the first is named now, the second was, the third never."""
    used_for(workspace, LEAST_DAYS + 1)
    files = tuple(
        attach(workspace, photo(shade), f"{shade}.jpg").attachment for shade in (1, 90, 180)
    )
    saved(workspace, put(workspace.cases.load(CAR).case, files[1:2]))
    saved(workspace, put(workspace.cases.load(CAR).case, files[:1]))

    assert tidy(workspace) == (0, 1)
    assert kept(workspace, files) == ["1.jpg", "90.jpg"]


@both
def test_a_removed_car_keeps_its_photos_until_it_is_forgotten_itself(
    workspace: Workspace, used_for: Use, put: Attach
) -> None:
    used_for(workspace, 2 * LEAST_DAYS)
    one = attach(workspace, photo(), "a.jpg").attachment
    saved(workspace, put(workspace.cases.load(CAR).case, (one,)))
    workspace.cases.remove(CAR, workspace.cases.load(CAR).version)
    assert tidy(workspace) == (0, 0)
    workspace.cases.put_back(CAR)
    assert workspace.cases.load(CAR).case == put(services.load_case_file(CAR), (one,))
    assert attachment(workspace, one).content
    workspace.cases.remove(CAR, workspace.cases.load(CAR).version)
    long_before(workspace, LEAST_DAYS + 1)
    tidy(workspace, LEAST_DAYS)

    assert kept(workspace, (one,)) == []


@both
def test_a_copy_of_the_car_has_them_still_when_the_first_is_gone(
    workspace: Workspace, used_for: Use, put: Attach
) -> None:
    used_for(workspace, 2 * LEAST_DAYS)
    one = attach(workspace, photo(), "a.jpg").attachment
    case = saved(workspace, put(workspace.cases.load(CAR).case, (one,)))
    copied = add_copy(workspace, case).case
    assert (copied.id == CAR, copied.work) == (False, case.work)
    workspace.cases.remove(CAR, workspace.cases.load(CAR).version)
    long_before(workspace, LEAST_DAYS + 1)
    assert tidy(workspace, LEAST_DAYS)[0] > 0
    assert CAR not in [
        each.id for each in (*workspace.cases.summaries(), *workspace.cases.removed())
    ]

    assert attachment(workspace, one).content
    assert kept(workspace, (one,)) == ["a.jpg"]


@both
def test_a_backup_has_them_and_puts_them_back_byte_for_byte(
    workspace: Workspace, tmp_path: Path, put: Attach
) -> None:
    one = attach(workspace, photo(), "a.jpg").attachment
    case = saved(workspace, put(workspace.cases.load(CAR).case, (one,)))
    file = tmp_path / "all.zip"
    write_backup(workspace, file)
    with ZipFile(file) as archive:
        assert archive.read(f"files/{one.id}") == attachment(workspace, one).content
    other = open_workspace(Settings(data_folder=tmp_path / "other"))
    try:
        restore(other, file)
        assert other.cases.load(CAR).case == case
        assert attachment(other, one) == attachment(workspace, one)
        assert tidy(other)[1] == 0
    finally:
        other.cases.engine.dispose()


@both
def test_a_file_of_the_car_names_them_and_reads_back_the_same(car: Case, put: Attach) -> None:
    new = put(car, (named("a.jpg"),))

    assert services.read_case(services.case_text(new)) == new


def test_the_photos_of_a_job_taken_out_are_kept_as_long_as_its_history(
    workspace: Workspace,
) -> None:
    one = attach(workspace, photo(), "a.jpg").attachment
    case = add_job(
        workspace.cases.load(CAR).case,
        "cooling.thermostat_and_housing",
        services.reference_values(),
    )
    name = case.work.jobs[-1].id
    case = saved(workspace, attach_to_job(case, name, (one,)))
    saved(workspace, without_job(case, name))
    tidy(workspace)
    assert kept(workspace, (one,)) == ["a.jpg"]
    back = workspace.history.load(CAR, 2)

    assert saved(workspace, back).work.job(name) == case.work.job(name)
    with pytest.raises(AppraiseError, match="no planned job"):
        attach_to_job(without_job(case, name), name, (one,))
    assert put_job(without_job(case, name), case.work.jobs[-1]) == case
