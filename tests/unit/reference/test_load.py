"""What the reader of the reference values refuses, and with which words; what an own file may do.

Every broken text is the good small folder with one thing changed, so that the one problem it makes
is the only one reported.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import tomli

from appraise.errors import BadReference
from appraise.models.findings import Area
from appraise.models.jobs import HoursFamily, PartFamily
from appraise.models.ranges import Range
from appraise.models.vehicle import PriceClass
from appraise.reference import load
from appraise.reference.load import (
    Reference,
    check_own_values,
    load_reference,
    read_reference,
)
from appraise.reference.schema import Kind

CLASSES = ", ".join(f"{one.value} = 1" for one in PriceClass)
MEMORY = (
    'kind = "common practice"\nchecked_on = 2026-01-31\nnote = "our estimate, no published source"'
)


def _tables() -> str:
    names = [f"parts.class_factor.{one.value}" for one in PartFamily]
    names += [f"hours.class_factor.{one.value}" for one in HoursFamily]
    return "\n".join(
        f'[[value]]\nid = "{name}"\nlabel = "By class"\nunit = "factor"\n'
        f"table = {{ {CLASSES} }}\n{MEMORY}\n"
        for name in names
    )


def _areas() -> str:
    return "\n".join(
        f'[[area]]\nid = "{area.value}"\nlabel = "{area.value}"\nrate = 0.1\n{MEMORY}\n'
        'curve = "wear"\nfound = { close = 0.5 }\n'
        for area in Area
    )


GOOD: Mapping[str, str] = {
    "access.toml": """
[[access]]
id = "wheels_off"
label = "Wheels off"
hours = [0.2, 0.3, 0.5]
covers = ["raised"]
cautions = ["stands"]

[[access]]
id = "raised"
label = "Car raised"
hours = [0.1, 0.2, 0.4]
""",
    "areas.toml": _areas(),
    "cautions.toml": """
[[caution]]
id = "stands"
work = "Under a raised car"
text = "Firm ground, wheels chocked, on stands."
kind = "law"
sources = [{ id = "the-law", at = "section 3" }]
""",
    "jobs/brakes.toml": f"""
schema_version = 1
currency = "USD"
base_year = 2025
{MEMORY}

[[job]]
id = "brakes.bleed"
label = "Brakes bled"
system = "brakes"
hours = [0.4, 0.6, 1.2]
parts = [
    {{ label = "fluid", family = "fluid", price = [9, 14, 24] }},
]

[[job]]
id = "brakes.caliper"
label = "Caliper"
system = "brakes"
hours = [0.5, 0.75, 1.5]
access = ["wheels_off"]
consumables = 3
tools = ["bleeder"]
cautions = ["stands"]
follows = ["brakes.bleed"]
""",
    "sources.toml": '[[source]]\nid = "the-law"\ntitle = "A law"\n',
    "tools.toml": '[[tool]]\nid = "bleeder"\nlabel = "Bleeder"\nprice = [15, 30, 70]\n',
    "units.toml": '[[unit]]\nid = "factor"\nlabel = "factor"\n',
    "values.toml": f"""
[[value]]
id = "shop.markup"
label = "Markup"
unit = "factor"
value = 1.35
{MEMORY}

