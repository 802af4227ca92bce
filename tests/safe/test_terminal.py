"""Whatever a person or a file brings, the terminal gets plain text and nothing that it obeys.

Each command is run as on a terminal, with the refusals of the models taken away, so that every
text of a car, of own values and of the data folder is as hostile as can be: whatever the models
let in some day, the pages and the JSON hold by themselves. That the models refuse it too, and what
is said then, is in test_terminal_refusals.py.
"""

from __future__ import annotations

import json
import shutil
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from pydantic import ValidationError

from appraise import services
from appraise.models import base, people
from appraise.models.case import Case
from appraise.services.records.backup import write_backup
from appraise.services.records.own_values import own_entry
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

MARK = "zqx"
FAKE = "WALK-AWAY PRICE: 99,999"
FOLLOWED = "\x1b[2J\x1b]8;;x\x07\x9b1A\x90\x85\x7f\b\r\n\u202e\u2066\u2028"
TURNED = "\u202a\u202b\u202c\u202d\u2067\u2068\u2069\u200e\u200f\u061c\u2029\ufeff"
TEXTS = (
    f"{MARK}{FOLLOWED}{FAKE}\x1b]52;c;eA==\x07\x1bc\x1b[31m\x0b\x0c\x1c\x1d\x1e\x1f{TURNED}\r{FAKE}.",
    f"{MARK}{FOLLOWED}.",
    f"{MARK}\x1b[2J\x9b\u202e\u2028\r\n\x7f.",
)
"""The first that a field has room for. No NUL: neither database nor argument holds one."""
NAME = f"{MARK}{FOLLOWED}{FAKE}"
"""Of a file: no stroke in it."""
OWNED, OFFERED = "wagon-half-repaired", "auction-engine-light"

OWN = {"own_values": f"{NAME}.toml"}
CASE = {"case": f"{OWNED}{NAME}.json"} | OWN
PROSPECT = {"case": f"{OFFERED}{NAME}.json"} | OWN
GIVEN: dict[str, tuple[dict[str, str], ...]] = {
    "bid": (CASE, PROSPECT),
    "check": (CASE, PROSPECT),
    "papers": (CASE, PROSPECT),
    "vin": ({"number": TEXTS[0], "other": TEXTS[1]},),
    "jobs": ({"words": MARK} | OWN, {"words": "body_and_paint.touch_up"} | OWN),
    "code": ({"codes": "P0300"} | OWN,),
    "diagnose": (CASE, PROSPECT),
    "answers": (CASE | {"file": f"{NAME}.txt"},),
    "log": ({"file": f"{NAME}.csv", "before": f"before{NAME}.csv"},),
    "forecast": (CASE,),
    "decide": (CASE,),
    "parts": (CASE, {"case": "hostile"}, CASE | {"sheet": f"{NAME}.xlsx"}),
    "sheet": (CASE | {"kind": "work", "file": f"{NAME}.pdf"},),
    "tables": (CASE | {"file": f"{NAME}.xlsx"},),
    "cars": ({},),
    "own-values": ({}, {"file": f"{NAME}.toml"}),
    "backup": ({"file": f"new{NAME}.zip"},),
    "restore": ({"file": f"{NAME}.zip", "over": "yes"},),
    "people add": ({"name": f"new{TEXTS[1]}", "password_stdin": "yes"},),
    "people list": ({},),
    "people remove": ({"name": TEXTS[1]},),
    "people password": ({"name": TEXTS[1], "password_stdin": "yes"},),
    "people role": ({"name": TEXTS[1], "role": "look"},),
    "people log": ({},),
}
"""What each command is given, by the names of its parameters."""
TELLS_NOTHING_OF_IT = {"answers", "restore"}
"""Read or take what is hostile, and print what the program says of it."""
BRINGS_NOTHING = {"open", "schema"}
"""Print nothing that is not the program's own; their errors are in test_terminal_refusals.py."""


def test_every_command_is_classified(commands: dict[str, Any]) -> None:
    """A new command has to be put into one of the two, and is then run below."""
    assert set(commands) == {*GIVEN, *BRINGS_NOTHING}


def let_all_in(patch: pytest.MonkeyPatch) -> None:
    """Take away the refusals of every model: they are part of their compiled form."""

    def anything(text: str) -> str:
        return text

    for one in (base._one_line, base._readable, people._name):
        patch.setattr(one, "__code__", anything.__code__)


