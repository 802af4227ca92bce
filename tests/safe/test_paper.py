"""Whatever somebody wrote stands on paper as written: nothing is run, read, linked or hidden.

Every free text of a car and of own values is hostile at once, each with a number of its own, so
that each place on a sheet says which text it is and whether all of it is there.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pypdf
import pytest
import tomli_w
from pydantic import ValidationError
from pypdf.generic import DictionaryObject, IndirectObject, NameObject, TextStringObject

from appraise import services
from appraise.errors import one_line
from appraise.models import base
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.reports.paper import head_of
from appraise.services.output.printing import bid_sheet, buyers_sheet, parts_paper, work_sheet
from appraise.services.records.own_values import own_entry

ON = date(2026, 11, 27)
SAMPLES = {
    "reading": '#read("/etc/passwd") #read("common.typ") #image("/etc/passwd") #include "x.typ"',
    "reading data": '#csv("x") #json("x") #yaml("x") #plugin("x.wasm") #bibliography("x")',
    "importing": '#import "@preview/x:0.1.0": * #import "common.typ": soft #soft("x") #data',
    "code": '#panic() #eval("1+1") #sys.inputs #{ let x = 1 } #while true {} #x[y](z)',
    "leaving code": '"); #panic() //" } ] ) #panic() /* */ \\" \\\\" #panic()',
    "maths": "$ x^2 / sum_(i=0) $ `raw` ```typ #x``` $",
    "markup": "*b* _i_ = H == H - i + i / t: d ~ -- --- ... \\ \\u{41} \\u{202e} <l> @r // c /* d",
    "brackets": "]]} ) ( [{ ]",
    "quotes": '" \' \\" \'\' ""',
    "links": '#link("http://e.example")[x] https://e.example javascript:alert(1) file:///etc/passwd',
    "of a PDF": "(x) Tj endstream endobj /JS (app.alert(1)) >> /URI (http://e) %PDF-1.7 %%EOF",
    "of XML": "<script>x</script> ]]> &amp; &#0; <!-- <?x ?> {{x}} ${x} %s %(x)s {0}",
    "a long word": "W" * 170,
    "letters": "Größe Ωmega naïve fi fl ffi œ",
    "no font has these": "車軸 🚗🔧 ☃ end",
}
"""What the models let in."""
REFUSED = {
    "controls": "a\x00b\x01c\x07d\x08e\x0bf\x1b[2Jg\x7fh\x85i\x9bj",
    "turned": "a\u202eb\u202dc\u2066d\u2069e\u200ff\u061cg",
    "lines": "a\nb\rc\u2028d\u2029e\tf",
    "not seen": "a\u200bb\u2060c\ufeffd\u00ade",
}
"""What they refuse: were it let in, it would be written out."""
CAR = {"vehicle.make", "vehicle.model", "vehicle.vin", "vehicle.plate"}
WORK = {"title", "caution.work", "caution.text", "tool.label", "job.label", "own_jobs.label"}
WORK |= {"work.jobs.parts.label", "work.jobs.note"}
BUYER = {"job.label", "own_jobs.label", "findings.label", "findings.causes.label"}
BUYER |= {"sale.disclosure", "work.jobs.proof.measurements.unit"}
BYPASS = {"work.jobs.bypass.what", "work.jobs.bypass.reason", "work.jobs.bypass.restore"}
SHEETS: dict[str, tuple[Callable[..., bytes], set[str]]] = {
    "bid auction-engine-light": (bid_sheet, CAR | {"title", "findings.label", "area.label"}),
    "work wagon-half-repaired": (work_sheet, CAR | WORK | {"work.jobs.bypass.restore"}),
    "work farm-truck-owned": (work_sheet, CAR | WORK),
    "buyer wagon-half-repaired": (buyers_sheet, CAR | BUYER | BYPASS),
    "buyer farm-truck-owned": (
        buyers_sheet,
        CAR | BUYER | {"limit.label", "work.jobs.proof.measurements.place"},
    ),
    "parts wagon-half-repaired": (
        parts_paper,
        CAR | {"title", "job.label", "work.jobs.parts.label", "work.jobs.parts.supplier"},
    ),
}
"""Who writes a sheet, of which car, and texts that have to be found on it."""
LARGE = "a1"
"""A sheet on which no text is cut in two by the end of a page."""


OWN_JOB = {
    "id": "own.x",
    "label": "x",
    "system": "exhaust",
    "hours": {"low": 1, "likely": 2, "high": 3},
}
LOST = "車軸🚗🔧"
"""Letters of the samples that no font of the program has: boxes stand for them, and a remark."""
ACTS = {
    *("/AA", "/AF", "/AcroForm", "/Annots", "/Collection", "/EF", "/EmbeddedFiles", "/FS"),
    *("/JS", "/JavaScript", "/OpenAction", "/PieceInfo", "/RichMediaContent", "/URI", "/XFA"),
    *("/XObject", "/Rendition", "/Threads", "/Encrypt"),
}
"""Keys of what acts, is linked or is hidden in a PDF, or a picture (ISO 32000-1; from memory)."""
KINDS = {
    *("/Action", "/Annot", "/EmbeddedFile", "/Filespec", "/F", "/GoToE", "/GoToR", "/Image"),
    *("/ImportData", "/JavaScript", "/Launch", "/Link", "/Movie", "/Named", "/Rendition"),
    *("/RichMedia", "/Screen", "/Sound", "/SubmitForm", "/URI", "/Widget", "/FileAttachment"),
}


class Marked:
    """Texts, each with a number before and after it."""

    def __init__(self, sample: str) -> None:
        self.sample = sample
        self.texts: dict[int, str] = {}
        self.places: dict[int, str] = {}

    def copy(self) -> Marked:
        """Return the same texts, to be added to."""
        other = Marked(self.sample)
        other.texts |= self.texts
        other.places |= self.places
        return other

    def new(self, place: str, most: int = 1000) -> str:
        """Return the sample, or its beginning, with a new number."""
        number = len(self.texts) + 1
        self.texts[number] = f"zqx{number}<{self.sample[:most]}>{number}zqx"
        self.places[number] = place
        return self.texts[number]


def leaves(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Yield the way to each text of a document, and the part of it that holds the text."""
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
        if isinstance(inner, str):
            yield (*way, key), value
        elif isinstance(inner, (dict, list)):
            yield from leaves(inner, (*way, key))