[[value]]
id = "scrap"
label = "Scrap"
unit = "factor"
range = [1, 2, 3]
kind = "law"
sources = [{{ id = "the-law", at = "section 9" }}]
checked_on = 2026-01-31
"""
    + _tables(),
}


def read(folder: Path, texts: Mapping[str, str], own: str = "") -> Reference:
    """Write the texts under `folder` and read them."""
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return read_reference(folder, own, "mine.toml")


def problems(folder: Path, texts: Mapping[str, str], own: str = "") -> list[str]:
    """Return what the reader complains of, as `where: message`."""
    with pytest.raises(BadReference) as refused:
        read(folder, texts, own)
    assert all(one.weight == "stop" for one in refused.value.problems)
    return [f"{one.where}: {one.message}" for one in refused.value.problems]


def test_the_small_folder_itself_is_good(tmp_path: Path) -> None:
    """Without it, a refusal below could come from anything."""
    reference = read(tmp_path, GOOD)
    assert set(reference.jobs) == {"brakes.bleed", "brakes.caliper"}
    assert set(reference.areas) == set(Area)
    assert reference.access["wheels_off"].covers == ("raised",)
    assert reference.currency == "USD"
    caliper = reference.jobs["brakes.caliper"]
    assert caliper.file == "jobs/brakes.toml"
    assert caliper.base_year == 2025
    assert caliper.provenance.kind is Kind.COMMON_PRACTICE


def test_three_numbers_are_a_range_and_decimals_stay_exact(tmp_path: Path) -> None:
    reference = read(tmp_path, GOOD)
    hours = reference.jobs["brakes.caliper"].job.hours
    assert hours == Range(low=Decimal("0.5"), likely=Decimal("0.75"), high=Decimal("1.5"))
    assert reference.value("shop.markup").value == Decimal("1.35")


BROKEN = [
    pytest.param(
        "jobs/brakes.toml",
        "consumables = 3",
        "consumeables = 3",
        "jobs/brakes.toml: brakes.caliper: consumeables: is not a known field",
        id="unknown key in a job",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'family = "fluid", price',
        'famly = "fluid", price',
        "jobs/brakes.toml: brakes.bleed: parts[0].famly: is not a known field",
        id="unknown key in a parts line",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "base_year = 2025",
        'base_year = 2025\ncolor = "blue"',
        "jobs/brakes.toml: color: is not a known field",
        id="unknown key in a job file's header",
    ),
    pytest.param(
        "tools.toml",
        "[[tool]]",
        'color = "blue"\n[[tool]]',
        "tools.toml: unknown key 'color'",
        id="unknown key at the head of another file",
    ),
    pytest.param(
        "units.toml",
        'label = "factor"',
        'label = "factor"\nsymbol = "x"',
        "units.toml: factor: symbol: is not a known field",
        id="unknown key in a unit",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'base_year = 2025\nkind = "common practice"',
        'base_year = 2025\nkind = "hearsay"',
        "jobs/brakes.toml: kind: 'hearsay' must be 'law', 'standard', 'official statistic', "
        "'textbook', 'open data', 'maker', 'common practice', 'derived' or 'own'",
        id="unknown kind of source",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'note = "our estimate, no published source"',
        'note = "everybody knows"',
        "jobs/brakes.toml: : common practice: say 'our estimate, no published source'",
        id="common practice that does not say it is from memory",
    ),
    pytest.param(
        "values.toml",
        'sources = [{ id = "the-law", at = "section 9" }]\n',
        "",
        "values.toml: scrap: : law: names no source",
        id="law without a source",
    ),
    pytest.param(
        "values.toml",
        'kind = "law"\nsources = [{ id = "the-law", at = "section 9" }]',
        'kind = "derived"',
        "values.toml: scrap: : derived: say from what",
        id="derived without a word from what",
    ),
    pytest.param(
        "jobs/brakes.toml",
        '[[job]]\nid = "brakes.caliper"\n',
        "[[job]]\n",
        "jobs/brakes.toml: job: a job has no id",
        id="job without id",
    ),
    pytest.param(
        "sources.toml",
        "[[source]]",
        '[[source]]\ntitle = "Another law"\n[[source]]',
        "sources.toml: source: an entry has no id",
        id="entry without id",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'label = "Caliper"\n',
        "",
        "jobs/brakes.toml: brakes.caliper: label: is missing",
        id="job without label",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "consumables = 3",
        'consumables = "three"',
        "jobs/brakes.toml: brakes.caliper: consumables: 'three' must be a number",
        id="words for an amount",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "hours = [0.4, 0.6, 1.2]",
        "hours = [0.4, 1.2]",
        "jobs/brakes.toml: brakes.bleed: hours: must be an object with its fields",
        id="two numbers for a range",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'system = "brakes"\nhours = [0.4',
        'system = "stopping"\nhours = [0.4',
        "jobs/brakes.toml: brakes.bleed: system: 'stopping' must be 'brakes', 'steering', "
        "'suspension', 'tires_and_wheels', 'engine_mechanical', 'engine_management', "
        "'induction_and_boost', 'fuel', 'ignition', 'cooling', 'exhaust', 'transmission', "
        "'clutch', 'driveline', 'differential', 'electrical', 'lights', 'climate', 'restraints', "
        "'glass', 'body_and_paint', 'interior', 'hybrid_and_electric', 'fluids_and_service' or "
        "'preparation'",
        id="unknown system",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "hours = [0.4, 0.6, 1.2]",
        "hours = [0.8, 0.6, 1.2]",
        "jobs/brakes.toml: brakes.bleed: hours: low (0.8) is above likely (0.6)",
        id="low above likely",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "price = [9, 14, 24]",
        "price = [9, 14, 12]",
        "jobs/brakes.toml: brakes.bleed: parts[0].price: high (12) is below likely (14)",
        id="high below likely",
    ),
    pytest.param(
        "tools.toml",
        "price = [15, 30, 70]",
        "price = [0, 30, 70]",
        "tools.toml: bleeder: price: low is 0: a cost that may not arise at all is a chance, not "
        "a range from 0",
        id="range from nothing",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'id = "brakes.caliper"',
        'id = "brakes.bleed"',
        "jobs/brakes.toml: brakes.bleed: stands in jobs/brakes.toml already",
        id="two jobs of one id",
    ),
    pytest.param(
        "units.toml",
        "[[unit]]",
        '[[tool]]\nid = "bleeder"\nlabel = "Another"\nprice = [1, 2, 3]\n\n[[unit]]',
        "units.toml: bleeder: stands in tools.toml already",
        id="two tools of one id in two files",
    ),
    pytest.param(
        "values.toml",
        'id = "the-law", at = "section 9"',
        'id = "a-rumour"',
        "values.toml: scrap: source 'a-rumour' is not defined",
        id="unknown source of a value",
    ),
    pytest.param(
        "cautions.toml",
        'id = "the-law"',
        'id = "a-rumour"',
        "cautions.toml: stands: source 'a-rumour' is not defined",
        id="unknown source of a caution",
    ),
    pytest.param(
        "values.toml",
        'label = "Scrap"\nunit = "factor"',
        'label = "Scrap"\nunit = "furlong"',
        "values.toml: scrap: unit 'furlong' is not defined",
        id="unknown unit",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'follows = ["brakes.bleed"]',
        'follows = ["brakes.blead"]',
        "jobs/brakes.toml: brakes.caliper: job that follows 'brakes.blead' is not defined",
        id="unknown job that follows",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'follows = ["brakes.bleed"]',
        'follows = ["brakes.caliper"]',
        "jobs/brakes.toml: brakes.caliper: : a job cannot follow from itself",
        id="job that follows from itself",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'access = ["wheels_off"]',
        'access = ["wheels_of"]',
        "jobs/brakes.toml: brakes.caliper: access 'wheels_of' is not defined",
        id="unknown access",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'tools = ["bleeder"]',
        'tools = ["magic"]',
        "jobs/brakes.toml: brakes.caliper: tool 'magic' is not defined",
        id="unknown tool",
    ),
    pytest.param(
        "jobs/brakes.toml",
        'cautions = ["stands"]',
        'cautions = ["dragons"]',
        "jobs/brakes.toml: brakes.caliper: caution 'dragons' is not defined",
        id="unknown caution of a job",
    ),
    pytest.param(
        "access.toml",
        'cautions = ["stands"]',
        'cautions = ["dragons"]',
        "access.toml: wheels_off: caution 'dragons' is not defined",
        id="unknown caution of an access",
    ),
    pytest.param(
        "access.toml",
        'covers = ["raised"]',
        'covers = ["rasied"]',
        "access.toml: wheels_off: access 'rasied' is not defined",
        id="unknown access covered",
    ),
    pytest.param(
        "jobs/brakes.toml",
        "schema_version = 1",
        "schema_version = = 1",
        "jobs/brakes.toml: not TOML: Invalid value (at line 2, column 18)",
        id="not TOML",
    ),
    pytest.param(
        "units.toml",
        "[[unit]]",
        "[unit]",
        "units.toml: unit: has to be a list of tables: write [[unit]]",
        id="one table in place of a list",
    ),
    pytest.param(
        "tools.toml",
        '[[tool]]\nid = "bleeder"\nlabel = "Bleeder"\nprice = [15, 30, 70]\n',
        'tool = ["bleeder"]',
        "tools.toml: tool: has to be a list of tables: write [[tool]]",
        id="list of words in place of tables",
    ),
    pytest.param(
        "jobs/brakes.toml",
        '[[job]]\nid = "brakes.caliper"\n',
        'job_ = 1\n[[job]]\nid = "brakes.caliper"\n',
        "jobs/brakes.toml: brakes.bleed: job_: is not a known field",
        id="stray key after a job belongs to that job",
    ),
    pytest.param(
        "values.toml",
        "value = 1.35",
        "value = 0",
        "values.toml: shop.markup: 0 is out of bounds for a factor",
        id="figure that its unit does not allow",
    ),
    pytest.param(
        "values.toml",
        "value = 1.35",
        "value = 1.35\nrange = [1, 2, 3]",
        "values.toml: shop.markup: : give exactly one of value, range, table and points",
        id="two shapes of one value",
    ),
    pytest.param(
        "values.toml",
        "value = 1.35",
        "points = [[5, 1], [3, 2]]",
        "values.toml: shop.markup: : points: at least two, in ascending order",
        id="curve that runs backwards",
    ),
]


@pytest.mark.parametrize(("name", "before", "after", "words"), BROKEN)
def test_one_broken_thing_is_the_one_thing_reported(
    tmp_path: Path, name: str, before: str, after: str, words: str
) -> None:
    """The words name the file, the entry and the field."""
    text = GOOD[name]
    assert before in text
    broken = {**GOOD, name: text.replace(before, after, 1)}
    found = problems(tmp_path, broken)
    consequences = ("is not defined", "has to be a table with every price class")
    first = [one for one in found if one == words or not one.endswith(consequences)]
    assert first == [words]


def test_a_price_class_without_a_factor_is_refused(tmp_path: Path) -> None:
    head = 'id = "parts.class_factor.tire"'
    start = GOOD["values.toml"].index(head)
    text = GOOD["values.toml"]
    broken = text[:start] + text[start:].replace("van = 1", "vann = 1", 1)
    assert problems(tmp_path, {**GOOD, "values.toml": broken}) == [
        "parts.class_factor.tire: has to be a table with every price class"
    ]


def test_a_missing_area_is_refused(tmp_path: Path) -> None:
    areas = GOOD["areas.toml"]
    end = areas.index("[[area]]", 1)
    assert problems(tmp_path, {**GOOD, "areas.toml": areas[end:]}) == [
        "areas.toml: frame_and_body: is missing"
    ]


def test_every_problem_is_collected_before_anything_is_refused(tmp_path: Path) -> None:
    broken = {
        **GOOD,
        "tools.toml": GOOD["tools.toml"].replace("15, 30", "31, 30"),
        "jobs/brakes.toml": GOOD["jobs/brakes.toml"].replace("0.4, 0.6", "0.7, 0.6"),
    }
    found = problems(tmp_path, broken)
    assert "tools.toml: bleeder: price: low (31) is above likely (30)" in found
    assert "jobs/brakes.toml: brakes.bleed: hours: low (0.7) is above likely (0.6)" in found


def test_the_refusal_says_the_first_problem_and_how_many_more(tmp_path: Path) -> None:
    broken = {**GOOD, "tools.toml": ""}
    broken["units.toml"] = GOOD["units.toml"].replace('"factor"', '"Factor"', 1)
    with pytest.raises(BadReference) as refused:
        read(tmp_path, broken)
    first, *rest = refused.value.problems
    assert rest
    assert str(refused.value) == f"{first.where}: {first.message} (and {len(rest)} more)"


def test_a_job_outside_the_folder_of_jobs_is_refused(tmp_path: Path) -> None:
    stray = GOOD["tools.toml"] + '[[job]]\nid = "stray.job"\n'
    found = problems(tmp_path, {**GOOD, "tools.toml": stray})
    assert "tools.toml: jobs stand in the folder jobs" in found


# --- a person's own file --------------------------------------------------------------------------


def test_an_own_value_takes_the_place_of_the_shipped_one_and_is_called_own(tmp_path: Path) -> None:
    own = '[[value]]\nid = "scrap"\nvalue = 1.5\n'
    value = read(tmp_path, GOOD, own).value("scrap")
    assert value.value == Decimal("1.5")
    assert value.range is None
    assert value.kind is Kind.OWN
    assert value.sources == ()
    assert value.label == "Scrap"


def test_an_own_file_leaves_what_it_does_not_name(tmp_path: Path) -> None:
    own = '[[value]]\nid = "scrap"\nvalue = 1.5\n'
    mine = read(tmp_path, GOOD, own)
    shipped = read_reference(tmp_path)
    assert mine.jobs == shipped.jobs
    assert mine.value("shop.markup") == shipped.value("shop.markup")
    assert shipped.value("scrap").kind is Kind.LAW


def test_an_own_job_changes_only_the_fields_it_gives(tmp_path: Path) -> None:
    own = '[[job]]\nid = "brakes.caliper"\nhours = [1, 2, 3]\n'
    entry = read(tmp_path, GOOD, own).jobs["brakes.caliper"]
    assert entry.job.hours == Range(low=Decimal(1), likely=Decimal(2), high=Decimal(3))
    assert entry.job.access == ("wheels_off",)
    assert entry.provenance.kind is Kind.OWN
    assert entry.file == "mine.toml"


def test_an_own_file_may_add_a_job(tmp_path: Path) -> None:
    own = """
