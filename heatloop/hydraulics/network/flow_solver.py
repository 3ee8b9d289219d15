"""The hydraulic network: links of elements in series between nodes, solved for flow and pressure.

Global gradient method (Todini and Pilati 1988): Newton's method on flows and pressures together. Each step solves one
system for the changes of pressure. Elements in series form one link, so nodes exist only where water divides or joins.
Flow is mass flow in kg/s, positive from the first node of the link to its second. Arrays may have a last axis of
scenarios, which are solved together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.links import MIN_FLOW_KG_S, NetworkGraph, NodeEquations, PumpBoundary

Array = NDArray[np.float64]

Index = NDArray[np.intp]

SAFE = 0.1
"""A step that changes no flow by more than this share does not overshoot."""

TOLERANCE = 1e-12

MAX_STEPS = 100

SMALL_SHARE = 1e-6
"""The change of a flow below this share of the largest is measured by that share: it contains the rounding of the flows
that it joins."""

MIN_HEAD_PA = 1.0
"""Minimum reference for residuals of head: warm water can flow by buoyancy alone, without any head."""

ROUNDING = 1e-11
"""Residuals of mass and head caused by rounding: a solution ends at these even if flows still change slightly."""


@dataclass(frozen=True)
class NetworkState:
    """A solved network: flow_kg_s (L), pressure_pa (N), residuals and number of steps.

    mass_residual: largest imbalance of a free node over the largest flow. head_residual: largest difference between the
    drop of a link and the pressures of its nodes, over the maximum pressure difference.
    """

    flow_kg_s: Array
    pressure_pa: Array
    mass_residual: float
    head_residual: float
    iterations: int


LinkDrop = Callable[[Array], tuple[Array, Array]]
"""Drop of each link in Pa and its slope at given link flows (L)."""


@dataclass(frozen=True)
class NewtonState:
    """Flows (L, S), pressures (N, S), and the pressure drops and slopes at these flows.

    `moved` (S): largest relative change of a flow in the last step.
    """

    flow: Array
    pressure: Array
    drop: Array
    slope: Array
    moved: Array


def start_iteration(graph: NetworkGraph, flow: Array, fixed_pa: Array, link_drop: LinkDrop) -> NewtonState:
    """Start values: flows (L, S) and the pressures of the fixed nodes (K, S); other pressures are 0."""
    pressure = np.zeros((graph.nodes, flow.shape[1]))
    pressure[graph.fixed] = fixed_pa
    return NewtonState(flow, pressure, *link_drop(flow), np.full(flow.shape[1], np.inf))


def newton_step(
    node_equations: NodeEquations,
    iterate: NewtonState,
    link_drop: LinkDrop | None,
    inflow: Array,
    boundary: PumpBoundary | None = None,
    held: Array | None = None,
) -> NewtonState:
    """Take one Newton step. inflow (n, S) into the unknown nodes; held (L, S) fixed flows, NaN where free.

    After the first step mass balances. From then on a step that is too long is shortened to the point at which the work
    along it is zero. Such a point exists, because pressure drops rise with flow. Without `link_drop` the whole step is
    taken, and drops and slopes remain those of the earlier flows.
    """
    graph, incidence = node_equations.graph, node_equations.incidence
    conductance = 1.0 / iterate.slope
    change = iterate.pressure.take(graph.start, axis=0)
    change -= iterate.pressure.take(graph.end, axis=0)
    change -= iterate.drop
    change *= conductance
    if held is not None:
        stands = ~np.isnan(held)
        conductance = np.where(stands, 0.0, conductance)
        change = np.where(stands, held - iterate.flow, change)
    raised = node_equations.changes(
        conductance, inflow - incidence @ (iterate.flow + change), boundary, iterate.pressure
    )
    conductance *= incidence.T @ raised
    change += conductance
    pressure = iterate.pressure.copy()
    pressure[node_equations.unknown] += raised
    flow = iterate.flow + change
    drop, slope = (iterate.drop, iterate.slope) if link_drop is None else link_drop(flow)
    moved = _moved(change, flow)
    if link_drop is not None and moved.max() > SAFE and np.isfinite(iterate.moved).all():
        return _shorten(graph, iterate, NewtonState(flow, pressure, drop, slope, moved), change, link_drop, held)
    return NewtonState(flow, pressure, drop, slope, moved)


def _moved(change: Array, flow: Array) -> Array:
    """Largest relative change of a flow, (S)."""
    own = np.abs(flow)
    np.maximum(own, np.maximum(SMALL_SHARE * own.max(axis=0), MIN_FLOW_KG_S), out=own)
    np.divide(change, own, out=own)
    return np.asarray(np.abs(own, out=own).max(axis=0))


def _shorten(
    graph: NetworkGraph,
    iterate: NewtonState,
    full_step: NewtonState,
    change: Array,
    link_drop: LinkDrop,
    held: Array | None,
) -> NewtonState:
    """The step from `iterate` to `full_step`, or a part of it where the whole step is too long.

    `change` of flows (L, S): direction of the step.
    """
    pressure, flow, drop, slope = full_step.pressure, full_step.flow, full_step.drop, full_step.slope
    head = pressure.take(graph.start, axis=0) - pressure.take(graph.end, axis=0)
    work = change if held is None else change * np.isnan(held)
    before = (work * (iterate.drop - head)).sum(axis=0)
    share = np.ones(change.shape[1])
    for _ in range(12):
        after = (work * (drop - head)).sum(axis=0)
        far = (before < 0.0) & (after > -0.3 * before) & (iterate.moved > 1e-6)
        if not far.any():
            break
        gap = np.where(far, before - after, 1.0)
        share = np.where(far, share * np.clip(before / gap, 0.1, 0.7), share)
        flow = iterate.flow + share * change
        drop, slope = link_drop(flow)
    return NewtonState(flow, pressure, drop, slope, _moved(change, flow))


def residuals(
    node_equations: NodeEquations,
    iterate: NewtonState,
    inflow: Array,
    driven: Index | None = None,
    held: Array | None = None,
) -> tuple[Array, Array]:
    """Relative imbalance of mass at the unknown nodes (S), except driven ones, and of head along the links (S)."""
    imbalance = inflow - node_equations.incidence @ iterate.flow
    if driven is not None:
        imbalance[driven] = 0.0
    graph = node_equations.graph
    misfit = np.abs(iterate.pressure[graph.start] - iterate.pressure[graph.end] - iterate.drop)
    if held is not None:
        misfit = np.where(np.isnan(held), misfit, 0.0)
    head = np.maximum(iterate.pressure.max(axis=0) - iterate.pressure.min(axis=0), MIN_HEAD_PA)
    maximum = np.maximum(np.abs(iterate.flow).max(axis=0), 1e-300)
    return np.abs(imbalance).max(axis=0, initial=0.0) / maximum, misfit.max(axis=0, initial=0.0) / head


def solve_network(
    graph: NetworkGraph,
    fixed_pa: Array,
    link_drop: LinkDrop,
    initial_guess_kg_s: Array,
    inflow_kg_s: Array | None = None,
    tolerance: float = TOLERANCE,
) -> NetworkState:
    """Solve flows and pressures of one network. Raises ArithmeticError if the iteration does not converge.

    `fixed_pa`: pressures at the fixed nodes. `inflow_kg_s` (N): water that enters at other nodes.
    """
    node_equations = NodeEquations.of(graph)
    inflow = np.zeros(graph.nodes) if inflow_kg_s is None else inflow_kg_s
    inflow = inflow[node_equations.unknown][:, None]

    def drop_of_links(flow: Array) -> tuple[Array, Array]:
        drop, slope = link_drop(flow[:, 0])
        return drop[:, None], slope[:, None]

    iterate = start_iteration(graph, initial_guess_kg_s.astype(float)[:, None], fixed_pa[:, None], drop_of_links)
    for count in range(1, MAX_STEPS + 1):
        before = iterate
        iterate = newton_step(node_equations, iterate, drop_of_links, inflow)
        moved = float(iterate.moved[0])
        mass, head = residuals(node_equations, iterate, inflow)
        if moved < tolerance or (max(mass[0], head[0]) < ROUNDING and moved > 0.3 * before.moved[0]):
            return NetworkState(iterate.flow[:, 0], iterate.pressure[:, 0], float(mass[0]), float(head[0]), count)
    raise ArithmeticError(f"the network did not converge in {MAX_STEPS} steps (last change {moved:.1e})")
