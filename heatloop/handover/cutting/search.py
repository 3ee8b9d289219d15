"""The least stock that yields all pieces: first plan, lower bound, and the search between the two.

1. First plans by first-fit-decreasing and by best fills, so that there is always a plan.
2. A lower bound by column generation: the linear relaxation over patterns (Gilmore and Gomory, Operations
   Research 9 (1961) 849 and 11 (1963) 863), each new pattern from a knapsack, solved with HiGHS through
   `scipy`. The bound is taken from the prices themselves (Farley, Operations Research 38 (1990) 922), so it
   holds at every step, and is raised to the next sum that whole bars can make.
3. A plan better than the best one known can only hold patterns whose reduced cost is within the distance
   between plan and bound. Where all of these can be listed, a set-partitioning program over them
   (`scipy.optimize.milp`) finds the exact minimum; where they are too many, the program runs over the
   most promising ones and the distance that is left is reported.
4. Among plans that are equal in the chosen goal: least new stock, then least waste, then fewest bars.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, vstack

from heatloop.handover.cutting.patterns import (
    CutProblem,
    Pattern,
    best_fill,
    best_fit_by_value,
    first_fit,
    list_patterns,
    reachable_sums,
    without_surplus,
)

LISTED = 6_000
"""Maximum number of patterns in a whole-number program; beyond it the search is no longer exact by itself. A program
with 16,000 patterns took five seconds before its first branch and found nothing; with 3,000 chosen ones it found a
better plan in 0.3 s."""
LISTED_SOME = 4_000
"""Maximum number of patterns listed beside those of the relaxation where they cannot all be listed."""
LISTED_TIES = 2_500
"""Maximum number of patterns for the tie-break between plans of equal goal."""
SMALL = 40
"""With at most this many lengths, column generation runs to its optimum, and ties are broken."""
DAMPING = 0.5
"""Weight of the best prices so far in the damped prices, for which patterns are searched."""
NODES = 500
"""Maximum number of branch-and-bound nodes of one whole-number program: a count, so that every run stops at the same
node."""
TIE_NODES = 20
"""Maximum number of branch-and-bound nodes for each tie-break."""
MASK_BITS = 20_000_000
"""Maximum number of steps in the table of sums that bars can make; beyond it only multiples of the unit are used."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, the goal of the best plan so far and the lower bound (problem units)."""
Row = tuple[NDArray[np.float64], int, int]
"""A side condition: coefficient of each column, minimum and maximum of the sum."""


@dataclass(frozen=True)
class SearchResult:
    """Bars of the plan, its goal, a lower bound of the goal, and whether time ran out."""

    plan: tuple[Pattern, ...]
    goal: int
    bound: int
    timed_out: bool


@dataclass(frozen=True)
class Relaxation:
    """Prices of the pieces (in units of `scale`), maximum value of each kind at these prices, bound and columns."""

    prices: tuple[float, ...]
    values: tuple[float, ...]
    bound: float
    columns: tuple[Pattern, ...]
    scale: int


@dataclass(frozen=True)
class ReachableSums:
    """Goals that whole bars can add up to."""

    unit: int
    mask: int
    top: int

    def at_least(self, value: float) -> int:
        """Smallest reachable sum of at least `value` (less a millionth, for rounding)."""
        step = max(0, math.ceil((value * (1.0 - 1e-9) - 1e-6) / self.unit))
        if not self.mask or step * self.unit > self.top:
            return step * self.unit
        reachable = self.mask >> step
        return (step + (reachable & -reachable).bit_length() - 1) * self.unit if reachable else self.top

    def below(self, value: int) -> int:
        """Largest reachable sum below `value`, or -1."""
        step = (value - 1) // self.unit
        if not self.mask or step < 0:
            return step * self.unit if step >= 0 else -1
        return ((self.mask & ((1 << (step + 1)) - 1)).bit_length() - 1) * self.unit


