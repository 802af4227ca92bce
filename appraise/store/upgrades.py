"""Documents written by an older version, brought to the present layout as they are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from appraise.errors import NewerSchema
from appraise.store.renamed import renamed_in_3, renamed_in_4, results_of_the_car

__all__ = [
    "CASE_UPGRADES",
    "PREFERENCES_SCHEMA",
    "PREFERENCES_UPGRADES",
    "Document",
    "Upgrade",
    "upgraded",
]

Document = dict[str, Any]
Upgrade = Callable[[Document], Document]
"""Takes a document of one layout and returns it in the next; never changes what it was given."""

PREFERENCES_SCHEMA = 3

CASE_UPGRADES: Mapping[int, Upgrade] = {
    1: lambda document: document,
    2: renamed_in_3,
    3: renamed_in_4,
    4: results_of_the_car,
}
"""By the layout they start from; one for each layout before the present one.

Layout 2 added work, sale, what was really paid and what a finding turned out to be: all of it may
be missing. Layouts 3 and 4 gave ids American names.
"""

PREFERENCES_UPGRADES: Mapping[int, Upgrade] = {1: renamed_in_3, 2: renamed_in_4}


def upgraded(
    document: Document, *, to: int, upgrades: Mapping[int, Upgrade], what: str
) -> Document:
    """Return the document in layout `to`.

    Parameters
    ----------
    document : as stored; its layout is in `schema_version`.
    to : the layout that this program knows.
    upgrades : the step from each older layout to the next.
    what : the document's name in the message, at the start of a sentence.

    Raises
    ------
    NewerSchema : the document's layout is above `to`.
    """
    written_in = document.get("schema_version", 1)
    if not isinstance(written_in, int) or written_in < 1:
        return document  # the model says what is wrong with it
    if written_in > to:
        raise NewerSchema(
            f"{what} was saved by a newer version of this program "
            f"(layout {written_in}; this one knows {to}).",
            where="schema_version",
            hint="Update this program to open it.",
        )
    for layout in range(written_in, to):
        document = upgrades[layout](document) | {"schema_version": layout + 1}
    return document
