"""Links of the pipe network: resistance, pressure drop and node equations."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import spsolve

from heatloop.physics.friction import FrictionTable
from heatloop.physics.valves import kv_resistance_1_m4

Array = NDArray[np.float64]

Index = NDArray[np.intp]

DENSE_NODES = 60
"""Up to this number of nodes a dense solution is faster than a sparse one."""

MIN_FLOW_KG_S = 1e-10
"""Below this a link's drop is assumed linear, as in laminar flow."""


@dataclass(frozen=True)
class ElementArrays:
    """E hydraulic elements sorted by link, as arrays: the data on which their pressure drop depends.

    link (E) int; first_element (L) int, the first element of each link; area_m2; hydraulic_diameter_m; zeta; length_m
    and kv_m3_h (inf where there is no valve), (E) or (E, S); friction (E) int, the number of the curve in `table`.
    """

    link: Index
    first_element: Index
    area_m2: Array
    hydraulic_diameter_m: Array
    length_m: Array
    zeta: Array
    kv_m3_h: Array
    friction: Index
    table: FrictionTable

    @cached_property
    def resistance(self) -> FlowResistance:
        """Data of the pressure drops that do not depend on water and flow."""
        return FlowResistance.of(self)

    def drop(self, flow_kg_s: Array, density_kg_m3: Array, viscosity_pa_s: Array) -> tuple[Array, Array, Array]:
        """Pressure drop of each element in Pa, with the sign of its flow; its slope; and Reynolds number.

        The slope is in Pa/(kg/s). flow_kg_s, density_kg_m3, viscosity_pa_s: (E).
        """
        size = np.maximum(np.abs(flow_kg_s), MIN_FLOW_KG_S)
        re = size * self.hydraulic_diameter_m / (self.area_m2 * viscosity_pa_s)
        factor, log_slope = self.table.factor_and_slope(re, self.friction)
        dynamic = 0.5 * size / (density_kg_m3 * self.area_m2**2)
        friction = factor * self.length_m / self.hydraulic_diameter_m * dynamic
        local_loss = self.zeta * dynamic + kv_resistance_1_m4(self.kv_m3_h) / density_kg_m3 * size
        return (friction + local_loss) * flow_kg_s, (2.0 + log_slope) * friction + 2.0 * local_loss, re


@dataclass(frozen=True)
class FlowResistance:
    """Data of the pressure drops of links that do not depend on water and flow, calculated once.

    `is_pipe` (R): indices of elements with a length, and of the first element of every link so that no link is empty.
    first_pipe (L): where each link begins among them. pipe_link (R): the link of each. curve (R, 1): its friction
    curve. reynolds_per_flow (R, 1): diameter over area. friction, (R, 1) or (R, S): drop over f m|m| / density.
    local_loss: drop of fittings and valves over m|m| / density of all elements, (E, 1) or (E, S).
    """

    elements: ElementArrays
    is_pipe: Index
    first_pipe: Index
    pipe_link: Index
    curve: Index
    reynolds_per_flow: Array
    friction: Array
    local_loss: Array

    @classmethod
    def of(cls, elements: ElementArrays) -> FlowResistance:
        """Data of these elements; their Kv and lengths may differ between scenarios."""
        begins = np.zeros(elements.link.size, bool)
        begins[elements.first_element] = True
        length_m = elements.length_m if elements.length_m.ndim > 1 else elements.length_m[:, None]
        is_pipe = np.flatnonzero((length_m > 0.0).any(axis=1) | begins)
        area, diameter = elements.area_m2, elements.hydraulic_diameter_m
        per_area = 0.5 / (area * area)
        kv = elements.kv_m3_h if elements.kv_m3_h.ndim > 1 else elements.kv_m3_h[:, None]
        return cls(
            elements=elements,
            is_pipe=is_pipe,
            first_pipe=np.flatnonzero(begins[is_pipe]),
            pipe_link=elements.link[is_pipe],
            curve=elements.friction[is_pipe, None],
            reynolds_per_flow=(diameter / area)[is_pipe, None],
            friction=(length_m / diameter[:, None] * per_area[:, None])[is_pipe],
            local_loss=(elements.zeta * per_area)[:, None] + kv_resistance_1_m4(kv),
        )

    def at(self, density_kg_m3: Array, viscosity_pa_s: Array, warming: Array | None = None) -> PressureDropModel:
        """Model of the drops in water of these densities (E, S) and viscosities (R, S).

        warming (R, S): d ln viscosity / d ln flow where a larger flow makes the water warmer; it affects only the
        slopes.
        """
        specific = 1.0 / density_kg_m3
        place, base = self.elements.table.place(self.reynolds_per_flow / viscosity_pa_s, self.curve)
        return PressureDropModel(
            self,
            place,
            base,
            self.friction * specific[self.is_pipe],
            np.add.reduceat(self.local_loss * specific, self.elements.first_element, axis=0),
            None if warming is None else 1.0 - warming,
        )


