"""The least stock that yields all pieces: first plan, lower bound, and the search between the two.

1. First plans by first-fit-decreasing and by best fills, so that there is always a plan.
2. A lower bound by column generation: the linear relaxation over patterns (Gilmore and Gomory, Operations Research
   9 (1961) 849 and 11 (1963) 863), each new pattern from a knapsack, solved with HiGHS through `scipy`. The bound
   is taken from the prices themselves (Farley, Operations Research 38 (1990) 922), so it holds at every step, and
   is raised to the next sum that whole bars can make.
3. A plan better than the best one known can only hold patterns whose reduced cost is within the distance between
   plan and bound. Where all of these can be listed, a set-partitioning program over them (`scipy.optimize.milp`)
   settles the question exactly; where they are too many, the program runs over the most promising ones and
   the distance that is left is reported.
4. Among plans that are equal in what was asked for: least new stock, then least waste, then fewest bars.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_matrix, vstack

from heatloop.handover.cut_patterns import (
    CutProblem,
    Pattern,
    best_fill,
    best_fit_by_value,
    first_fit,
    list_patterns,
    reachable_sums,
    without_surplus,
)

LISTED = 20_000
"""Most patterns a whole-number program is given; beyond it the search is no longer exact by itself."""
LISTED_TIES = 5_000
"""Most patterns for the tie-break between plans of equal goal."""
SMALL = 40
"""Up to so many different lengths the prices are always brought to their optimum, for the tie-break."""
DAMPING = 0.5
"""Share of the best prices so far in the prices a pattern is sought for."""
TIE_NODES = 2_000
"""Most branch-and-bound nodes for each tie-break (a count, not a time, so that it repeats)."""
MASK_BITS = 20_000_000
"""Most steps of the table of sums that bars can make; beyond it only multiples of the unit are used."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, the goal of the best plan so far and the lower bound (problem units)."""
Row = tuple[NDArray[np.float64], int, int]


@dataclass(frozen=True)
class SearchResult:
    """Bars of the plan, its goal, a lower bound of the goal, and whether time ran out."""

    plan: tuple[Pattern, ...]
    goal: int
    bound: int
    timed_out: bool


@dataclass(frozen=True)
class Relaxation:
    """Prices of the pieces (in units of `scale`), what each kind can be worth at them, bound and columns."""

    prices: tuple[float, ...]
    worth: tuple[float, ...]
    bound: float
    columns: tuple[Pattern, ...]
    scale: int


@dataclass(frozen=True)
class Sums:
    """The goals that whole bars can add up to."""

    unit: int
    mask: int
    top: int

    def at_least(self, value: float) -> int:
        """Least reachable sum not below `value` (less a millionth, for rounding)."""
        step = max(0, math.ceil((value * (1.0 - 1e-9) - 1e-6) / self.unit))
        if not self.mask or step * self.unit > self.top:
            return step * self.unit
        rest = self.mask >> step
        return (step + (rest & -rest).bit_length() - 1) * self.unit if rest else self.top

    def below(self, value: int) -> int:
        """Greatest reachable sum below `value`, or -1."""
        step = (value - 1) // self.unit
        if not self.mask or step < 0:
            return step * self.unit if step >= 0 else -1
        return ((self.mask & ((1 << (step + 1)) - 1)).bit_length() - 1) * self.unit


