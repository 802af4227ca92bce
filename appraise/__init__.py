"""Judge a used car with faults before bidding on it.

The public names are made available on demand, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from appraise.models.case import Case
    from appraise.services import appraise_case, load_case_file, read_case, reference_values

__all__ = ["Case", "appraise_case", "load_case_file", "read_case", "reference_values"]

_HOMES = {"Case": "appraise.models.case"}


def __getattr__(name: str) -> Any:  # noqa: ANN401
    """Return a public name, importing its module when first asked for."""
    if name in __all__:
        return getattr(import_module(_HOMES.get(name, "appraise.services")), name)
    raise AttributeError(f"module 'appraise' has no attribute {name!r}")
