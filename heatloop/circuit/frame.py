"""What every solve of an assembly wants to know of it, worked out once: which links are whose, and who joins where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from heatloop.circuit.main_loss import MainLoss
from heatloop.circuit.tails import TailSides

if TYPE_CHECKING:
    from heatloop.circuit.assembly import Assembly

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Frame:
    """By group: links (C, R) of its arms' channels, arms (R) by their places, loops (R) they belong to. joined (L, A):
    1 where an arm is a loop's, None where every loop has one arm. `opens_pa` of each bypass (None: always open).
    back_links (K): whether a main is a return; members (P + returns, N): 1 where a stream's water belongs to a circuit
    and passes a return. bypass_circuit (B); parents (P): the circuit each draws from (the source's: itself);
    `losses` of the mains, None where they lose nothing; driven (P): the circuits' flow nodes among the unknown ones;
    leaving (P, links): 1 where a link leaves a circuit's flow node, -1 where it comes there. loop_of_link (links): -1
    for mains and bypasses. `climbs`: whether water anywhere rises."""

    links: tuple[Index, ...]
    arms: tuple[Index, ...]
    loops: tuple[Index, ...]
    joined: Array | None
    tails: TailSides
    opens_pa: tuple[float | None, ...]
    back_links: NDArray[np.bool_]
    link_circuit: Index
    members: Array
    bypass_circuit: Index
    parents: Index
    losses: MainLoss | None
    driven: Index
    leaving: Array
    loop_of_link: Index
    climbs: bool

    @classmethod
    def of(cls, assembly: Assembly) -> Frame:
        """Of this assembly."""
        mains, bypasses = assembly.mains, assembly.bypasses
        arms = tuple(np.array(group.arms, dtype=np.intp) for group in assembly.groups)
        member = assembly.arm_loop[None, :] == np.arange(len(assembly.loops))[:, None]
        back_links = np.array([not link.is_flow for link in mains.links], dtype=bool)
        return cls(
            links=tuple(np.stack([assembly.channel_link[a] for a in group], axis=1) for group in arms),
            arms=arms,
            loops=tuple(assembly.arm_loop[group] for group in arms),
            joined=None if len(assembly.arms) == len(assembly.loops) else member.astype(float),
            tails=TailSides.of(assembly.loops),
            opens_pa=tuple(None if b.opens_at_kpa is None else 1000.0 * b.opens_at_kpa for b in bypasses),
            back_links=back_links,
            link_circuit=mains.link_circuit,
            members=np.concatenate([mains.of_circuit, mains.on_link[back_links]]),
            bypass_circuit=np.array([mains.circuit_of[bypass.trunk] for bypass in bypasses], dtype=np.intp),
            parents=np.array([max(circuit.parent, 0) for circuit in mains.circuits], dtype=np.intp),
            losses=MainLoss.of(mains),
            driven=np.searchsorted(assembly.wiring.unknown, [circuit.flow for circuit in mains.circuits]),
            leaving=np.array(
                [(assembly.network.start == c.flow) * 1.0 - (assembly.network.end == c.flow) for c in mains.circuits]
            ),
            loop_of_link=_loops_of_links(assembly),
            climbs=bool(np.any(assembly.rise_m)),
        )


def _loops_of_links(assembly: Assembly) -> Index:
    found = np.full(assembly.network.start.size, -1)
    found[assembly.loop_link] = np.arange(len(assembly.loops))
    for links, loop in zip(assembly.channel_link, assembly.arm_loop, strict=True):
        found[links] = loop
    return found
