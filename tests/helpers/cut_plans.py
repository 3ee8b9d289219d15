"""Cutting plans kept for a session: many tests hand over the same few houses, and a search takes seconds."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from heatloop.handover.cutting.model import CutPiece, CutPlan, CutProgress, CuttingOptions, Offcut, Stock

Search = Callable[..., CutPlan]


def searched_once(search: Search) -> Search:
    """The same search, which answers the same pieces, stock, offcuts and options from memory.

    The answer is that of a new search (`tests/unit/handover/cutting/test_search.py`), and so is what it reports."""
    known: dict[tuple[object, ...], tuple[CutPlan, list[tuple[str, float, float]]]] = {}

    def answered(
        pieces: Iterable[CutPiece],
        stock: Iterable[Stock],
        offcuts: Iterable[Offcut] = (),
        options: CuttingOptions | None = None,
        progress: CutProgress | None = None,
    ) -> CutPlan:
        job = (tuple(pieces), tuple(stock), tuple(offcuts), options)
        if job not in known:
            said: list[tuple[str, float, float]] = []
            known[job] = search(*job, lambda *step: said.append(step)), said
        plan, said = known[job]
        for step in said if progress else ():
            progress(*step)
        return plan

    return answered