def refusals(document: Any) -> set[tuple[Any, ...]]:
    try:
        Case.model_validate(document)
    except ValidationError as error:
        return {one["loc"] for one in error.errors()}
    return set()


def hostile(name: str, marked: Marked) -> Case:
    """Return a car with every text that is not bound to a form made hostile."""
    document = json.loads(services.case_text(services.load_case_file(name)))
    document |= {"draws": 1000, "sale": {"disclosure": "said"}}
    document["vehicle"] |= {"plate": "x", "vin": "x"}
    document["own_jobs"].append(OWN_JOB)
    for at, job in enumerate(document["work"]["jobs"]):
        job["note"] = f"x{at}"
    if document["work"]["jobs"]:
        document["work"]["jobs"].append({"id": "own", "job": "own.x", "must": True, "note": "x"})
    document["findings"][0]["severity"] = "dangerous"
    left = {way: (place, place[way[-1]], [170, 60, 18, 2]) for way, place in leaves(document)}

    def put(way: tuple[Any, ...]) -> None:
        place, before, lengths = left[way]
        named = ".".join(str(one) for one in way if not isinstance(one, int))
        place[way[-1]] = marked.new(named, lengths.pop(0)) if lengths else before

    for way in left:
        put(way)
    while refused := refusals(document):
        known = refused & set(left)
        assert known, refused
        for way in known:
            put(way)
    return Case.model_validate(document)


