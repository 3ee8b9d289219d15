"""Convergence criterion of the alternating solution: the ratio by which successive changes decrease."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TOLERANCE = 5e-10
"""A solve ends when the remaining change of flows (relative) and of temperatures (relative to the largest excess) is at
most this, estimated from the decrease of their changes."""

FAR = 1e100
"""A change beyond this is that of a first step, which is not used to judge convergence."""

FAR_FROM_CONVERGED = 1e-3
"""After a larger change than this the iteration continues, whatever the ratio."""

MAX_SHRUNK = 0.9
"""Minimum rate at which changes are assumed to decrease; the remaining change is the rest of a geometric series."""


def has_converged(first: Array, before: Array, moved: Array, tolerance: float) -> bool:
    """Whether the remaining change is below `tolerance` after three changes (S) that fall as a geometric series.

    The slower of the two ratios is used.
    """
    if moved.max() > FAR_FROM_CONVERGED:
        return False
    ratio = np.maximum(_shrunk(first, before), _shrunk(before, moved))
    return bool((moved * ratio < tolerance * (1.0 - ratio)).all())


def _shrunk(before: Array, moved: Array) -> Array:
    """Ratio of a change to the previous change; small where there is no previous change."""
    ratio = np.minimum(np.minimum(moved, FAR) / np.maximum(before, 1e-200), MAX_SHRUNK)
    return np.asarray(np.where(before < FAR, ratio, MAX_SHRUNK))
