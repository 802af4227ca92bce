"""What was seen of a car, as evidence: signs of faults, and what speaks for or against each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.care import Care
from appraise.engine.faults.rates import CarFault
from appraise.engine.faults.results import said_by
from appraise.engine.papers.evidence import claim_factors
from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.reference.schema import CodeGroup, Symptom
from appraise.reference.signs import is_sign, signs_named

__all__ = [
    "Seen",
    "Sign",
    "Speaks",
    "best_look",
    "seen_on",
    "sign_of",
]

LEAST_ELSE = 0.02
"""Share of a sign that is always left to something else."""
NEVER, SURE = 1e-6, 1.0


@dataclass(frozen=True, slots=True)
class Sign:
    """Something that was seen and that faults bring about.

    Attributes
    ----------
    name : the phenomenon, or the sign's own id.
    labels : the words for it, each once.
    findings : ids of those that name it; none for the result of a check.
    links : by fault, the chance that it shows this.
    leak : chance that it is seen where no fault that is listed shows it.
    nothing : share of that which is nothing to repair; the rest is something else.
    """

    name: str
    labels: tuple[str, ...]
    findings: tuple[str, ...]
    area: Area
    severity: Severity | None
    links: Mapping[str, float]
    leak: float
    nothing: float = 0.0


@dataclass(frozen=True, slots=True)
class Speaks:
    """Something that speaks for or against a fault without being a sign of it.

    Attributes
    ----------
    factor : how many times likelier it is if the fault is there.
    """

    label: str
    factor: float


@dataclass(slots=True)
class Seen:
    """All that was seen.

    Attributes
    ----------
    speaks : by fault.
    proved : by fault, whether it turned out to be there or not.
    looks : by area that was inspected, how, and the chance that this finds a fault there.
    stated : by area, chance of each fault that a person states there, with jobs or own causes.
    """

    signs: list[Sign] = field(default_factory=list)
    speaks: defaultdict[str, list[Speaks]] = field(default_factory=lambda: defaultdict(list))
    proved: dict[str, bool] = field(default_factory=dict)
    looks: dict[Area, tuple[Look, float]] = field(default_factory=dict)
    stated: defaultdict[Area, list[float]] = field(default_factory=lambda: defaultdict(list))
    problems: list[Problem] = field(default_factory=list)


def best_look(
    findings: Iterable[Finding], found: Mapping[Look, object]
) -> tuple[Look, float] | None:
    """Return the look that finds most among those made, and the chance that it finds a fault."""
    looks = {
        finding.look or Look.GLANCE
        for finding in findings
        if finding.state is not State.NOT_LOOKED_AT
    }
    rated = [(float(str(found.get(look, 0))), look) for look in sorted(looks)]
    return max(rated)[::-1] if rated else None


def sign_of(
    named: Symptom | CodeGroup, faults: Mapping[str, CarFault], lookup: Lookup
) -> tuple[dict[str, float], float]:
    """Return by fault the chance that it shows a sign, and the chance that something else does.

    What the shares leave to 1 is something else's: alone, the sign has it with that share on any
    car. Faults that this car cannot have are left out, and all others keep their proportions.
    """
    links = {
        one.cause: lookup.entry("shows.chance", one.shows.value)
        for one in named.causes
        if one.cause in faults and one.shows is not None
    }
    listed = float(sum(one.share for one in named.causes))
    fitting = float(sum(one.share for one in named.causes if one.cause in links))
    if not fitting:
        return {}, 0.0
    shown = sum(faults[cause].rate * chance for cause, chance in links.items())
    return links, min(0.5, shown * max(1 - listed, LEAST_ELSE) / fitting)


def _signs(case: Case, faults: Mapping[str, CarFault], lookup: Lookup) -> Iterator[Sign]:
    """Yield the signs, words for one phenomenon taken together."""
    pooled: defaultdict[str, list[tuple[Finding, Symptom | CodeGroup]]] = defaultdict(list)
    for finding in case.findings:
        if is_sign(finding, lookup.reference) and not _refuted(finding):
            for named in signs_named(finding, lookup.reference):
                pooled[named.phenomenon or named.id].append((finding, named))
    care = Care.of(lookup.number("care.shape"))
    for name, words in sorted(pooled.items()):
        seen = sorted(words, key=lambda one: (one[0].id, one[1].id))
        links, leak = _taken_together({named.id: named for _, named in seen}, faults, lookup)
        links |= {cause: SURE for finding, _ in seen if (cause := _proved(finding, faults))}
        if not links:
            continue
        chance = max(_chance(finding, lookup) for finding, _ in seen)
        missed = np.prod([1 - q * care.has(faults[one].rate) for one, q in links.items()], axis=0)
        real = float(care.before @ (1 - (1 - leak) * missed))
        wrong = min(1.0, real * (1 - chance) / max((1 - real) * chance, NEVER * real))
        both = 1 - (1 - leak) * (1 - wrong)
        first = seen[0][0]
        yield Sign(
            name=name,
            labels=tuple(dict.fromkeys(finding.label or _label(named) for finding, named in seen)),
            findings=tuple(dict.fromkeys(finding.id for finding, _ in seen)),
            area=first.area,
            severity=first.severity,
            links=links,
            leak=both,
            nothing=wrong * (1 - leak) / both if both else 0.0,
        )


def _taken_together(
    words: Mapping[str, Symptom | CodeGroup], faults: Mapping[str, CarFault], lookup: Lookup
) -> tuple[dict[str, float], float]:
    """Return what `sign_of` does of several words for one phenomenon: of the most telling one.

    That is the word of which one fault has the largest share, the first by its id of several.
    """
    telling = sorted(words.values(), key=lambda one: (-max(x.share for x in one.causes), one.id))
    for word in telling:
        links, leak = sign_of(word, faults, lookup)
        if links:
            return links, leak
    return {}, 0.0


def _label(named: Symptom | CodeGroup) -> str:
    return named.label if isinstance(named, Symptom) else named.codes[0].label


def _refuted(finding: Finding) -> bool:
    return finding.truth is not None and not finding.truth.fault


def _proved(finding: Finding, faults: Mapping[str, CarFault]) -> str | None:
    """Return the fault that a finding turned out to be, if this car can have it."""
    truth = finding.truth
    return truth.cause if truth is not None and truth.fault and truth.cause in faults else None


def _chance(finding: Finding, lookup: Lookup) -> float:
    """Return the chance that what a finding names is really so."""
    if finding.truth is not None:
        return SURE
    if finding.chance is not None:
        return float(finding.chance)
    return lookup.number("suspect.chance") if finding.state is State.SUSPECT else SURE


def seen_on(case: Case, faults: Mapping[str, CarFault], lookup: Lookup) -> Seen:
    """Return all that was seen of a car as evidence for and against its faults.

    Raises
    ------
    BadCase
        A result names a check or an outcome that does not exist.
    """
    seen = Seen(signs=list(_signs(case, faults, lookup)))
    absent: defaultdict[str, dict[str, Symptom | CodeGroup]] = defaultdict(dict)
    for symptom_id in sorted(set(case.not_seen) & lookup.reference.symptoms.keys()):
        symptom = lookup.reference.symptoms[symptom_id]
        absent[symptom.phenomenon or symptom.id][symptom.id] = symptom
    for words in absent.values():
        label = f"not there: {'; '.join(map(_label, words.values()))}"
        for cause, chance in _taken_together(words, faults, lookup)[0].items():
            seen.speaks[cause].append(Speaks(label, 1 - chance))
    _take_findings(case, faults, seen, lookup)
    _take_results(case, faults, seen, lookup)
    _take_looks(case, faults, seen, lookup)
    return seen


def _take_looks(case: Case, faults: Mapping[str, CarFault], seen: Seen, lookup: Lookup) -> None:
    """Take in what was inspected; a fault that anything speaks of takes a fine area by itself."""
    spoken = [cause for sign in seen.signs for cause in sign.links]
    spoken += [cause for cause in seen.speaks if cause in faults]
    for area, known in lookup.reference.areas.items():
        here = [one for one in case.findings if one.area is area]
        look = best_look(here, known.found)
        if look is None:
            continue
        seen.looks[area] = look
        if not any(one.trouble for one in here):
            missed = Speaks(f"{known.label}: inspected, fine", 1 - look[1])
            for cause in dict.fromkeys(spoken):
                if faults[cause].area is area:
                    seen.speaks[cause].append(missed)


def _take_findings(case: Case, faults: Mapping[str, CarFault], seen: Seen, lookup: Lookup) -> None:
    """Take in what papers say, what turned out, and what a person states outright."""
    papers = claim_factors(case, lookup)
    said: defaultdict[str, list[float]] = defaultdict(list)
    for finding in case.findings:
        if not finding.trouble:
            continue
        if not is_sign(finding, lookup.reference):
            if not _refuted(finding):
                seen.stated[finding.area].append(_chance(finding, lookup))
            continue
        for claimed, factor in papers.get(finding.id, {}).items():
            said[claimed].append(factor)
        if cause := _proved(finding, faults):
            seen.proved[cause] = True
    for cause, factors in said.items():
        if cause in faults:
            factor = max(1.0, *factors) * min(1.0, *factors)
            seen.speaks[cause].append(Speaks("papers", factor))


def _own_causes(case: Case, lookup: Lookup) -> dict[str, float]:
    """Return by id the chance of each cause that a person states: results speak of it there."""
    return {
        cause.id: _chance(finding, lookup) * float(cause.chance)
        for finding in case.findings
        if finding.trouble and not _refuted(finding)
        for cause in finding.causes
    }


def _take_results(case: Case, faults: Mapping[str, CarFault], seen: Seen, lookup: Lookup) -> None:
    checks = lookup.reference.checks if case.results else {}
    last = {result.check: result for result in case.results}
    stated = _own_causes(case, lookup)
    for result in last.values():
        check = checks.get(result.check)
        if check is None:
            raise BadCase(
                (Problem("results.check", f"there is no check {result.check!r}", "stop"),)
            )
        if result.outcome not in check.outcomes:
            known = ", ".join(check.outcomes)
            message = f"{check.label} has no outcome {result.outcome!r}: it is one of {known}"
            raise BadCase((Problem("results.outcome", message, "stop"),))
        said, label = said_by(check, result.outcome), f"{check.label}: {result.outcome}"
        for cause, factor in said.factors.items():
            if cause in faults and cause not in stated:
                seen.speaks[cause].append(Speaks(label, factor))
        links = {one: q for one, q in said.links.items() if one in faults and one not in stated}
        spared = np.prod([1 - q * stated.get(one, 0.0) for one, q in said.links.items()])
        if links:
            seen.signs.append(
                Sign(
                    name=f"check {check.id}",
                    labels=(label,),
                    findings=(),
                    area=faults[next(iter(links))].area,
                    severity=None,
                    links=links,
                    leak=1 - (1 - said.leak) * float(spared),
                    nothing=1.0,
                )
            )