def own_reference(path: Path, marked: Marked) -> Reference:
    """Return the catalog with every label and word of it from a hostile file."""
    found = services.reference_values()

    def texts(kind: str, **more: int) -> dict[str, str]:
        return {key: marked.new(f"{kind}.{key}", most) for key, most in more.items()}

    values = [tomllib.loads(own_entry(found, one))["value"][0] for one in found.values]
    tables = {
        "value": [one | texts("value", label=170, note=170) for one in values],
        "area": [{"id": one.value} | texts("area", label=170) for one in found.areas],
        "caution": [{"id": one} | texts("caution", work=170, text=170) for one in found.cautions],
        "limit": [{"id": one} | texts("limit", label=170, how=170) for one in found.limits],
        "job": [{"id": one} | texts("job", label=170, note=170) for one in found.jobs],
        "tool": [{"id": one} | texts("tool", label=170) for one in found.tools],
        "check": [{"id": one} | texts("check", label=170) for one in found.checks],
    }
    path.write_text(tomli_w.dumps(tables), encoding="utf-8")
    return services.reference_values(path)


Catalog = Callable[[str], tuple[Marked, Reference]]


@pytest.fixture(scope="session")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> Catalog:
    """Return what gives a sample's texts, and the catalog that holds them, made once."""
    made: dict[str, tuple[Marked, Reference]] = {}

    def go(sample: str) -> tuple[Marked, Reference]:
        if sample not in made:
            marked = Marked((SAMPLES | REFUSED)[sample])
            path = tmp_path_factory.mktemp("own") / "own.toml"
            made[sample] = marked, own_reference(path, marked)
        marked, reference = made[sample]
        return marked.copy(), reference

    return go


def close(text: str) -> str:
    """Return a text without blanks, and without the breaks that are allowed inside words."""
    return "".join(text.replace("\u200b", "").split())


def let_all_in(patch: pytest.MonkeyPatch) -> None:
    """Take away the refusals of every model: they are part of their compiled form."""

    def anything(text: str) -> str:
        return text

    for one in (base._one_line, base._readable):
        patch.setattr(one, "__code__", anything.__code__)


def acting(paper: pypdf.PdfReader) -> list[str]:
    """Return what acts, is linked or is hidden in a PDF; every object of it is looked at."""
    found: set[str] = set()
    ids = {number for table in paper.xref.values() for number in table} | set(paper.xref_objStm)
    waiting: list[Any] = [paper.trailer, *(IndirectObject(one, 0, paper) for one in sorted(ids))]
    seen: set[int] = set()
    while waiting:
        one = waiting.pop()
        if isinstance(one, IndirectObject):
            if one.idnum in seen:
                continue
            seen.add(one.idnum)
            one = one.get_object()
        if isinstance(one, dict):
            found |= ACTS & set(one)
            found |= {str(one.raw_get(key)) for key in ("/S", "/Type", "/Subtype") if key in one}
            waiting += [one.raw_get(key) for key in one]
        elif isinstance(one, list):
            waiting += list(one)
    assert len(seen) > 10
    return sorted(found & (ACTS | KINDS))


def forms(text: str) -> set[str]:
    """Return how a text may stand on paper: as it is, quoted, or its lines one under the other."""
    plain = {one_line(text), repr(text)[1:-1], "".join(map(one_line, text.splitlines()))}
    return {re.sub(f"[{LOST}]", "\0", close(one)) for one in plain}


def amiss(text: str, marked: Marked) -> tuple[set[str], list[str]]:
    """Return the places whose texts stand on a paper, and what stands there otherwise."""
    seen: set[str] = set()
    otherwise: list[str] = []
    for start in re.finditer(r"zqx(\d+)<", text):
        number = int(start[1])
        here = text[start.start() :]
        wanted = forms(marked.texts[number])
        cut = here[: here.find("…")] if marked.places[number] == "title" else ""
        if any(here.startswith(one) for one in wanted):
            seen.add(marked.places[number])
        elif not (cut and any(one.startswith(cut) for one in wanted)):
            otherwise.append(f"{marked.places[number]}: {here[:200]}")
    return seen, otherwise