def search(problem: CutProblem, time_limit_s: float, gap: float, progress: Progress) -> SearchResult:
    """Best plan for the problem within the time limit, with a lower bound of its goal.

    Stops at the relative `gap` requested (0: only when no better plan can exist). Every step is deterministic; only the
    time limit can make two runs differ.
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
        plan = min(plan, other, key=problem.rank)
    goal = problem.goal(plan)
    sums = _reachable(problem, goal)

    def near_enough(value: float) -> bool:
        lower = sums.at_least(value)
        progress("bound", goal, lower)
        return len(problem.weights) > SMALL and goal - lower <= gap * goal

    relaxed = _relax(problem, pool, deadline, near_enough)
    bound = min(goal, sums.at_least(relaxed.bound))
    progress("bound", goal, bound)
    while goal - bound > gap * goal and time.monotonic() < deadline:
        target = sums.below(goal)
        listed = _within(problem, relaxed, target, LISTED)
        if target < bound or listed == []:
            bound = goal
            break
        columns = listed or _promising(problem, relaxed, target, plan, LISTED_SOME, deadline)
        goals = _each(columns, lambda p: problem.kinds[p[0]].goal // sums.unit)
        row = (goals, bound // sums.unit, target // sums.unit)
        chosen, lower = _choose(problem, columns, goals, [row], bool(listed), Effort(gap, deadline, NODES))
        if listed:
            bound = min(goal, sums.at_least(min(goal, max(bound, (lower - 1e-6) * sums.unit))))
        if chosen:
            plan = without_surplus(problem, chosen)
            goal = problem.goal(plan)
            bound = min(goal, bound)
        progress("whole bars", goal, bound)
        if not chosen:
            break
    if time.monotonic() < deadline:
        plan = _tidy(problem, relaxed, plan, deadline)
    return SearchResult(tuple(plan), problem.goal(plan), bound, time.monotonic() > deadline)


def _reachable(problem: CutProblem, top: int) -> ReachableSums:
    steps = [kind.goal for kind in problem.kinds if kind.supply == 0]
    unit = math.gcd(*steps)
    return ReachableSums(unit, reachable_sums(steps, unit, top) if top // unit <= MASK_BITS else 0, top)


def _each(columns: Sequence[Pattern], value: Callable[[Pattern], int]) -> NDArray[np.float64]:
    return np.array([value(p) for p in columns], dtype=np.float64)


def _content(problem: CutProblem, columns: Sequence[Pattern]) -> tuple[csr_matrix, csr_matrix]:
    """Pieces of each length (rows) and offcuts of each kind (rows) in each column."""
    counts = csr_matrix(np.array([c for _, c in columns], dtype=np.float64).T)
    limited = [t for t, kind in enumerate(problem.kinds) if kind.supply]
    kinds = np.array([k for k, _ in columns])
    offcuts = csr_matrix((kinds[None, :] == np.array(limited, dtype=int)[:, None]).astype(np.float64))
    return counts, offcuts


@dataclass(frozen=True)
class _Trial:
    """Bound of the goal at some prices, the prices made feasible, the value of each kind, and best fills."""

    bound: float
    prices: NDArray[np.float64]
    values: tuple[float, ...]
    fills: tuple[Pattern, ...]


def _price(problem: CutProblem, prices: NDArray[np.float64], cost: Sequence[float]) -> _Trial:
    """Prices (each at least 0) scaled down until no new bar is worth more than it costs, and the lower bound there."""
    capacities = [kind.capacity for kind in problem.kinds]
    fill = best_fill(problem.weights, prices.tolist(), problem.demand, max(capacities))
    values = [fill.value(capacity) for capacity in capacities]
    new = [t for t, kind in enumerate(problem.kinds) if not kind.supply and values[t] > 0.0]
    factor = min([1.0, *(cost[t] / values[t] for t in new)])
    offcut_value = sum(kind.supply * value for value, kind in zip(values, problem.kinds, strict=True))
    fills = tuple((t, fill.counts(capacity)) for t, capacity in enumerate(capacities))
    bound = factor * (float(np.dot(problem.demand, prices)) - offcut_value)
    return _Trial(bound, factor * prices, tuple(factor * value for value in values), fills)


def _relax(
    problem: CutProblem, pool: Sequence[Pattern], deadline: float, near_enough: Callable[[float], bool]
) -> Relaxation:
    """Linear relaxation by column generation; prices are damped towards those of the best bound so far.

    The first prices are proportional to length, which gives the bound by material alone; it remains where no time is
    left.
    """
    scale = max(kind.goal for kind in problem.kinds)
    cost = [kind.goal / scale for kind in problem.kinds]
    demand = np.array(problem.demand, dtype=np.float64)
    limited = [t for t, kind in enumerate(problem.kinds) if kind.supply]
    limits = np.concatenate([-demand, [float(problem.kinds[t].supply) for t in limited]])
    columns = list(dict.fromkeys(pool))
    dearest = max(c / kind.capacity for c, kind in zip(cost, problem.kinds, strict=True))
    best = _price(problem, np.array(problem.weights) * dearest, cost)
    if time.monotonic() >= deadline:
        return Relaxation(tuple(best.prices.tolist()), best.values, best.bound * scale, tuple(columns), scale)
    from scipy.optimize import linprog  # here, because it is slow to import and not needed to size

    while True:
        counts, offcuts = _content(problem, columns)
        rules = _stack(-counts, offcuts)
        lp = linprog([cost[k] for k, _ in columns], A_ub=rules, b_ub=limits, method="highs")
        duals = np.maximum(-lp.ineqlin.marginals, 0.0)
        exact = duals[: len(demand)]
        limit_values = dict(zip(limited, duals[len(demand) :], strict=True))
        known = set(columns)
        fresh: list[Pattern] = []
        for share in (DAMPING, 0.0):
            trial = _price(problem, share * best.prices + (1.0 - share) * exact, cost)
            best = max(best, trial, key=lambda t: t.bound)
            gains = [float(np.dot(c, exact)) - cost[k] - limit_values.get(k, 0.0) for k, c in trial.fills]
            fresh += [p for p, gain in zip(trial.fills, gains, strict=True) if gain > 1e-9 and p not in known]
            if fresh:
                break
        columns += dict.fromkeys(fresh)
        optimal = not fresh or lp.fun - best.bound < 1e-9
        if optimal or near_enough(best.bound * scale) or time.monotonic() > deadline:
            return Relaxation(tuple(best.prices.tolist()), best.values, best.bound * scale, tuple(columns), scale)


def _stack(upper: csr_matrix, lower: csr_matrix) -> csr_matrix:
    return vstack([upper, lower], format="csr") if lower.shape[0] else upper


def _within(problem: CutProblem, relaxed: Relaxation, target: float, limit: int) -> list[Pattern] | None:
    """All patterns that a plan of goal `target` or less can contain; None where there are too many.

    Reduced costs at the prices of the relaxation are never negative. Their sum over a plan is at most its goal less the
    bound. Therefore none of its bars has a larger reduced cost.
    """
    slack = (target - relaxed.bound) / relaxed.scale + 1e-7
    minimum = [
        (relaxed.values[t] if kind.supply else kind.goal / relaxed.scale) - slack
        for t, kind in enumerate(problem.kinds)
    ]
    return list_patterns(problem, relaxed.prices, minimum, limit)


def _promising(
    problem: CutProblem,
    relaxed: Relaxation,
    target: int,
    plan: Sequence[Pattern],
    limit: int,
    deadline: float,
) -> list[Pattern]:
    """Columns of the relaxation and the plan, and as many patterns of small reduced cost as can be listed."""
    listed: list[Pattern] | None = None
    share = 0.5
    while listed is None and share > 1e-4 and time.monotonic() < deadline:
        part = relaxed.bound + share * (target - relaxed.bound)
        listed = _within(problem, relaxed, part, limit)
        share /= 2.0
    return list(dict.fromkeys([*relaxed.columns, *plan, *(listed or [])]))


@dataclass(frozen=True)
class Effort:
    """Effort of the search for a choice.

    The relative `gap` of its cost at which it ends, its end time (monotonic clock, s), and the maximum number of
    `nodes` of the tree.
    """

    gap: float
    deadline: float
    nodes: int


def _choose(
    problem: CutProblem,
    columns: Sequence[Pattern],
    cost: NDArray[np.float64],
    rows: Sequence[Row],
    exact: bool,
    effort: Effort,
) -> tuple[list[Pattern], float]:
    """Cheapest choice of columns that yields the pieces (exactly if `exact`, else at least).

    `rows`: further conditions that the choice must meet. Returns the bars (none if no choice was found) and a lower
    bound of the cost over these columns (infinite if no choice can exist).
    """
    from scipy.optimize import (  # here, because it is slow to import and not needed to size
        Bounds,
        LinearConstraint,
        milp,
    )

    counts, offcuts = _content(problem, columns)
    demand = np.array(problem.demand, dtype=np.float64)
    on_hand = [float(kind.supply) for kind in problem.kinds if kind.supply]
    rules = [LinearConstraint(counts, demand, demand if exact else np.inf), LinearConstraint(offcuts, 0.0, on_hand)]
    rules += [LinearConstraint(csr_matrix(values[None, :]), low, high) for values, low, high in rows]
    settings: dict[str, float | int] = {
        "mip_rel_gap": effort.gap,
        "node_limit": effort.nodes,
        "time_limit": max(0.1, effort.deadline - time.monotonic()),
    }
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
    return [p for p, n in zip(columns, np.rint(out.x).astype(int).tolist(), strict=True) for _ in range(n)], lower


def _tidy(problem: CutProblem, relaxed: Relaxation, plan: list[Pattern], deadline: float) -> list[Pattern]:
    """Of the plans with the same goal: one with the least new stock, then least waste, then fewest bars.

    Exact where all patterns can be listed; else the best of those listed, for small jobs only. No plan has fewer bars
    than the material alone requires, so that a plan of so few is not improved further.
    """
    goal = problem.goal(plan)
    unit = math.gcd(*(kind.goal for kind in problem.kinds))
    columns = _within(problem, relaxed, goal, LISTED_TIES)
    if not columns:
        if len(problem.weights) > SMALL:
            return plan
        columns = _promising(problem, relaxed, goal, plan, LISTED_TIES // 2, deadline)
    rows: list[Row] = [(_each(columns, lambda p: problem.kinds[p[0]].goal // unit), 0, goal // unit)]
    material = sum(weight * count for weight, count in zip(problem.weights, problem.demand, strict=True))
    fewest = -(-material // max(kind.capacity for kind in problem.kinds))
    measures: list[tuple[Callable[[Pattern], int], int]] = [(problem.waste, 0), (lambda p: 1, fewest)]
    if any(kind.goal != kind.stock for kind in problem.kinds):
        measures.insert(0, (lambda p: problem.kinds[p[0]].stock, 0))
    for measure, least in measures:
        if time.monotonic() > deadline:
            break
        cost, so_far = _each(columns, measure), sum(map(measure, plan))
        if so_far > least:
            better: Row = (cost, 0, so_far - 1)
            chosen, _ = _choose(problem, columns, cost, [*rows, better], True, Effort(0.0, deadline, TIE_NODES))
            plan = chosen or plan
        rows.append((cost, 0, sum(map(measure, plan))))
    return plan
