"""Cutting pieces from stock lengths and offcuts on hand, with the least new stock.

Conventions
    Every piece ends with a saw cut of one kerf, so n pieces take n cuts; the last cut is not made where the
    last piece ends at the end of the bar, and is no longer than the remainder where that is less than a
    kerf. `end_trim_mm` is taken off both ends of every new bar, its own saw cut included. Offcuts on hand
    are squared already and are not trimmed. From the left a bar is: trim, piece, kerf, piece, kerf ...
    piece, kerf, remainder, trim. A remainder of `min_offcut_mm` or more is a usable offcut, a shorter one
    is waste. Lengths balance: pieces + kerf + trims + offcuts + waste = stock, to 1e-9 mm.

Grid
    Lengths are taken to the nearest 1e-6 mm. The search works on a grid of 0.1 mm: piece with its kerf rounded up, bar
    rounded down, so that a plan can always be cut. Where all lengths are on the grid, the result is exact. `goal` and
    `lower_bound` count stock lengths to the nearest 0.1 mm.

Least of what
    "least stock" minimises the metres of new stock, "fewest bars" the number of new bars, "least cost" their
    cost. Offcuts on hand are free; each exists once and may remain unused.
    Plans that are equal in this are ranked by less new stock, then less waste (trims included), then
    fewer bars.

Method and sources: see `heatloop.handover.cutting.search`.
"""

from __future__ import annotations

import math
import time
from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from heatloop.handover.cutting.model import (
    GOALS,
    Bar,
    Cut,
    CutPiece,
    CutPlan,
    CutProgress,
    CuttingOptions,
    Offcut,
    Stock,
)
from heatloop.handover.cutting.patterns import BarType, CutProblem, Pattern
from heatloop.handover.cutting.search import SearchResult, search

NM_PER_MM = 1_000_000

GRID_NM = 100_000

COST_STEPS = 10_000
"""Costs are compared to this part of the currency unit."""


def plan_cuts(
    pieces: Iterable[CutPiece],
    stock: Iterable[Stock],
    offcuts: Iterable[Offcut] = (),
    options: CuttingOptions | None = None,
    progress: CutProgress | None = None,
) -> CutPlan:
    """Plan of bars that yields every piece once, with the least new stock (or bars, or cost).

    Lengths in mm. The result is reproducible unless the time limit ends the search. Every piece must fit a new bar of
    its grain. Raises ValueError, with all errors in one line: a length that is not finite and above 0; a negative
    allowance; a grain without stock; a piece longer than any stock of its grain; a repeated stock length or offcut
    label; a missing cost where cost is requested.

    >>> plan = plan_cuts([CutPiece("A", 2400), CutPiece("B", 1500), CutPiece("C", 2000)], [Stock(4000), Stock(6000)])
    >>> [(bar.length_mm, [cut.label for cut in bar.cuts]) for bar in plan.bars]
    [(6000.0, ['A', 'C', 'B'])]
    >>> plan.proved, plan.new_stock_mm, plan.waste_mm
    (True, 6000.0, 91.0)
    """
    started = time.monotonic()
    options = options or CuttingOptions()
    pieces, stock = tuple(pieces), tuple(stock)
    offcuts = tuple(offcuts)
    faults = [*_option_faults(options), *_list_faults(pieces, stock, offcuts, options)]
    if not faults:
        faults = _fit_faults(pieces, stock, options)
    if faults:
        raise ValueError("cutting list: " + "; ".join(faults))
    on_hand = offcuts if options.use_offcuts else ()
    bars: list[Bar] = []
    results: list[SearchResult] = []
    waiting = len(pieces)
    for grain in sorted({piece.grain for piece in pieces}):
        job = _job(grain, pieces, stock, on_hand, options)
        share = len(job.pieces) / waiting
        waiting -= len(job.pieces)
        limit_s = max(0.0, options.time_limit_s - (time.monotonic() - started)) * share
        result = search(job.problem, limit_s, options.relative_gap, _teller(grain, options, progress))
        bars += _bars(job, result.plan, options)
        results.append(result)
    return _plan(bars, results, _material_bound_mm(pieces, on_hand), stock, options, time.monotonic() - started)


