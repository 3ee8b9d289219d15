"""Shared pipework of many dwellings, numbered one dwelling after the other, as arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from heatloop.hydraulics.lots.trunks import LotTrunks
from heatloop.hydraulics.network.build import element_arrays
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.network.trunk_loss import TrunkLoss
from heatloop.physics.friction import FrictionTable

Array = NDArray[np.float64]
Index = NDArray[np.intp]


def lot_trunks(parts: Sequence[SharedPipework], friction: FrictionTable) -> LotTrunks:
    """The shared pipework of dwellings side by side; `friction`: friction curves that are calculated already."""
    number = _Numbers(parts)
    links = [(k, link) for k, part in enumerate(parts) for link in part.links]
    circuits = [(k, place, circuit) for k, part in enumerate(parts) for place, circuit in enumerate(part.circuits)]
    joins, leaves = (
        [
            (number.nodes[k] + part.join[trunk][0], number.circuits[k] + part.circuit_of[trunk])
            for k, part in enumerate(parts)
            for trunk in part.stream_trunks[part.bypass_streams if bypasses else part.loop_streams]
        ]
        for bypasses in (False, True)
    )
    pipes = [link.element for _, link in links]
    levels, mixed = _levels(parts, number)
    return LotTrunks(
        link_dwelling=_index(k for k, _ in links),
        link_circuit=_index(number.circuits[k] + link.circuit for k, link in links),
        label=tuple(pipe.label for pipe in pipes),
        start=_index(number.nodes[k] + link.start for k, link in links),
        end=_index(number.nodes[k] + link.end for k, link in links),
        is_flow=np.array([link.is_flow for _, link in links], dtype=bool),
        loss_w_k=np.array([link.loss_w_k for _, link in links], float),
        around_c=np.array([link.around_c for _, link in links], float),
        elements=element_arrays(pipes, [1] * len(pipes), friction) if pipes else None,
        circuit_dwelling=_index(k for k, _, _ in circuits),
        circuit_name=tuple(circuit.name for _, _, circuit in circuits),
        parent=_index(number.circuits[k] + c.parent if c.parent >= 0 else -1 for k, _, c in circuits),
        flow_node=_index(number.nodes[k] + circuit.flow for k, _, circuit in circuits),
        draws_at=_index(number.nodes[k] + max(circuit.draws_at[0], 0) for k, _, circuit in circuits),
        draw_of=_index(number.draws[k] + place - 1 for k, place, _ in circuits),
        loop_node=_index(node for node, _ in joins),
        loop_circuit=_index(circuit for _, circuit in joins),
        bypass_node=_index(node for node, _ in leaves),
        bypass_circuit=_index(circuit for _, circuit in leaves),
        node_circuit=_index(number.circuits[k] for k, part in enumerate(parts) for _ in range(part.nodes)),
        levels=levels,
        mixed=mixed,
        **_matrices(parts, number),
    )


class _Numbers:
    """The first number of each kind of part of every dwelling, and how many there are in all."""

    def __init__(self, parts: Sequence[SharedPipework]) -> None:
        loops, draws = [part.loop_streams.stop for part in parts], [len(part.circuits) - 1 for part in parts]
        bypasses = [len(part.bypasses) for part in parts]
        returns = [sum(not link.is_flow for link in part.links) for part in parts]
        self.circuit_count = sum(len(part.circuits) for part in parts)
        self.link_count, self.stream_count = (
            sum(len(part.links) for part in parts),
            sum(loops) + sum(bypasses) + sum(draws),
        )
        self.member_count = self.circuit_count + sum(returns)
        self.nodes = _first_numbers([part.nodes for part in parts])
        self.circuits = _first_numbers([len(part.circuits) for part in parts])
        self.links = _first_numbers([len(part.links) for part in parts])
        self.loops, self.bypasses = _first_numbers(loops), sum(loops) + _first_numbers(bypasses)
        self.draws = sum(loops) + sum(bypasses) + _first_numbers(draws)
        self.returns = self.circuit_count + _first_numbers(returns)


def _matrices(parts: Sequence[SharedPipework], number: _Numbers) -> dict[str, csr_matrix]:
    """Which streams pass links and belong to circuits, and which losses are deducted from what returns."""
    streams, circuits, links, members, less = [], [], [], [], []
    for k, part in enumerate(parts):
        own = np.arange(len(part.circuits))
        returns = np.arange(sum(not link.is_flow for link in part.links))
        circuits.append(number.circuits[k] + own)
        links.append(number.links[k] + np.arange(len(part.links)))
        streams.append(
            np.concatenate(
                [
                    number.loops[k] + np.arange(part.loop_streams.stop),
                    number.bypasses[k] + np.arange(len(part.bypasses)),
                    number.draws[k] + own[:-1],
                ]
            )
        )
        members.append(np.concatenate([circuits[-1], number.returns[k] + returns]))
        loss = TrunkLoss.of(part)
        less.append(np.zeros((members[-1].size, len(part.links))) if loss is None else loss.less)
    return {
        "on_link": _side_by_side(
            [part.on_link for part in parts], links, streams, (number.link_count, number.stream_count)
        ),
        "of_circuit": _side_by_side(
            [part.of_circuit for part in parts], circuits, streams, (number.circuit_count, number.stream_count)
        ),
        "less": _side_by_side(less, members, links, (number.member_count, number.link_count)),
    }


def _side_by_side(
    blocks: Sequence[Array], rows: Sequence[Index], columns: Sequence[Index], shape: tuple[int, int]
) -> csr_matrix:
    """A sparse matrix of the blocks of all dwellings, each with its rows and columns."""
    places = [np.nonzero(block) for block in blocks]
    values = np.concatenate([block[place] for block, place in zip(blocks, places, strict=True)])
    row = np.concatenate([own[place[0]] for own, place in zip(rows, places, strict=True)])
    column = np.concatenate([own[place[1]] for own, place in zip(columns, places, strict=True)])
    return csr_matrix((values, (row, column)), shape=shape)


def _levels(
    parts: Sequence[SharedPipework], number: _Numbers
) -> tuple[tuple[tuple[Index, Index], ...], tuple[Index, ...]]:
    """Flow links by level, each with the mixed circuits that begin there; and mixed circuits, the farthest first."""
    by_level: dict[int, tuple[list[int], list[int]]] = {}
    by_depth: dict[int, list[int]] = {}
    for k, part in enumerate(parts):
        depth = [0] * len(part.circuits)
        for place, circuit in enumerate(part.circuits[1:], start=1):
            depth[place] = depth[circuit.parent] + 1
            by_depth.setdefault(depth[place], []).append(int(number.circuits[k]) + place)
        begins = {circuit.flow: place for place, circuit in enumerate(part.circuits) if circuit.parent >= 0}
        level = {part.circuits[0].flow: 0}
        for place, link in enumerate(part.links):
            if not link.is_flow:
                continue
            begun = begins.pop(link.start, None)
            if begun is not None:
                level[link.start] = level[part.circuits[begun].draws_at[0]]
            links, circuits = by_level.setdefault(level[link.start], ([], []))
            links.append(int(number.links[k]) + place)
            circuits += [] if begun is None else [int(number.circuits[k]) + begun]
            level[link.end] = level[link.start] + 1
    return (
        tuple((_index(by_level[level][0]), _index(by_level[level][1])) for level in sorted(by_level)),
        tuple(_index(by_depth[depth]) for depth in sorted(by_depth, reverse=True)),
    )


def _first_numbers(counts: Sequence[int]) -> Index:
    """The first number of each dwelling, when its parts are numbered after those of the dwellings before it."""
    return np.concatenate([[0], np.cumsum(counts, dtype=np.intp)[:-1]]).astype(np.intp)


def _index(numbers: Iterable[int]) -> Index:
    return np.array(list(numbers), dtype=np.intp)
