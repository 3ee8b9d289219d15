"""Times of calls side by side, as robust as shared processors allow: process seconds, the least of many rounds."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np


def min_s(rounds: int, *calls: tuple[Callable[[], object], int]) -> list[float]:
    """The least process seconds of each call, all of them by turns, so that a busy moment is everybody's.

    Each comes with how often it is timed in a round.
    """
    best = [np.inf] * len(calls)
    for _ in range(rounds):
        for place, (call, times) in enumerate(calls):
            for _ in range(times):
                start = time.process_time()
                call()
                best[place] = min(best[place], time.process_time() - start)
    return best
