"""Index arrays of a network, calculated once when it is built and used by every solution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.links import NodeEquations
from heatloop.hydraulics.network.pipe_loss import TailConductances
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.network.trunk_loss import TrunkLoss
from heatloop.survey.water_system import Bypass

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LoopLinks:
    """Links that carry the water of loops.

    The link of each channel of every arm; one link that carries the whole flow of each loop (L); the loop of each arm
    (A).
    """

    channel_link: tuple[Index, ...]
    loop_link: Index
    arm_loop: Index

    def owners(self, links: int) -> Index:
        """Loop to which each of so many links belongs; -1 for shared pipework and bypasses."""
        owner = np.full(links, -1)
        owner[self.loop_link] = np.arange(self.loop_link.size)
        for own, loop in zip(self.channel_link, self.arm_loop, strict=True):
            owner[own] = loop
        return owner


@dataclass(frozen=True, eq=False)
class SolverIndex:
    """Index arrays of a network.

    By group: links (C, R) of the channels of its arms, arms (R) and loops (R) by number. joined (L, A): 1 where an arm
    belongs to a loop; None where every loop has one arm. `opens_pa` of each bypass (None: always open). back_links (K):
    whether a pipe is a return. members (P + returns, N): 1 where the water of a stream belongs to a circuit and passes
    a return. bypass_circuit (B). parents (P): the circuit from which each draws (for the source: itself). `losses` of
    shared pipework; None where it loses nothing. driven (P): flow nodes of the circuits among the unknown nodes.
    leaving (P, links): 1 where a link leaves the flow node of a circuit, -1 where it arrives there. loop_of_link
    (links): -1 for shared pipework and bypasses.
    """

    links: tuple[Index, ...]
    arms: tuple[Index, ...]
    loops: tuple[Index, ...]
    joined: Array | None
    tails: TailConductances
    opens_pa: tuple[float | None, ...]
    back_links: NDArray[np.bool_]
    link_circuit: Index
    members: Array
    bypass_circuit: Index
    parents: Index
    losses: TrunkLoss | None
    driven: Index
    leaving: Array
    loop_of_link: Index

    @classmethod
    def of(
        cls,
        shared_pipework: SharedPipework,
        bypasses: Sequence[Bypass],
        loops: Sequence[LoopPath],
        groups: Sequence[ArmGroup],
        node_equations: NodeEquations,
        links: LoopLinks,
    ) -> SolverIndex:
        """Build the index of a network of these parts; `PipeNetwork` describes their shapes."""
        graph, arm_loop = node_equations.graph, links.arm_loop
        arms = tuple(np.array(group.arms, dtype=np.intp) for group in groups)
        member = arm_loop[None, :] == np.arange(len(loops))[:, None]
        back_links = np.array([not link.is_flow for link in shared_pipework.links], dtype=bool)
        return cls(
            links=tuple(np.stack([links.channel_link[a] for a in group], axis=1) for group in arms),
            arms=arms,
            loops=tuple(arm_loop[group] for group in arms),
            joined=None if arm_loop.size == len(loops) else member.astype(float),
            tails=TailConductances.of(loops),
            opens_pa=tuple(None if b.opens_at_kpa is None else 1000.0 * b.opens_at_kpa for b in bypasses),
            back_links=back_links,
            link_circuit=shared_pipework.link_circuit,
            members=np.concatenate([shared_pipework.of_circuit, shared_pipework.on_link[back_links]]),
            bypass_circuit=np.array([shared_pipework.circuit_of[bypass.trunk] for bypass in bypasses], dtype=np.intp),
            parents=np.array([max(circuit.parent, 0) for circuit in shared_pipework.circuits], dtype=np.intp),
            losses=TrunkLoss.of(shared_pipework),
            driven=np.searchsorted(node_equations.unknown, [circuit.flow for circuit in shared_pipework.circuits]),
            leaving=np.array([(graph.start == c.flow) * 1.0 - (graph.end == c.flow) for c in shared_pipework.circuits]),
            loop_of_link=links.owners(graph.start.size),
        )