def search(problem: CutProblem, time_limit_s: float, gap: float, progress: Progress) -> SearchResult:
    """Best plan for the problem within the time limit, with a lower bound of its goal.

    Stops at the relative `gap` asked for (0: only when no better plan can exist). Every step is deterministic;
    only the time limit can make two runs differ.
    """
    deadline = time.monotonic() + time_limit_s
    plan = first_fit(problem)
    progress("first plan", problem.goal(plan), 0)
    pool = list(plan)
    for exponent in (1.0, 1.05, 1.2, 1.5):
        if time.monotonic() > deadline:
            break
        other = best_fit_by_value(problem, exponent)
        pool += other
        plan = min(plan, other, key=problem.goal)
    goal = problem.goal(plan)
    sums = _reachable(problem, goal)

    def near_enough(value: float) -> bool:
        lower = sums.at_least(value)
        progress("bound", goal, lower)
        return len(problem.weights) > SMALL and goal - lower <= gap * goal

    relaxed = _relax(problem, pool, deadline, near_enough)
    bound = min(goal, sums.at_least(relaxed.bound))
    progress("bound", goal, bound)
    timed_out = False
    while goal - bound > gap * goal and not timed_out:
        target = sums.below(goal)
        if target < bound:
            bound = goal
            break
        listed = _within(problem, relaxed, target, LISTED)
        columns = listed or relaxed.columns
        goals = _each(columns, lambda p: problem.kinds[p[0]].goal)
        found, lower = _choose(
            problem, columns, goals, [(goals, bound, target)], listed is not None, gap, deadline
        )
        if listed is not None:
            bound = min(goal, max(bound, sums.at_least(lower)))
        if found:
            plan = without_surplus(problem, found)
            goal = problem.goal(plan)
            bound = min(goal, bound)
        timed_out = time.monotonic() > deadline
        progress("whole bars", goal, bound)
        if not found:
            break
    plan = _tidy(problem, relaxed, plan, deadline)
    return SearchResult(tuple(plan), goal, bound, timed_out)