@dataclass(frozen=True)
class PressureDropModel:
    """Pressure drops of links at fixed temperatures; everything that does not depend on flow is calculated once.

    place, base: position of a flow of 1 kg/s in the table of friction. friction (drop over f m|m|), (R, S). local_loss
    (drop of valves and fittings over m|m|), (L, S). reynolds_coefficient (R, S), where not None: factor by which the
    friction factor changes more with flow than by the flow alone.
    """

    of: FlowResistance
    place: Array
    base: Index
    friction: Array
    local_loss: Array
    reynolds_coefficient: Array | None

    def __call__(self, flow_kg_s: Array) -> tuple[Array, Array]:
        """Drop of each link and its slope at these flows, (L, S)."""
        size = np.maximum(np.abs(flow_kg_s), MIN_FLOW_KG_S)
        table, first = self.of.elements.table, self.of.first_pipe
        place = table.intervals(size).take(self.of.pipe_link, axis=0)
        place += self.place
        factor, log_slope = table.at(place, self.base)
        factor *= self.friction
        log_slope *= factor
        if self.reynolds_coefficient is not None:
            log_slope *= self.reynolds_coefficient
        whole = np.add.reduceat(factor, first, axis=0)
        whole += self.local_loss
        rise = np.add.reduceat(log_slope, first, axis=0)
        rise += whole
        rise += whole
        rise *= size
        whole *= size
        whole *= flow_kg_s
        return whole, rise


@dataclass(frozen=True)
class NetworkGraph:
    """Nodes and links. `start` and `end` (L) are node numbers; `fixed` the nodes of known pressure."""

    nodes: int
    start: Index
    end: Index
    fixed: Index


@dataclass(frozen=True)
class NodeEquations:
    """A network prepared for solution: its unknown nodes and the links at them.

    unknown (n): node numbers. incidence (n, L): +1 where a link leaves a node, -1 where it arrives; dense or sparse.
    """

    graph: NetworkGraph
    unknown: Index
    incidence: Array | csr_matrix

    @classmethod
    def of(cls, graph: NetworkGraph) -> NodeEquations:
        free = np.ones(graph.nodes, bool)
        free[graph.fixed] = False
        unknown = np.flatnonzero(free)
        number = np.full(graph.nodes, -1)
        number[unknown] = np.arange(unknown.size)
        links = np.arange(graph.start.size)
        i, j = number[graph.start], number[graph.end]
        rows, columns = np.concatenate([i[i >= 0], j[j >= 0]]), np.concatenate([links[i >= 0], links[j >= 0]])
        signs = np.concatenate([np.ones(int((i >= 0).sum())), -np.ones(int((j >= 0).sum()))])
        incidence = csr_matrix((signs, (rows, columns)), shape=(unknown.size, links.size))
        return cls(graph, unknown, incidence.toarray() if unknown.size <= DENSE_NODES else incidence)

    def changes(self, conductance: Array, imbalance: Array, boundary: PumpBoundary | None, pressure: Array) -> Array:
        """Changes of pressure (n, S) that remove the imbalance of mass (n, S) and the residuals of the pumps.

        conductance (L, S), pressure (nodes, S) now. Solves A G A^T dp = imbalance, with the rows of driven nodes
        replaced.
        """
        if self.unknown.size == 0:
            return imbalance
        rhs = imbalance
        if boundary is not None:
            rhs = imbalance.copy()
            for k, node in enumerate(boundary.place):
                rhs[node] = boundary.lack(k, pressure[self.unknown[node]], -imbalance[node])
        if not isinstance(self.incidence, np.ndarray):
            columns = [self._sparse(conductance[:, s], rhs[:, s], boundary, s) for s in range(rhs.shape[1])]
            return np.stack(columns, axis=1)
        if rhs.shape[1] == 1:
            # one small matrix: LAPACK's own call, since numpy's for many takes several times as long
            conductances = (self.incidence * conductance[:, 0]) @ self.incidence.T
            if boundary is not None:
                for k, node in enumerate(boundary.place):
                    conductances[node] *= boundary.by_flow[k, 0]
                    conductances[node, node] += boundary.by_pressure[k, 0]
            _, _, changes, info = lapack.dgesv(conductances, rhs)
            if info != 0:
                raise np.linalg.LinAlgError("the network has a node that no water can reach")
            return np.asarray(changes)
        matrix = (self.incidence * conductance.T[:, None, :]) @ self.incidence.T
        if boundary is not None:
            for k, node in enumerate(boundary.place):
                matrix[:, node, :] *= boundary.by_flow[k][:, None]
                matrix[:, node, node] += boundary.by_pressure[k]
        return np.asarray(np.linalg.solve(matrix, rhs.T[:, :, None])[:, :, 0].T)

    def _sparse(self, conductance: Array, rhs: Array, boundary: PumpBoundary | None, s: int) -> Array:
        incidence = csr_matrix(self.incidence)
        matrix = incidence.multiply(conductance) @ incidence.T
        if boundary is not None:
            scale, extra = np.ones(rhs.size), np.zeros(rhs.size)
            scale[boundary.place], extra[boundary.place] = boundary.by_flow[:, s], boundary.by_pressure[:, s]
            size = (rhs.size, rhs.size)
            diagonal = np.arange(rhs.size)
            matrix = csr_matrix((scale, (diagonal, diagonal)), size) @ matrix
            matrix = matrix + csr_matrix((extra, (diagonal, diagonal)), size)
        return np.asarray(spsolve(csc_matrix(matrix), rhs))


@dataclass(frozen=True)
class PumpBoundary:
    """Nodes held by a pump: by_pressure * pressure + by_flow * outflow = required, each (K, S).

    `place` (K): their indices among the unknown nodes. A constant differential has by_flow 0 and a constant flow has
    by_pressure 0. A pump has both: its curve, linearised at its present flow.
    """

    place: Index
    by_pressure: Array
    by_flow: Array
    required: Array

    def lack(self, k: int, pressure: Array, outflow: Array) -> Array:
        """Residual (S) at this pressure and this flow out of node number k."""
        return np.asarray(self.required[k] - self.by_pressure[k] * pressure - self.by_flow[k] * outflow)
