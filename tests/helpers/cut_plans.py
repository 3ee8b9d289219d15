"""Cutting plans kept for a session: many tests hand over the same few houses, and a search takes seconds."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable, Iterable
from pathlib import Path

from heatloop.handover.cutting.model import CutPiece, CutPlan, CutProgress, CuttingOptions, Offcut, Stock

Search = Callable[..., CutPlan]
Found = tuple[CutPlan, list[tuple[str, float, float]]]
"""A plan, and what its search reported."""


def searched_once(search: Search, folder: Path) -> Search:
    """The same search, which answers the same pieces, stock, offcuts and options from memory, or from a folder where
    another process of this run has searched.

    The answer is that of a new search (`tests/unit/handover/cutting/test_search.py`), and so is what it reports."""
    known: dict[tuple[object, ...], Found] = {}

    def answered(
        pieces: Iterable[CutPiece],
        stock: Iterable[Stock],
        offcuts: Iterable[Offcut] = (),
        options: CuttingOptions | None = None,
        progress: CutProgress | None = None,
    ) -> CutPlan:
        job = (tuple(pieces), tuple(stock), tuple(offcuts), options)
        if job not in known:
            known[job] = _kept(search, job, folder)
        plan, said = known[job]
        for step in said if progress else ():
            progress(*step)
        return plan

    return answered


def _kept(search: Search, job: tuple[object, ...], folder: Path) -> Found:
    """What a search finds, from its file in the folder if it is there."""
    file = folder / f"cuts-{hashlib.sha256(repr(job).encode()).hexdigest()}"
    if file.is_file():
        found: Found = pickle.loads(file.read_bytes())
        return found
    said: list[tuple[str, float, float]] = []
    found = search(*job, lambda *step: said.append(step)), said
    own = file.with_suffix(f".{os.getpid()}")
    own.write_bytes(pickle.dumps(found))
    own.replace(file)  # whole or not there, for a process that looks meanwhile
    return found