def _reachable(problem: CutProblem, top: int) -> Sums:
    steps = [kind.goal for kind in problem.kinds if kind.supply == 0]
    unit = math.gcd(*steps)
    return Sums(unit, reachable_sums(steps, unit, top) if top // unit <= MASK_BITS else 0, top)


def _each(columns: Sequence[Pattern], value: Callable[[Pattern], int]) -> NDArray[np.float64]:
    return np.array([value(p) for p in columns], dtype=np.float64)


def _content(problem: CutProblem, columns: Sequence[Pattern]) -> tuple[csr_matrix, csr_matrix]:
    """Pieces of each length (rows) and offcuts of each kind (rows) in each column."""
    counts = csr_matrix(np.array([c for _, c in columns], dtype=np.float64).T)
    limited = [t for t, kind in enumerate(problem.kinds) if kind.supply]
    kinds = np.array([k for k, _ in columns])
    offcuts = csr_matrix((kinds[None, :] == np.array(limited, dtype=int)[:, None]).astype(np.float64))
    return counts, offcuts


def _relax(
    problem: CutProblem, pool: Sequence[Pattern], deadline: float, near_enough: Callable[[float], bool]
) -> Relaxation:
    """Linear relaxation by column generation; prices are damped towards those of the best bound so far."""
    scale = max(kind.goal for kind in problem.kinds)
    demand = np.array(problem.demand, dtype=np.float64)
    supply = np.array([kind.supply for kind in problem.kinds if kind.supply], dtype=np.float64)
    limited = [t for t, kind in enumerate(problem.kinds) if kind.supply]
    new = [t for t, kind in enumerate(problem.kinds) if not kind.supply]
    cost = [kind.goal / scale for kind in problem.kinds]
    rooms = [kind.capacity for kind in problem.kinds]
    columns = list(dict.fromkeys(pool))
    known = set(columns)
    centre: NDArray[np.float64] | None = None
    best = (-1.0, demand * 0.0, [0.0] * len(rooms))
    damping = DAMPING
    while True:
        counts, offcuts = _content(problem, columns)
        lp = linprog(
            [cost[k] for k, _ in columns],
            A_ub=_stack(-counts, offcuts),
            b_ub=np.concatenate([-demand, supply]),
            method="highs",
        )
        duals = -lp.ineqlin.marginals
        exact = np.maximum(duals[: len(demand)], 0.0)
        rents = dict(zip(limited, duals[len(demand) :], strict=True))
        added = False
        for share in (damping, 0.0) if centre is not None else (0.0,):
            prices = exact if centre is None else share * centre + (1.0 - share) * exact
            fill = best_fill(problem.weights, prices.tolist(), problem.demand, max(rooms))
            worth = [fill.value(room) for room in rooms]
            factor = min([1.0] + [cost[t] / worth[t] for t in new if worth[t] > 0.0])
            value = factor * (demand @ prices - sum(problem.kinds[t].supply * worth[t] for t in limited))
            if value > best[0]:
                best = (float(value), factor * prices, [factor * w for w in worth])
                centre = prices
            for t, room in enumerate(rooms):
                column = (t, fill.counts(room))
                gain = float(np.dot(column[1], exact)) - cost[t] - rents.get(t, 0.0)
                if gain > 1e-9 and column not in known:
                    columns.append(column)
                    known.add(column)
                    added = True
            if added:
                break
        if (
            not added
            or lp.fun - best[0] < 1e-9
            or near_enough(best[0] * scale)
            or time.monotonic() > deadline
        ):
            return Relaxation(tuple(best[1].tolist()), tuple(best[2]), best[0] * scale, tuple(columns), scale)


def _stack(upper: csr_matrix, lower: csr_matrix) -> csr_matrix:
    return vstack([upper, lower], format="csr") if lower.shape[0] else upper


def _within(problem: CutProblem, relaxed: Relaxation, target: int, limit: int) -> list[Pattern] | None:
    """All patterns that a plan of goal `target` or less can hold, or None where there are too many.

    Reduced costs at the relaxation's prices are never negative and add up, over a plan, to no more than its goal
    less the bound; so none of its bars has more than that.
    """
    slack = (target - relaxed.bound) / relaxed.scale + 1e-7
    least = [
        (relaxed.worth[t] if kind.supply else kind.goal / relaxed.scale) - slack
        for t, kind in enumerate(problem.kinds)
    ]
    return list_patterns(problem, relaxed.prices, least, limit)


def _choose(
    problem: CutProblem,
    columns: Sequence[Pattern],
    cost: NDArray[np.float64],
    rows: Sequence[Row],
    exact: bool,
    gap: float,
    deadline: float,
    nodes: int = 0,
) -> tuple[list[Pattern], float]:
    """Cheapest choice of columns that yields the pieces (just these if `exact`, else at least these).

    Returns the bars (none if no choice was found) and a lower bound of the cost over these columns (infinite if
    no choice can exist).
    """
    counts, offcuts = _content(problem, columns)
    demand = np.array(problem.demand, dtype=np.float64)
    rules = [LinearConstraint(counts, demand, demand if exact else np.inf)]
    if offcuts.shape[0]:
        rules.append(LinearConstraint(offcuts, 0.0, [float(k.supply) for k in problem.kinds if k.supply]))
    rules += [LinearConstraint(csr_matrix(values[None, :]), low, high) for values, low, high in rows]
    settings: dict[str, float | int] = {
        "mip_rel_gap": gap,
        "time_limit": max(0.1, deadline - time.monotonic()),
    }
    if nodes:
        settings["node_limit"] = nodes
    out = milp(
        cost,
        integrality=np.ones(len(columns)),
        bounds=Bounds(0.0, np.inf),
        constraints=rules,
        options=settings,
    )
    if out.status == 2:
        return [], math.inf
    lower = -math.inf if out.mip_dual_bound is None else float(out.mip_dual_bound)
    if out.x is None:
        return [], lower
    return [
        p for p, n in zip(columns, np.rint(out.x).astype(int).tolist(), strict=True) for _ in range(n)
    ], lower


def _tidy(problem: CutProblem, relaxed: Relaxation, plan: list[Pattern], deadline: float) -> list[Pattern]:
    """Of the plans of the same goal, one with least new stock, then least waste, then fewest bars.

    Left as it is where the patterns are too many to list.
    """
    goal = problem.goal(plan)
    columns = _within(problem, relaxed, goal, LISTED_TIES)
    if not columns:
        return plan
    rows: list[Row] = [(_each(columns, lambda p: problem.kinds[p[0]].goal), 0, goal)]
    for measure in (lambda p: problem.kinds[p[0]].stock, problem.waste, lambda p: 1):
        if time.monotonic() > deadline:
            break
        cost = _each(columns, measure)
        found, _ = _choose(problem, columns, cost, rows, True, 0.0, deadline, TIE_NODES)
        if found and sum(map(measure, found)) <= sum(map(measure, plan)):
            plan = found
        rows.append((cost, 0, sum(map(measure, plan))))
    return plan
