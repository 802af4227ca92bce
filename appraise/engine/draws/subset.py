"""The draws in which something is needed."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mask", "Places", "Rows"]

Mask = NDArray[np.bool_]
Places = NDArray[np.intp]
Floats = NDArray[np.float64]

DENSE = 4
"""What is needed in more than one draw in this many is added in all of them: that is quicker."""


@dataclass(slots=True, eq=False)
class Rows:
    """The draws in which something is needed.

    Attributes
    ----------
    mask : (draws,) where it is needed; never changed.
    kept : whether this very object comes again in the next appraisal, so that it is worth keeping
        what is worked out for it.
    """

    mask: Mask
    kept: bool = False
    _places: Places | None = field(default=None, init=False)
    _many: bool = field(default=False, init=False)

    def places(self) -> Places | None:
        """Return the numbers of the draws, looked for once; None if they are too many to list."""
        if self._places is None and not self._many:
            self._many = int(np.count_nonzero(self.mask)) * DENSE > len(self.mask)
            if not self._many:
                self._places = np.flatnonzero(self.mask)
        return self._places

    def of(self, drawn: Floats) -> Floats:
        """Return the places of these rows alone, or all draws where they are too many to list.

        Parameters
        ----------
        drawn : (lines, draws).

        Returns
        -------
        (lines, places) or `drawn` itself.
        """
        places = self.places()
        return drawn if places is None else drawn.take(places, axis=1)

    @property
    def most_bytes(self) -> int:
        """The most memory that mask and list take together."""
        return len(self.mask) * (1 + np.dtype(np.intp).itemsize // DENSE)

    def __or__(self, other: Rows) -> Rows:
        """Return where either is needed."""
        return self if self is other else Rows(self.mask | other.mask)

    def __sub__(self, other: Rows) -> Rows:
        """Return where this is needed and the other is not."""
        return Rows(self.mask & ~other.mask)