@dataclass(frozen=True)
class _Job:
    """One grain: its pieces (longest first), the problem in grid units, and the bars of each bar kind."""

    grain: str
    pieces: tuple[CutPiece, ...]
    problem: CutProblem
    bars: tuple[tuple[int, tuple[str, ...]], ...]


def _nm(length_mm: float) -> int:
    return round(length_mm * NM_PER_MM)


def _weight(length_mm: float, options: CuttingOptions) -> int:
    """Length of a piece with its kerf on the grid, rounded up."""
    return -(-(_nm(length_mm) + _nm(options.kerf_mm)) // GRID_NM)


def _capacity(net_nm: int, options: CuttingOptions) -> int:
    """Length of a bar between its trims, with one kerf, on the grid, rounded down."""
    return (net_nm + _nm(options.kerf_mm)) // GRID_NM


def _job(
    grain: str,
    pieces: Sequence[CutPiece],
    stock: Sequence[Stock],
    offcuts: Sequence[Offcut],
    options: CuttingOptions,
) -> _Job:
    own = tuple(sorted((p for p in pieces if p.grain == grain), key=lambda p: -_nm(p.length_mm)))
    tally = Counter(_weight(p.length_mm, options) for p in own)
    kinds: list[BarType] = []
    bars: list[tuple[int, tuple[str, ...]]] = []
    trim = 2 * _nm(options.end_trim_mm)
    for item in sorted((s for s in stock if s.grain == grain), key=lambda s: s.length_mm):
        length = _nm(item.length_mm)
        room = _capacity(length - trim, options)
        if room >= min(tally):
            cost = round((item.cost or 0.0) * COST_STEPS)
            span = round(length / GRID_NM)
            goal = {"least stock": span, "fewest bars": 1, "least cost": cost}[options.prefer]
            kinds.append(BarType(room, goal, span, trim // GRID_NM, 0))
            bars.append((length, ()))
    for length in sorted({_nm(o.length_mm) for o in offcuts if o.grain == grain}):
        room = _capacity(length, options)
        if room >= min(tally):
            labels = sorted(o.label for o in offcuts if o.grain == grain and _nm(o.length_mm) == length)
            kinds.append(BarType(room, 0, 0, 0, len(labels)))
            bars.append((length, tuple(labels)))
    weights = tuple(sorted(tally, reverse=True))
    keep = -(-_nm(options.min_offcut_mm) // GRID_NM)
    kerf = -(-_nm(options.kerf_mm) // GRID_NM)
    problem = CutProblem(weights, tuple(tally[w] for w in weights), tuple(kinds), kerf, keep)
    return _Job(grain, own, problem, tuple(bars))


def _bars(job: _Job, plan: Sequence[Pattern], options: CuttingOptions) -> list[Bar]:
    """Pieces and offcut labels assigned to the bars of a plan: new bars first, long ones first, equal ones together."""
    waiting = {w: deque(p for p in job.pieces if _weight(p.length_mm, options) == w) for w in job.problem.weights}
    labels = {kind: deque(names) for kind, (_, names) in enumerate(job.bars)}
    order = sorted(plan, key=lambda p: (bool(labels[p[0]]), -job.bars[p[0]][0], tuple(-n for n in p[1])))
    kerf = _nm(options.kerf_mm)
    out: list[Bar] = []
    for kind, counts in order:
        length = job.bars[kind][0]
        label = labels[kind].popleft() if labels[kind] else ""
        trim = 0 if label else _nm(options.end_trim_mm)
        at = trim
        end = length - trim
        sawn = 0
        cuts: list[Cut] = []
        for weight, count in zip(job.problem.weights, counts, strict=True):
            for _ in range(count):
                piece = waiting[weight].popleft()
                size = _nm(piece.length_mm)
                cuts.append(Cut(piece.label, at / NM_PER_MM, size / NM_PER_MM))
                cut = min(kerf, end - at - size)
                sawn += cut
                at += size + cut
        left = end - at
        usable = left > 0 and left >= _nm(options.min_offcut_mm)
        parts_mm = (length / NM_PER_MM, job.grain, label, tuple(cuts))
        out.append(Bar(*parts_mm, sawn / NM_PER_MM, 2 * trim / NM_PER_MM, left / NM_PER_MM, usable))
    return out


def _plan(
    bars: Sequence[Bar],
    results: Sequence[SearchResult],
    material_mm: float,
    stock: Sequence[Stock],
    options: CuttingOptions,
    seconds: float,
) -> CutPlan:
    unit = _goal_unit(options)
    goal = sum(r.goal for r in results)
    bound = sum(r.bound for r in results)
    gap = (goal - bound) / goal if goal else 0.0
    new = [bar for bar in bars if not bar.offcut_label]
    price = {(_nm(s.length_mm), s.grain): s.cost for s in stock}
    costs = [price[_nm(bar.length_mm), bar.grain] for bar in new]
    return CutPlan(
        bars=tuple(bars),
        prefer=options.prefer,
        stock_mm=math.fsum(bar.length_mm for bar in bars),
        pieces_mm=math.fsum(cut.length_mm for bar in bars for cut in bar.cuts),
        kerf_mm=math.fsum(bar.kerf_mm for bar in bars),
        trims_mm=math.fsum(bar.trim_mm for bar in bars),
        offcuts_mm=math.fsum(bar.remainder_mm for bar in bars if bar.usable),
        waste_mm=math.fsum(bar.remainder_mm for bar in bars if not bar.usable),
        new_stock_mm=math.fsum(bar.length_mm for bar in new),
        new_bars=len(new),
        cost=None if None in costs else math.fsum(c for c in costs if c is not None),
        goal=goal / unit,
        lower_bound=bound / unit,
        lower_bound_mm=bound / unit if options.prefer == "least stock" else material_mm,
        gap=gap,
        proved=goal == bound,
        seconds=seconds,
        message=_message(options, goal / unit, bound / unit, gap, any(r.timed_out for r in results)),
    )


def _message(options: CuttingOptions, goal: float, bound: float, gap: float, timed_out: bool) -> str:
    total = f"{goal:.10g} {GOALS[options.prefer]}"
    if goal == bound:
        ties = "; stopped at the time limit, so that another run may lay the same bars out otherwise"
        return f"{total}: proved: no plan needs less stock{ties if timed_out else ''}"
    stopped = "stopped at the time limit" if timed_out else "stopped within the requested gap"
    if not timed_out and gap > options.relative_gap:
        stopped = "too many patterns for a proof in so many steps"
    return f"{total}: at most {100 * gap:.2f} % above the least possible ({bound:.10g} or more); {stopped}"


def _goal_unit(options: CuttingOptions) -> int:
    return {"least stock": NM_PER_MM // GRID_NM, "fewest bars": 1, "least cost": COST_STEPS}[options.prefer]


def _material_bound_mm(pieces: Sequence[CutPiece], offcuts: Sequence[Offcut]) -> float:
    """Length of the pieces less that of the offcuts, grain by grain."""
    total = 0
    for grain in {p.grain for p in pieces}:
        required = sum(_nm(p.length_mm) for p in pieces if p.grain == grain)
        total += max(0, required - sum(_nm(o.length_mm) for o in offcuts if o.grain == grain))
    return total / NM_PER_MM


def _teller(grain: str, options: CuttingOptions, progress: CutProgress | None) -> Callable[[str, int, int], None]:
    unit = _goal_unit(options)

    def report(doing: str, goal: int, bound: int) -> None:
        if progress is not None:
            progress(f"{grain}: {doing}" if grain else doing, goal / unit, bound / unit)

    return report


def _wrong(value: object, minimum: float, above: bool) -> bool:
    """True for a value that is not a finite number, or is below `minimum` (or equal to it, where it must be above)."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return True
    return value < minimum or (above and value == minimum)


def _option_faults(options: CuttingOptions) -> list[str]:
    faults = [
        f"{name} is {value!r}, must be a finite number of 0 or more"
        for name, value in (
            ("kerf_mm", options.kerf_mm),
            ("min_offcut_mm", options.min_offcut_mm),
            ("end_trim_mm", options.end_trim_mm),
        )
        if _wrong(value, 0.0, above=False)
    ]
    if not isinstance(options.prefer, str) or options.prefer not in GOALS:
        faults.append(f"prefer is {options.prefer!r}, must be one of {', '.join(map(repr, GOALS))}")
    if _wrong(options.time_limit_s, 0.0, above=True):
        faults.append(f"time_limit_s is {options.time_limit_s!r}, must be a finite number above 0")
    if _wrong(options.relative_gap, 0.0, above=False) or options.relative_gap >= 1.0:
        faults.append(f"relative_gap is {options.relative_gap!r}, must be 0 or more and below 1")
    return faults


def _list_faults(
    pieces: Sequence[CutPiece], stock: Sequence[Stock], offcuts: Sequence[Offcut], options: CuttingOptions
) -> list[str]:
    named = [
        *((f"piece {p.label!r}", p.length_mm) for p in pieces),
        *((f"stock {n}", s.length_mm) for n, s in enumerate(stock, 1)),
        *((f"offcut {o.label!r}", o.length_mm) for o in offcuts),
    ]
    faults = [
        f"{name}, length_mm is {value!r}, must be a finite length above 0"
        for name, value in named
        if _wrong(value, 0.0, above=True)
    ]
    for n, item in enumerate(stock, 1):
        if not _wrong(item.length_mm, 0.0, above=True) and item.length_mm <= 2.0 * options.end_trim_mm:
            faults.append(f"stock {n}, length_mm is {item.length_mm!r}, must be more than the two end trims")
        if item.cost is None and options.prefer == "least cost":
            faults.append(f"stock {n}, cost is missing, required for 'least cost'")
        if item.cost is not None and _wrong(item.cost, 0.0, above=True):
            faults.append(f"stock {n}, cost is {item.cost!r}, must be a finite cost above 0")
    twice = [k for k, n in Counter((s.length_mm, s.grain) for s in stock).items() if n > 1]
    faults += [f"stock of {length:g} mm{_of(grain)} is listed twice, must be listed once" for length, grain in twice]
    for label, n in Counter(o.label for o in offcuts).items():
        if n > 1 or not label:
            faults.append(f"offcut label {label!r} is given {n} times, must be a different label for each offcut")
    return faults


def _fit_faults(pieces: Sequence[CutPiece], stock: Sequence[Stock], options: CuttingOptions) -> list[str]:
    faults: list[str] = []
    for grain in sorted({p.grain for p in pieces}):
        rooms = [s for s in stock if s.grain == grain]
        if not rooms:
            faults.append(f"no stock{_of(grain) or ' without a grain'}, at least one length is required")
            continue
        longest_mm = max(s.length_mm for s in rooms)
        room = _capacity(_nm(longest_mm) - 2 * _nm(options.end_trim_mm), options)
        max_mm = max(0, room * GRID_NM - _nm(options.kerf_mm)) / NM_PER_MM
        faults += [
            f"piece {p.label!r} is {p.length_mm:.10g} mm, longer than any stock{_of(grain)}, "
            f"must be {max_mm:.10g} mm or less ({longest_mm:.10g} mm less the end trims, to 0.1 mm)"
            for p in pieces
            if p.grain == grain and _weight(p.length_mm, options) > room
        ]
    return faults


def _of(grain: str) -> str:
    return f" of grain {grain!r}" if grain else ""