checked_on = 2026-02-28
[[job]]
id = "mine.plough_mount"
label = "Plough mount off"
system = "body_and_paint"
hours = [1, 2, 4]
follows = ["brakes.bleed"]
"""
    reference = read(tmp_path, GOOD, own)
    entry = reference.jobs["mine.plough_mount"]
    assert entry.job.follows == ("brakes.bleed",)
    assert entry.provenance.kind is Kind.OWN
    assert len(reference.jobs) == 3


def test_an_own_file_may_add_a_tool_and_change_an_access(tmp_path: Path) -> None:
    own = """
[[tool]]
id = "lift"
label = "Lift"
price = [10, 20, 30]

[[access]]
id = "raised"
hours = [0.01, 0.02, 0.03]
"""
    reference = read(tmp_path, GOOD, own)
    assert reference.tools["lift"].price.likely == 20
    assert reference.access["raised"].hours.likely == Decimal("0.02")
    assert reference.access["raised"].label == "Car raised"


OWN_BROKEN = [
    pytest.param(
        '[[value]]\nid = "scrapp"\nvalue = 1\n',
        "mine.toml: scrapp: there is no such value to change",
        id="value that does not exist",
    ),
    pytest.param(
        '[[area]]\nid = "roof"\nrate = 0.1\n',
        "mine.toml: roof: there is no such area to change",
        id="area that does not exist",
    ),
    pytest.param(
        '[[unit]]\nid = "furlong"\nlabel = "furlong"\n',
        "mine.toml: furlong: there is no such unit to change",
        id="unit of one's own",
    ),
    pytest.param(
        '[[value]]\nid = "scrap"\nrange = [3, 2, 4]\n',
        "mine.toml: scrap: range: low (3) is above likely (2)",
        id="own value out of order",
    ),
    pytest.param(
        '[[value]]\nid = "scrap"\nvalue = 1\nunit = "furlong"\n',
        "mine.toml: scrap: unit 'furlong' is not defined",
        id="own value with an unknown unit",
    ),
    pytest.param(
        '[[job]]\nid = "brakes.caliper"\nfollows = ["mine.nothing"]\n',
        "mine.toml: brakes.caliper: job that follows 'mine.nothing' is not defined",
        id="own job followed by nothing known",
    ),
    pytest.param(
        '[[job]]\nid = "brakes.caliper"\ncolor = "red"\n',
        "mine.toml: brakes.caliper: color: is not a known field",
        id="own job with an unknown field",
    ),
    pytest.param(
        'checked_on = 2026-02-28\n[[job]]\nlabel = "No name"\n',
        "mine.toml: job: a job has no id",
        id="own job without id",
    ),
    pytest.param(
        'color = "red"\n',
        "mine.toml: unknown key 'color'",
        id="unknown key at the head of an own file",
    ),
    pytest.param(
        '[[value]]\nid = "scrap"\nvalue = 0\n',
        "mine.toml: scrap: 0 is out of bounds for a factor",
        id="own figure that its unit does not allow",
    ),
    pytest.param(
        "value = 3",
        "mine.toml: value: has to be a list of tables: write [[value]]",
        id="own value without its brackets",
    ),
    pytest.param(
        "[[value]\n",
        "mine.toml: not TOML: Expected ']]' at the end of an array declaration "
        "(at line 1, column 8)",
        id="own file that is not TOML",
    ),
]


@pytest.mark.parametrize(("own", "words"), OWN_BROKEN)
def test_a_broken_own_file_is_named_with_entry_and_field(
    tmp_path: Path, own: str, words: str
) -> None:
    assert problems(tmp_path, GOOD, own) == [words]


def test_without_an_own_file_the_shipped_values_hold(tmp_path: Path) -> None:
    assert load_reference(tmp_path / "none.toml") is load_reference()


def test_an_own_file_on_the_disk_is_read_over_the_shipped_values(tmp_path: Path) -> None:
    path = tmp_path / "own_values.toml"
    path.write_text('[[value]]\nid = "shop.parts_markup"\nvalue = 1.1\n', encoding="utf-8")
    mine = load_reference(path)
    assert mine.value("shop.parts_markup").value == Decimal("1.1")
    assert load_reference().value("shop.parts_markup").kind is Kind.COMMON_PRACTICE


def test_an_own_file_that_is_not_text_is_refused_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "own_values.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadReference, match="is not text in UTF-8") as refused:
        load_reference(path)
    assert [one.where for one in refused.value.problems] == [str(path)]


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ('id = "suspect.chance"\nvalue = 1e300', "not between"),
        ('id = "suspect.chance"\nvalue = 1e-30', "not between"),
        ('id = "suspect.chance"\nvalue = 0.3333333333333333', "more than 12 digits"),
        ('id = "suspect.chance"\nvalue = 1.5', "out of bounds for a chance"),
        ('id = "shop.rate"\nrange = [1e-320, 80, 165]', "not between"),
        ('id = "shop.rate"\nrange = [0.001, 80, 165]', "more than 10,000 times low"),
        ('id = "resale.scale"\npoints = [[0, 0.1], [9, 100]]', "out of bounds for a log"),
        ('id = "resale.slope_age_sd"\npoints = [[6, 0], [12, 0]]', "out of bounds for a log"),
        ('id = "shop.hours_a_day"\nvalue = 0', "out of bounds for a hours"),
    ],
)
def test_an_own_figure_beyond_what_its_unit_can_mean_is_refused(figures: str, words: str) -> None:
    with pytest.raises(BadReference) as refused:
        check_own_values(f"[[value]]\n{figures}\n")

    assert words in str(refused.value)
    assert figures.split('"')[1] in str(refused.value)


def test_each_shipped_file_is_read_once_and_the_halves_are_the_whole(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A command that diagnoses reads the catalog, then the rest: no file of either twice."""
    read: list[str] = []
    parse = tomli.loads

    def counted(text: str, **how: Any) -> dict[str, Any]:
        read.append(text)
        out: dict[str, Any] = parse(text, **how)
        return out

    monkeypatch.setattr(tomli, "loads", counted)
    load._load.cache_clear()
    load._shipped.cache_clear()
    in_halves = load_reference().diagnosing()
    whole = [
        file for file in Path(str(load.SHIPPED)).rglob("*.toml") if file.parent.name != load.LISTS
    ]

    assert len(read) == len(set(read)) == len(whole)
    assert in_halves == read_reference(load.SHIPPED).diagnosing()
