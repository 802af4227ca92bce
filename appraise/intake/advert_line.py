"""One line about a car for sale: which of its figures is the year, the distance, the price.

A sign or a unit says what a figure is, then a label before it (`Price: 4150`) or the heading of its
column; four plain digits from 1950 to next year are a year. Order decides only what is left, and
where two readings are left, none is taken.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

__all__ = ["FIRST_YEAR", "Figure", "Order", "Reading", "Role", "read_line", "role_of_heading"]

FIRST_YEAR = 1950
MOST_DISTANCE = 1_000_000
"""Mi or km; our estimate, no published source: what is above was misread."""
MOST_FIGURES = 40
LONGEST_LABEL = 24
SMALL = 100
"""Below, a figure that nothing marks is an engine's size or a count before it is a price."""

CHOOSE = ", or choose the order"
Role = Literal["", "year", "distance", "price", "other"]
ROLES: tuple[Role, ...] = ("year", "distance", "price")
Order = Literal["distance", "price"]
"""Which of the two comes first where nothing marks them."""

DOLLARS = ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN", "CLP", "COP", "ARS")
CODES = ("EUR", "GBP", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK", "JPY", "INR", "ZAR", *DOLLARS)
SIGNS = {"€": "EUR", "euro": "EUR", "£": "GBP", "pound": "GBP", "¥": "JPY", "₹": "INR"}
SPACE = r"[ \u00a0\u2009\u202f]"
SIGN = re.compile(
    r"(?:\b(?:US|C|A))?\$|[€£¥₹]|(?<![a-z])(?:euro|dollar|pound)s?(?![a-z])"
    rf"|(?<![a-z])(?:{'|'.join(CODES)})(?![a-z])",
    re.IGNORECASE,
)
UNIT = re.compile(
    rf"{SPACE}{{0,2}}(?P<unit>miles?|mls|mi|kilomet(?:er|re)s?|kms?)(?![a-z])", re.IGNORECASE
)
KM_BEFORE = re.compile(rf"(?<![a-z\d])km{SPACE}{{0,2}}$", re.IGNORECASE)
OTHER = re.compile(
    rf"%|{SPACE}?-?{SPACE}?(?:hp|bhp|ps|kw|ccm?|l|lit(?:er|re)s?|mpg|doors?|dr|seats?|owners?|keys?"
    r"|months?|years?|yrs?|valves?|cyl\w*|speed|gears?|inch(?:es)?)(?![a-z])",
    re.IGNORECASE,
)
"""What stands behind a figure that is none of the three."""
LABELS: tuple[tuple[Role, re.Pattern[str]], ...] = (
    ("price", re.compile(r"\b(?:price|asking|sold (?:for|at))\W{0,3}$", re.IGNORECASE)),
    (
        "distance",
        re.compile(r"\b(?:mileage|odometer|miles|kilomet(?:er|re)s|km)\s*[:=]\s*$", re.IGNORECASE),
    ),
    ("year", re.compile(r"\byear\s*[:=]?\s*$", re.IGNORECASE)),
)
HEADINGS: tuple[tuple[Role, re.Pattern[str]], ...] = (
    ("price", re.compile(r"\bprice\b|\basking\b|\bamount\b", re.IGNORECASE)),
    ("distance", re.compile(r"\bmileage|odometer|\bmiles?\b|\bmi\b|\bkms?\b|dist", re.IGNORECASE)),
    ("year", re.compile(r"\byear\b", re.IGNORECASE)),
)
JOINED = re.compile(r"\d+(?:[-\u2013]\d+)+|\d{1,2}[./]\d{1,2}[./]\d{2,4}")
"""Days, telephone numbers, spans: their figures are none of the three."""
CENTS = (
    r"(?:\.\d{1,2}(?![.,'\u2019]?\d)|,00(?![.,]?\d)"
    rf"|,\d{{1,2}}(?![.,'\u2019]?\d)(?!{SPACE}\d{{3}}(?!\d)))"
)
"""A comma may also part columns: `$3,021,4 150 mi`."""
GROUPED = (
    rf"\d{{1,2}}(?:,\d{{2}})+,\d{{3}}(?!\d)(?:{CENTS})?"
    r"|[1-9]\d{0,2}(?P<mark>[.,'\u2019])\d{3}(?:(?P=mark)\d{3})*(?!\d)"
    rf"(?!(?!(?P=mark))[.,'\u2019]\d{{3}}(?!\d))(?:{CENTS})?"
    rf"|[1-9]\d{{0,2}}(?P<gap>{SPACE})\d{{3}}(?:(?P=gap)\d{{3}})*(?!\d)"
    rf"(?![.,'\u2019]\d{{3}}(?!\d))(?:{CENTS})?"
)
"""121,000; 121.000,00; 121 000; 121'000; 1,21,000."""
NUMBER = re.compile(
    rf"(?<![a-z\d])(?:(?P<kilo>\d+(?:[.,]\d{{1,3}})?){SPACE}?"
    r"(?:k(?=\s*(?:mi|kms?\b|kilom|[^\w]|$))|t(?=\s?km\b)|thousand\b)"
    rf"|(?P<grouped>{GROUPED})|(?P<plain>\d+(?:{CENTS})?))",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a line, and what marks it.

    Attributes
    ----------
    start, stop : where it stands, its sign and unit included.
    text : as it is written, without them.
    unit : `mi` or `km` of a distance, the ISO 4217 code of a price; empty if none is given.
    """

    start: int
    stop: int
    text: str
    value: Decimal
    role: Role = ""
    unit: str = ""

    def a_year(self, last: int) -> bool:
        """Whether it may be a model year: four plain digits."""
        plain = len(self.text) == len("2010") and self.text.isdigit()
        return plain and FIRST_YEAR <= self.value <= last


@dataclass(frozen=True, slots=True)
class Reading:
    """What a line says.

    Attributes
    ----------
    figures : role to figure; of all three, unless it is not clear.
    unclear : what is missing, or which readings there are; empty if it is clear.
    by_order : whether only the order says which is the distance and which the price.
    """

    figures: dict[Role, Figure]
    unclear: str = ""
    by_order: bool = False


def role_of_heading(text: str) -> tuple[Role, str]:
    """Return what a column is by its heading, and the unit or currency that it names."""
    none: Role = ""
    role = next((role for role, pattern in HEADINGS if pattern.search(text)), none)
    unit = ""
    if role == "distance":
        found = re.search(r"\b(miles?|mi|kms?|kilomet\w+)\b", text, re.IGNORECASE)
        unit = _distance_unit(found[0]) if found else ""
    return role, unit


def read_line(
    parts: list[tuple[str, Role, str]], *, currency: str, last_year: int, order: Order | None
) -> tuple[str, Reading]:
    """Return a line put together from its parts, and what it says.

    Parameters
    ----------
    parts : text, role and unit of each column; one part without a role where there is no heading.
    currency : that a dollar sign stands for, if it is one of dollars.
    last_year : the newest model year that may be.
    order : of what nothing marks, where somebody said it.
    """
    line, figures = "", []
    if sum(len(re.findall(r"\d+", text)) for text, _, _ in parts) > MOST_FIGURES:
        return "", Reading(
            {}, f"holds more than {MOST_FIGURES} figures: leave out what is not needed"
        )
    for text, role, unit in parts:
        figures += [
            replace(one, start=one.start + len(line), stop=one.stop + len(line))
            for one in _figures(text, role, unit, currency, last_year)
        ]
        line += text + "\t"
    return line, _reading(_same_distance_once(figures), last_year, order)


def _distance_unit(text: str) -> str:
    return "km" if text.lower().startswith("k") else "mi"


def _code(sign: str, currency: str) -> str:
    if sign.lower().endswith("$") or sign.lower().startswith("dollar"):
        return currency if currency in DOLLARS else "USD"
    return SIGNS.get(sign.lower().rstrip("s"), sign.upper())


def _value(found: re.Match[str]) -> Decimal:
    if found["kilo"]:
        return Decimal(found["kilo"].replace(",", ".")) * 1000
    if found["plain"]:
        return Decimal(found["plain"].replace(",", "."))
    text = re.sub(r"['\u2019\s]", "", found["grouped"])
    cents = re.search(r"[.,](\d{1,2})$", text)
    whole = text[: cents.start()] if cents else text
    return Decimal(re.sub(r"[.,]", "", whole) + (f".{cents[1]}" if cents else ""))


def _figures(text: str, role: Role, unit: str, currency: str, last_year: int) -> list[Figure]:
    """Return the figures of a part of a line, each with what marks it."""
    masked = JOINED.sub(lambda found: "x" * len(found[0]), text)
    signs = [(one.start(), one.end(), one[0]) for one in SIGN.finditer(masked)]
    for start, stop, _ in signs:
        masked = masked[:start] + "$" * (stop - start) + masked[stop:]
    out: list[Figure] = []
    for found in NUMBER.finditer(masked):
        start, stop = found.span()
        one = Figure(start, stop, found[0].strip(), _value(found))
        after = UNIT.match(masked, stop)
        if after is not None:
            one = replace(
                one, stop=after.end(), role="distance", unit=_distance_unit(after["unit"])
            )
        elif OTHER.match(masked, stop) or re.match(r"0\d", one.text):
            one = replace(one, role="other")
        elif one.value == 0 or masked[stop : stop + 1].isalpha():
            continue
        before = KM_BEFORE.search(masked, 0, start)
        if before is not None and not one.role:
            claimed = bool(out) and out[-1].stop > before.start()
            if claimed and out[-1].a_year(last_year):  # 2011 km 139.000
                out[-1] = replace(out[-1], stop=before.start(), role="", unit="")
                claimed = False
            if not claimed:
                one = replace(one, role="distance", unit="km")
        out.append(one)
    _give_signs(out, masked, signs, currency, last_year)
    return [_labeled(one, masked, role, unit) for one in out]


def _give_signs(
    figures: list[Figure],
    text: str,
    signs: list[tuple[int, int, str]],
    currency: str,
    last_year: int,
) -> None:
    """Give each sign to the figure that it marks; to both beside it if it may mark either."""
    for start, stop, sign in signs:
        left = next((at for at, one in enumerate(figures) if _parted(text, one.stop, start)), None)
        right = next((at for at, one in enumerate(figures) if _parted(text, stop, one.start)), None)
        beside = [at for at in (left, right) if at is not None]
        glued = [at for at in beside if figures[at].stop == start or figures[at].start == stop]
        free = [at for at in beside if figures[at].role not in ("distance", "price")]
        if len(free) > 1 and len(glued) == 1:
            free = glued
        if len(free) > 1 and sign[0].isalpha() and sign.upper() not in CODES:
            free = free[:1]  # 3,950 dollars
        years = [figures[at].a_year(last_year) for at in free]
        if years == [True, False]:
            free = free[1:]
        for at in free or glued:
            one = figures[at]
            figures[at] = replace(
                one,
                start=min(one.start, start),
                stop=max(one.stop, stop),
                role="price",
                unit=_code(sign, currency),
            )


def _parted(text: str, start: int, stop: int) -> bool:
    """Whether nothing but a space or two stands between."""
    return start <= stop and re.fullmatch(rf"{SPACE}{{0,2}}", text[start:stop]) is not None


def _labeled(one: Figure, text: str, role: Role, unit: str) -> Figure:
    if one.role:
        return one
    before = text[max(0, one.start - LONGEST_LABEL) : one.start]
    label = next((name for name, pattern in LABELS if pattern.search(before)), role)
    return replace(one, role=label, unit=unit if label == "distance" else "")


def _same_distance_once(figures: list[Figure]) -> list[Figure]:
    """Leave out a distance that says another one again, in the other unit."""
    out: list[Figure] = []
    for one in figures:
        again = one.role == "distance" and any(
            other.role == "distance"
            and {other.unit, one.unit} == {"mi", "km"}
            and abs(_km(one) / _km(other) - 1) < Decimal("0.01")
            for other in out
            if other.value
        )
        out.append(replace(one, role="other") if again else one)
    return out


def _km(one: Figure) -> Decimal:
    return one.value * (Decimal("1.609344") if one.unit == "mi" else 1)


def _reading(figures: list[Figure], last_year: int, order: Order | None) -> Reading:
    known: dict[Role, Figure] = {}
    for role in ROLES:
        of_role = [one for one in figures if one.role == role]
        if len({(one.value, one.unit) for one in of_role}) > 1:
            one_sign = of_role[0].stop > of_role[1].start
            return Reading({}, (_which if one_sign else _too_many)(role, of_role))
        if of_role:
            known[role] = of_role[0]
    left = [one for one in figures if not one.role]
    missing: list[Role] = [one for one in ("distance", "price") if one not in known]
    if "year" not in known:
        years = [one for one in left if one.a_year(last_year)]
        by_order = order is not None and len(left) == len(missing) + 1
        if len({one.value for one in years}) > 1 and not by_order:
            return Reading({}, _too_many("year", years) + (CHOOSE if missing else ""))
        if not years:
            return Reading({}, f"no year: write four digits, {FIRST_YEAR} to {last_year}")
        known["year"] = years[0]
        left = [one for one in left if one.start != years[0].start and one not in years[1:]]
        if by_order:
            left += years[1:]
            left.sort(key=lambda one: one.start)
    elif known["year"].value != int(known["year"].value) or not known["year"].a_year(last_year):
        return Reading({}, f"no year: write four digits, {FIRST_YEAR} to {last_year}")
    return _rest(known, left, missing, order)


def _rest(
    known: dict[Role, Figure], left: list[Figure], missing: list[Role], order: Order | None
) -> Reading:
    """Return the reading once the year is known: distance and price by what is left."""
    if not missing:
        return _within(known, by_order=False)
    if len(left) > len(missing):
        left = [one for one in left if one.value >= SMALL]
    if len(left) < len(missing):
        wanted = missing[-1] if left else missing[0]
        hint = "its sign" if wanted == "price" else "mi or km"
        return Reading({}, f"no {wanted}: write it with {hint}")
    if len(left) > len(missing):
        return Reading({}, _which(missing[0] if len(missing) == 1 else "price", left))
    both = len(left) > 1
    if both and order is None and left[0].value <= left[1].value:
        return Reading({}, _which("price", left) + CHOOSE)
    in_order = missing[::-1] if both and order == "price" else missing
    return _within(
        known | dict(zip(in_order, left, strict=True)), by_order=not both or order is None
    )


def _within(known: dict[Role, Figure], *, by_order: bool) -> Reading:
    far, price = known["distance"], known["price"]
    if price.value < SMALL:
        return Reading({}, f"a price of {price.text} is less than a car costs")
    if far.value > MOST_DISTANCE:
        return Reading({}, f"{far.value:,.0f} {far.unit or 'mi or km'} is more than a car runs")
    return Reading(known, by_order=by_order)


def _too_many(role: Role, figures: list[Figure]) -> str:
    named = list(dict.fromkeys(one.text for one in figures))
    many = "two" if len(named) == 2 else f"{len(named)}"  # noqa: PLR2004 - two
    return f"{many} {role}s: {' and '.join(named)}; leave one"


def _which(wanted: Role, figures: list[Figure]) -> str:
    mark = "its sign" if wanted == "price" else "mi or km"
    named = [one.text for one in figures[:4]]
    words = f"{', '.join(named[:-1])} or {named[-1]}"
    return f"which is the {wanted}, {words}? Write {mark} beside it"
