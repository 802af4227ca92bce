"""What the papers of a car prove, as text."""

from __future__ import annotations

from appraise.engine.papers.examined import Examined
from appraise.errors import one_line
from appraise.models.case import Case

__all__ = ["papers_page"]


def papers_page(case: Case, found: Examined) -> str:
    """Return contradictions first, then each paper with what it proves, then the odometer."""
    lines = [f"{one_line(case.title)}: {len(case.papers)} papers"]
    lines += [
        f"{'-' if one.weight == 'note' else '!'} {one_line(one.words)}" for one in found.problems
    ]
    labels = {one.id: one.called for one in case.findings}
    for paper in case.papers:
        dated = f", {paper.dated}" if paper.dated else ""
        issuer = f", {one_line(paper.issuer)}" if paper.issuer else ""
        lines += ["", f"{paper.kind.value.replace('_', ' ')}{dated}{issuer}"]
        mine = [one for one in found.strengths if one.paper == paper.id]
        for one in mine:
            about = one_line(labels.get(one.claim.finding, one.claim.finding))
            lines.append(f"  on {about}: {one.words} (factor {one.ratio:.1f})")
            lines.append(f"    {'; '.join(one.reasons)}")
        if not mine:
            lines.append("  speaks to no finding")
    lines += ["", "in hand before money moves:"]
    lines += [f"  [{'x' if one.state == 'done' else ' '}] {one.label}" for one in found.in_hand]
    lines += ["", "odometer by day:"]
    lines += [f"  {one_line(one.words)}" for one in found.odometer.readings]
    return "\n".join(lines)