@pytest.fixture
def large(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("bid_sheet", "work_sheet", "buyers_sheet", "paper"):
        module = f"appraise.reports.{name}.head_of"
        monkeypatch.setattr(module, lambda *given: head_of(*given) | {"size": LARGE})


@pytest.mark.usefixtures("large")
@pytest.mark.parametrize("sample", SAMPLES | REFUSED)
@pytest.mark.parametrize("sheet", SHEETS)
def test_every_text_stands_there_as_it_was_written(
    sheet: str,
    sample: str,
    obeyed: Callable[[str], list[str]],
    catalog: Catalog,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """So none of it was run, and nothing stands in its place that was read from anywhere."""
    if sample in REFUSED:
        let_all_in(monkeypatch)
    write, places = SHEETS[sheet]
    marked, reference = catalog(sample)
    case = hostile(sheet.split()[1], marked)
    paper = pypdf.PdfReader(BytesIO(write(case, reference, ON)))
    text = close(" ".join(page.extract_text() for page in paper.pages))
    seen, otherwise = amiss(text, marked)

    assert otherwise == []
    assert places - seen == set()
    assert obeyed(text.replace("\0", "")) == []
    assert ("Boxesstandforletters" in text) == ("\0" in text) == (sample == "no font has these")
    assert acting(paper) == []


@pytest.mark.parametrize("sample", ["links", "a long word", "of a PDF", "of XML", "controls"])
@pytest.mark.parametrize("sheet", SHEETS)
def test_a_sheet_of_the_usual_size_holds_nothing_that_acts(
    sheet: str, sample: str, catalog: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is known of it stands in XML inside of it, which is well formed."""
    if sample in REFUSED:
        let_all_in(monkeypatch)
    marked, reference = catalog(sample)
    case = hostile(sheet.split()[1], marked)
    paper = pypdf.PdfReader(BytesIO(SHEETS[sheet][0](case, reference, ON)))

    assert acting(paper) == []
    about = case.vehicle.name if sheet.startswith("buyer") else case.title
    root = paper.trailer["/Root"]
    known = ET.fromstring(root["/Metadata"].get_data().decode())  # noqa: S314 - our own paper
    words = " ".join(text for text in known.itertext() if text.strip())
    assert paper.metadata is not None
    for title in (words, str(paper.metadata.title)):
        assert close(one_line(about)) in close(title)


def test_what_acts_in_a_pdf_would_be_found() -> None:
    """So that a sheet that passes has been looked at."""
    writer, out = pypdf.PdfWriter(), BytesIO()
    for _ in range(5):
        writer.add_blank_page(100, 100)
    script = {"/S": NameObject("/JavaScript"), "/JS": TextStringObject("app.alert(1)")}
    writer.root_object[NameObject("/OpenAction")] = DictionaryObject(
        {NameObject(key): value for key, value in script.items()}
    )
    writer.add_attachment("x.txt", b"x")
    writer.add_uri(0, "http://e.example", [0, 0, 9, 9])
    writer.write(out)
    found = acting(pypdf.PdfReader(BytesIO(out.getvalue())))

    assert {"/OpenAction", "/JS", "/JavaScript", "/EmbeddedFiles", "/EF", "/URI", "/Link"} <= set(
        found
    )


def test_what_stands_there_otherwise_would_be_found() -> None:
    marked = Marked("#read(x)")
    text = close(marked.new("title"))

    assert amiss(text, marked) == ({"title"}, [])
    assert amiss("zqx1<root:x:0:0>1zqx", marked)[1] == ["title: zqx1<root:x:0:0>1zqx"]