def texts(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Yield the way to each text of a document, and the part of it that holds the text."""
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
        if isinstance(inner, str):
            yield (*way, key), value
        elif isinstance(inner, (dict, list)):
            yield from texts(inner, (*way, key))


def hostile(case: Case) -> str:
    """Return a case as JSON with every text that is not bound to a form made hostile."""
    document = json.loads(services.case_text(case))
    left = {way: (place, place[way[-1]], list(TEXTS)) for way, place in texts(document)}
    for way, (place, _, choice) in left.items():
        place[way[-1]] = choice.pop(0)
    while refused := refusals(document):
        known = refused & set(left)
        assert known, refused
        for way in known:
            place, before, choice = left[way]
            place[way[-1]] = choice.pop(0) if choice else before
    return json.dumps(document)


def refusals(document: Any) -> set[tuple[Any, ...]]:
    """Return the ways to what the model of a case refuses."""
    try:
        Case.model_validate(document)
    except ValidationError as error:
        return {one["loc"] for one in error.errors()}
    return set()


def own_values() -> str:
    """Return a file of own values in which every label, note and word is hostile."""
    reference, text = services.reference_values(), TEXTS[0]
    both = {"label": text, "note": text}
    of_values = [tomllib.loads(own_entry(reference, one))["value"][0] for one in reference.values]
    tables = {
        "value": [one | both for one in of_values],
        "area": [{"id": one.value, "label": text, "look_for": text} for one in reference.areas],
        "caution": [{"id": one, "work": text, "text": text} for one in reference.cautions],
        "limit": [{"id": one, "label": text, "how": text} for one in reference.limits],
        "job": [{"id": one} | both for one in reference.jobs],
    }
    for name in ("causes", "symptoms", "checks", "tools"):
        ids = getattr(reference, name)
        tables[name.removesuffix("s")] = [{"id": one, "label": text} for one in ids]
    return tomli_w.dumps(tables)


def fill_data(folder: Path, case: Case) -> None:
    """Keep a hostile car, people and a log in a data folder, and a backup beside it."""
    workspace = open_workspace(Settings(data_folder=folder))
    engine = workspace.cases.engine
    stored = CaseStore(engine, who=TEXTS[0]).add(case)
    changed = stored.case.model_copy(update={"draws": 1001})
    CaseStore(engine, who=NAME).save(changed, stored.version)
    workspace.people.add(people.Person(name=TEXTS[1], role="edit"))
    workspace.people.note("signed in", TEXTS[0], TEXTS[0])
    workspace.own_values.save(own_values())
    write_backup(workspace, folder.parent / f"{NAME}.zip")
    workspace.cases.engine.dispose()


@pytest.fixture(scope="session")
def hostile_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of files in which every text, and every name, is hostile."""
    folder = tmp_path_factory.mktemp("hostile")
    with pytest.MonkeyPatch.context() as patch:
        let_all_in(patch)
        for name in (OWNED, OFFERED):
            raw = services.load_case_file(name).model_copy(update={"draws": 1000})
            (folder / f"{name}{NAME}.json").write_text(hostile(raw), encoding="utf-8")
        case = services.load_case_file(str(folder / f"{OWNED}{NAME}.json"))
        fill_data(folder / "data", case.model_copy(update={"id": "hostile"}))
    (folder / f"{NAME}.toml").write_text(own_values(), encoding="utf-8")
    heads = ",".join(f'"{one}"' for one in ("time", "rpm", "map", TEXTS[1], f"boost {TEXTS[2]}"))
    log = heads + "\n" + "".join(f"{at},3000,100,7,{MARK}\n" for at in range(500))
    for start in ("", "before"):
        (folder / f"{start}{NAME}.csv").write_text(log, encoding="utf-8", newline="")
    (folder / f"{NAME}.txt").write_text("43 01 03 00 00 00 00\n41 0C 0A 00\n", encoding="utf-8")
    return folder


@pytest.fixture
def there(hostile_folder: Path, tmp_path: Path) -> None:
    shutil.copytree(hostile_folder, tmp_path, dirs_exist_ok=True)


def lines_of_its_own(text: str) -> list[str]:
    """Return lines that a text brought, not the program."""
    return [one for one in text.split("\n") if one.startswith(FAKE)]


@pytest.mark.usefixtures("there")
@pytest.mark.parametrize("command", GIVEN)
def test_no_text_that_somebody_brought_is_obeyed(
    command: str,
    run: Callable[..., Any],
    line_of: Callable[..., list[str]],
    obeyed: Callable[[str], list[str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    let_all_in(monkeypatch)
    for given in GIVEN[command]:
        done = run(*line_of(command, given))
        shown = (done.code, obeyed(done.out), obeyed(done.err), lines_of_its_own(done.out))

        assert shown == (0, [], [], []), done.err
        assert (MARK in done.out.casefold()) == (command not in TELLS_NOTHING_OF_IT)


@pytest.mark.usefixtures("there")
def test_no_text_is_obeyed_in_json(
    commands: dict[str, Any],
    run: Callable[..., Any],
    line_of: Callable[..., list[str]],
    obeyed: Callable[[str], list[str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Escaped as JSON escapes it: who reads the JSON has the text as it was written."""
    let_all_in(monkeypatch)
    with_json = [
        name for name, one in commands.items() if any("--json" in each.opts for each in one.params)
    ]
    assert {"bid", "decide", "forecast", "parts"} <= set(with_json)
    for command in with_json:
        for given in GIVEN[command]:
            done = run(*line_of(command, given, "--json"))

            assert (done.code, obeyed(done.out), obeyed(done.err)) == (0, [], []), command
            assert any(place[way[-1]] == TEXTS[0] for way, place in texts(json.loads(done.out))), (
                command
            )


@pytest.mark.parametrize("text", [*TEXTS, NAME])
def test_the_samples_would_be_obeyed(text: str, obeyed: Callable[[str], list[str]]) -> None:
    """So that a page that passes has been looked at."""
    assert {"0x1b", "0x9b", "0x202e", "0x2028"} <= set(obeyed(text))
    assert obeyed(services.reference_values().currency) == []
