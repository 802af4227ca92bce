"""Work to be cut short, by a kill or a full disk, and what has to be there afterwards."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from hashlib import sha256
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.files import Attachment
from appraise.models.findings import Area, Finding, State
from appraise.models.preferences import Preferences
from appraise.models.vehicle import Distance, Vehicle
from appraise.services.records.backup import (
    DAYS_KEPT,
    backup_name,
    daily_backup,
    read_backup,
    restore,
    write_backup,
)
from appraise.services.records.tidying import tidy
from appraise.services.records.workspace import Workspace, attach, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.dump import TABLES, reading, rows_of
from appraise.store.files import FileStore

OLD = Path(__file__).parent.parent / "old"
TODAY = date(2026, 3, 20)
LARGE = b"%PDF-1.4 " + bytes(range(256)) * 400
CHANCE = re.compile(r"[0-9a-f]{8,}|before-restore.*")
SIGNED_IN = (
    '{"at": "2026-03-04T05:06:07+00:00", "what": "signed in", "who": "Ada", "from": "192.0.2.7"}\n'
)
TAKEN_OVER = re.compile(r"('own values',1,)'[^']*'")
"""When own values were taken out of their old file: at another moment in each try."""
MOMENTS = {"saved_at", "created_at", "updated_at", "deleted_at"}


def car(name: str, *photos: str) -> Case:
    named = tuple(
        Attachment(id=one, name="photo.pdf", media_type="application/pdf", size=9, added_on=TODAY)
        for one in photos
    )
    light = Finding(
        id="light", area=Area.GLASS_AND_LIGHTS, state=State.NOT_LOOKED_AT, attachments=named
    )
    return Case(
        id=name,
        title=f"Brasquell {name}",
        appraised_on=TODAY,
        vehicle=Vehicle(
            make="Brasquell",
            model="Tivvet",
            model_year=2001,
            odometer=Distance(value=Decimal(100), unit="mi"),
        ),
        findings=(light,),
    )


@contextmanager
def at_work(folder: Path) -> Iterator[Workspace]:
    """Open what is kept in a folder, as a program started anew does."""
    workspace = open_workspace(Settings(data_folder=folder, database_url=""))
    try:
        yield workspace
    finally:
        workspace.cases.engine.dispose()


READ: dict[str, str] = {}


def what_is_in(backup: Path) -> str:
    """Return what a backup holds, once it was read as for a restore."""
    digest = sha256(backup.read_bytes()).hexdigest()
    if digest not in READ:
        READ[digest] = ", ".join(str(row["id"]) for row in read_backup(backup).rows["cases"])
    return READ[digest]


@dataclass(frozen=True, slots=True)
class Kept:
    """All that is kept: cars with history, photos, preferences and people, own values, backups."""

    cars: str
    photos: frozenset[str]
    rest: str
    own: str
    backups: frozenset[str]


def state_of(folder: Path) -> Kept:
    """Open a folder and return what it holds; asserts that all of it is whole."""
    with at_work(folder) as workspace:
        with reading(workspace.cases.engine) as connection:
            rows = {
                table: [
                    {key: value for key, value in row.items() if key not in MOMENTS}
                    for row in rows_of(connection, table)
                ]
                for table in TABLES
            }
        for one in workspace.cases.summaries():
            workspace.cases.load(one.id)
        mine = workspace.own_values.load()
        people = (workspace.people.everybody(), len(workspace.people.noted(999)))
    with sqlite3.connect(folder / "cases.sqlite") as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    photos = {row["id"]: row["content"] for row in rows.pop("files")}
    assert all(sha256(content).hexdigest() == one for one, content in photos.items())
    cars = json.dumps([rows.pop("cases"), rows.pop("history")], default=str)
    assert set(named_in(json.loads(cars))) <= set(photos), "no photo that a car names is missing"
    zips = {one.name: what_is_in(one) for one in (folder / "backups").glob("*.zip")}
    first = {one for one in zips if one.startswith("before-restore")}
    assert "Brasquell other" not in cars or any(zips[one] == "mine" for one in first)
    backups = {f"{one}: {zips[one]}" for one in set(zips) - first}
    return Kept(cars, frozenset(photos), f"{rows}, {people}", mine, frozenset(backups))


def written_in(folder: Path) -> str:
    """Return all that a database file says, its tables included, without bringing it up to date."""
    with sqlite3.connect(folder / "cases.sqlite") as connection:
        out = "\n".join(connection.iterdump())
    connection.close()
    return TAKEN_OVER.sub(r"\1", out)


def named_in(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (one["id"] for one in value.get("attachments") or ())
    for inner in value.values() if isinstance(value, dict) else value:
        if isinstance(inner, dict | list):
            yield from named_in(inner)


# --- the work -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Work:
    """Something that a person does, to be cut short.

    Attributes
    ----------
    begin : makes what there is before.
    do : does it; can be done again.
    between : what may be found half-way besides the state before and the state after, both given.
    migrates : whether opening it is the work, so that the file itself has to be looked at.
    """

    begin: Callable[[Path], None]
    do: Callable[[Path], None]
    between: Callable[[Kept, Kept], list[Kept]] = lambda *_: []
    migrates: bool = False


def an_old_file(layout: str) -> Callable[[Path], None]:
    def begin(folder: Path) -> None:
        with sqlite3.connect(folder / "cases.sqlite") as connection:
            connection.executescript((OLD / f"{layout}.sql").read_text(encoding="utf-8"))
        connection.close()
        (folder / "own_values.toml").write_text("# old\n", encoding="utf-8")
        (folder / "people.toml").write_text('[[person]]\nname = "Ada"\nrole = "edit"\n')
        (folder / "people.toml").chmod(0o600)
        (folder / "people.log").write_text(SIGNED_IN * 400)

    return begin


def open_it(folder: Path) -> None:
    with at_work(folder):
        pass


def a_car_of_mine(folder: Path) -> None:
    with at_work(folder) as workspace:
        for one in workspace.cases.summaries():  # none of the examples: they only take time
            workspace.cases.remove(one.id, 1)
        with workspace.cases.engine.begin() as connection:
            connection.exec_driver_sql("DELETE FROM history")
            connection.exec_driver_sql("DELETE FROM cases")
        photo = workspace.files.put(b"%PDF-1.4 mine", "application/pdf", None)
        workspace.cases.add(car("mine", photo))
        workspace.preferences.save(Preferences(currency="CHF"), 0)
        workspace.own_values.save("# mine\n")


def a_backup_of_other_cars(folder: Path) -> None:
    a_car_of_mine(folder)
    with at_work(folder) as workspace:
        photo = workspace.files.put(LARGE, "application/pdf", None)
        for number in range(3):
            workspace.cases.add(car(f"other{number}", photo))
        with workspace.cases.engine.begin() as connection:
            connection.exec_driver_sql("DELETE FROM history WHERE case_id = 'mine'")
            connection.exec_driver_sql("DELETE FROM cases WHERE id = 'mine'")
        workspace.own_values.save("# others\n")
        write_backup(workspace, folder / "others.zip")
    for one in folder.glob("*.sqlite*"):
        one.unlink()
    a_car_of_mine(folder)


def put_it_back(folder: Path) -> None:
    with at_work(folder) as workspace:
        restore(workspace, folder / "others.zip", over=True)


def fourteen_backups(folder: Path) -> None:
    a_car_of_mine(folder)
    backups = folder / "backups"
    backups.mkdir()
    with at_work(folder) as workspace:
        write_backup(workspace, backups / "first.zip")
        large = workspace.files.put(LARGE, "application/pdf", None)
        workspace.cases.add(car("new", large))
    for days in range(1, DAYS_KEPT + 1):
        shutil.copy(backups / "first.zip", backups / backup_name(TODAY - timedelta(days)))
    (backups / "first.zip").unlink()


def back_up_for_today(folder: Path) -> None:
    with at_work(folder) as workspace:
        problem = daily_backup(workspace, TODAY)
    if problem is not None:
        raise AppraiseError(problem.message)


def back_up_over_another(folder: Path) -> None:
    with at_work(folder) as workspace:
        write_backup(workspace, folder / "backups" / backup_name(TODAY - timedelta(1)), force=True)


def years_of_use(folder: Path) -> None:
    a_car_of_mine(folder)
    begin = datetime.now(UTC) - timedelta(days=87)
    with at_work(folder) as workspace:
        moments = (begin + timedelta(days=5) * number for number in count())
        engine = workspace.cases.engine
        store, files = CaseStore(engine, lambda: next(moments)), FileStore(engine, lambda: begin)
        first, second, nobodys = (
            files.put(b"%PDF-1.4 " + word, "application/pdf", None)
            for word in (b"first", b"second", b"nobody's")
        )
        assert nobodys
        kept = store.add(car("used", first))
        while kept.updated_at < datetime.now(UTC):
            kept = store.save(car("used", second), kept.version)
        workspace.files.put(b"%PDF-1.4 not saved yet", "application/pdf", None)


def tidy_up(folder: Path) -> None:
    with at_work(folder) as workspace:
        tidy(workspace, 30)


def picture() -> bytes:
    out = io.BytesIO()
    Image.effect_noise((90, 90), 80).convert("RGB").save(out, "JPEG", quality=95)
    return out.getvalue()


PICTURE = picture()


def add_a_photo(folder: Path) -> None:
    with at_work(folder) as workspace:
        stored = workspace.cases.load("mine")
        new = attach(workspace, PICTURE, "front.jpg").attachment.model_copy(
            update={"added_on": TODAY}
        )
        (light,) = stored.case.findings
        if new not in light.attachments:
            light = light.model_copy(update={"attachments": (*light.attachments, new)})
            changed = stored.case.model_copy(update={"findings": (light,)})
            workspace.cases.save(changed, stored.version)


WORK = {
    "an old file opened, layout 1": Work(an_old_file("0001"), open_it, migrates=True),
    "an old file opened, layout 2": Work(an_old_file("0002"), open_it, migrates=True),
    "an old file opened, layout 3": Work(an_old_file("0003"), open_it, migrates=True),
    "a backup put back over other cars": Work(a_backup_of_other_cars, put_it_back),
    "the backup of a day": Work(
        fourteen_backups,
        back_up_for_today,
        lambda old, new: [replace(old, backups=old.backups | new.backups)],
    ),
    "a backup written over another": Work(fourteen_backups, back_up_over_another),
    "tidying up": Work(
        years_of_use,
        tidy_up,
        lambda old, new: [replace(old, cars=new.cars)],
    ),
    "a photo added": Work(
        a_car_of_mine,
        add_a_photo,
        lambda old, new: [replace(old, photos=new.photos)],
    ),
}


@dataclass(frozen=True, slots=True)
class Trial:
    """Work with a place to do it in, over and over."""

    work: Work
    start: Path
    old: Kept
    new: Kept
    layouts: tuple[str, str]

    @property
    def good(self) -> list[Kept]:
        """What may be found, whenever it is cut short."""
        return [self.old, self.new, *self.work.between(self.old, self.new)]

    def fresh(self) -> Path:
        """Return a folder with what there is before."""
        folder = self.start.with_name("tried")
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(self.start, folder)
        return folder

    def assert_good(self, folder: Path, tried: dict[object, Kept], *told: Kept) -> Kept:
        """Return what is found there; assert that it is good, and that the next try works.

        The try takes long, and is made once for each set of files and each state.

        Parameters
        ----------
        tried : what was found before, and what is.
        told : what may be found besides, because it was said.
        """
        names = frozenset(CHANCE.sub("", one.name) for one in folder.rglob("*"))
        if self.work.migrates:
            assert written_in(folder) in self.layouts
        found = state_of(folder)
        assert found in (*self.good, *told)
        if tried.setdefault((names, found), found) is found:
            self.again(folder)
        return found

    def again(self, folder: Path) -> None:
        """Assert that the next try works, and that nothing is left of the one cut short."""
        left = [*folder.rglob(".*"), *folder.rglob("*.part")]
        for one in left:
            os.utime(one, (0, 0))
        self.work.do(folder)
        assert state_of(folder) == self.new
        if left:
            with at_work(folder) as workspace:
                daily_backup(workspace, TODAY)
            assert [one.name for one in left if one.exists()] == []


@pytest.fixture(scope="session", params=list(WORK))
def trial(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    work = WORK[request.param]
    place = tmp_path_factory.mktemp("trial")
    start, done = place / "start", place / "done"
    start.mkdir()
    work.begin(start)
    with sqlite3.connect(start / "cases.sqlite") as connection:
        connection.execute("VACUUM")
    connection.close()
    shutil.copytree(start, done)
    work.do(done)
    new = state_of(done)
    layouts = written_in(start), written_in(done)
    shutil.copytree(start, place / "opened")
    return Trial(work, start, state_of(place / "opened"), new, layouts)
