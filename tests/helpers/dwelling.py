"""A dwelling of twelve loops and 480 elements, built for this library, for pandapipes and for EPANET.

Two trunks, six loops on each. A loop has 40 elements: tails and valves (4), nine pieces and eight joints each
way (34), the turn end and a fitting at the return (2). Loops go there and back through two channels that pass heat
to each other; the peers know no such pair, so their pipes lose heat to the room in proportion to the excess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatloop.hydraulics.model import ArmPath, Cell, Characteristic, LoopPath, PathElement
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.trial_solution import TrialSolution, loops_network
from heatloop.physics.ducts import round_duct
from heatloop.physics.water import plain_water
from heatloop.survey.catalogue import Pipe
from heatloop.survey.loops import Loop, Tails
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.water_system import Trunk

SUPPLY_C, ROOM_C, HEAD_PA = 50.0, 20.0, 12e3
CHANNEL, TAIL = round_duct(0.013), round_duct(0.0136)
ROUGHNESS_M = 1.5e-6
PIECES = 9
LAW = Characteristic(k_w_mkn=150.0 / 50.0**1.28, exponent=1.28, link_w_mk=5.0)
PIPES = {name: Pipe(name, bore, bore + 1.8) for name, bore in (("trunk 28", 26.2), ("trunk 22", 20.2))}
TRUNKS = (Trunk("low", "trunk 28", 6.0, zeta=2.0), Trunk("high", "trunk 22", 5.0, from_trunk="low", zeta=2.0))
PROFILE = Profile("plain pair", 140, 26, (Channel(13.0), Channel(13.0)), OutputRating(150, 1.28), (5.0,))


def loop_path(
    name: str,
    trunk: str | None,
    piece_m: float,
    *,
    pieces: int = PIECES,
    tail_m: float = 4.0,
    kv_m3_h: float = 0.6,
    rooms_c: tuple[float, ...] = (ROOM_C,),
    law: Characteristic = LAW,
    film: bool = False,
    one_way: bool = False,
) -> LoopPath:
    """A loop by its numbers: there and back in two channels, or one-way in one."""
    loop = Loop(name, PROFILE.name, "one-way" if one_way else "there-and-back", (), Tails("", tail_m, tail_m), trunk)
    cells = tuple(
        Cell("room", rooms_c[i * len(rooms_c) // pieces], piece_m, law, 1.0, f"{i}", film=film) for i in range(pieces)
    )

    def channel(number: int, out: bool) -> tuple[PathElement, ...]:
        found: list[PathElement] = []
        direction = "flow" if out else "return"

        def add(kind: str, node_in: int, node_out: int, length_m: float = 0.0, zeta: float = 0.0) -> None:
            found.append(
                PathElement(
                    kind,
                    kind,
                    "room",
                    1,
                    number,
                    direction,
                    CHANNEL,
                    ROUGHNESS_M,
                    length_m,
                    zeta,
                    node_in=node_in,
                    node_out=node_out,
                )
            )

        order = range(pieces) if out else range(pieces - 1, -1, -1)
        for place, i in enumerate(order):
            add("piece", *((i, i + 1) if out else (i + 1, i)), length_m=piece_m)
            if place < pieces - 1:
                node = i + 1 if out else i
                add("joint", node, node, zeta=0.9)
        add("end", *((pieces, pieces) if out else (0, 0)), zeta=2.2 if out else 0.5)
        return tuple(found)

    directions = (1,) if one_way else (1, -1)
    arm = ArmPath(
        directions=directions,
        ducts=(CHANNEL,) * len(directions),
        cells=cells,
        channels=tuple(channel(i, sign > 0) for i, sign in enumerate(directions, start=1)),
    )

    def tail(kind: str, direction: str, kv: float | None = None) -> PathElement:
        length_m, valve = (0.0, kind) if kv else (tail_m, None)
        return PathElement(kind, kind, "", 0, 0, direction, TAIL, ROUGHNESS_M, length_m, 0.0, kv, valve)

    return LoopPath(
        loop=loop,
        profile=PROFILE,
        tail_flow=(tail("tail", "flow"), tail("valve", "flow", kv_m3_h)),
        arms=(arm,),
        tail_return=(tail("valve", "return", kv_m3_h), tail("tail", "return")),
    )


def dwelling(loops: int = 12, film: bool = False) -> PipeNetwork:
    """The dwelling, or one of the same kind with any number of loops: a pair of trunks for every twelve."""
    trunks, paths = list(TRUNKS), []
    while len(trunks) * 6 < loops:
        low = Trunk(f"low {len(trunks)}", "trunk 28", 6.0, zeta=2.0)
        trunks += [low, Trunk(f"high {len(trunks)}", "trunk 22", 5.0, from_trunk=low.name, zeta=2.0)]
    for i in range(loops):
        kv = 0.3 + 0.05 * (i % 7)
        rooms = (20.0 + 2.0 * (i % 2), 18.0)
        paths.append(
            loop_path(f"loop {i}", trunks[i // 6].name, 1.0 + 0.06 * (i % 12), kv_m3_h=kv, rooms_c=rooms, film=film)
        )
    return build_network(paths, PipeworkInput(trunks, PIPES))


def two_loops() -> TrialSolution:
    """Rooms at 20 and 15 °C, two metres in one and four in the other; and six metres in one at 20."""
    both = loop_path("a", None, 1.0, pieces=6, rooms_c=(20.0, 15.0, 15.0))
    return TrialSolution(
        loops_network([both, loop_path("b", None, 1.0, pieces=6)]), np.array([50.0, 40.0]), plain_water()
    )


@dataclass(frozen=True)
class Peer:
    """The dwelling as plain pipes: start node, end node and element of each; loops' elements one after the other.

    Node 0 is the return at the source, node 1 the flow, as in the assembly.
    """

    nodes: int
    start: np.ndarray
    end: np.ndarray
    elements: tuple[PathElement, ...]
    first_of_loop: np.ndarray


def plain_pipes(network: PipeNetwork) -> Peer:
    """One pipe for every element, with nodes of its own between the elements of a link."""
    links = network.elements.link
    count = network.graph.nodes
    start, end = np.empty(links.size, int), np.empty(links.size, int)
    for link in range(network.graph.start.size):
        members = np.flatnonzero(links == link)
        between = np.arange(count, count + members.size - 1)
        count += between.size
        start[members] = [network.graph.start[link], *between]
        end[members] = [*between, network.graph.end[link]]
    places = network.locations
    loops = [next(i for i, place in enumerate(places) if place.loop == n) for n in range(len(network.loops))]
    return Peer(count, start, end, tuple(place.element for place in places), np.array(loops))


def zeta_of(element: PathElement) -> float:
    """Local losses of an element as one zeta on its own bore: fittings, and the valve by its Kv."""
    if element.kv_m3_h is None:
        return element.zeta
    at_1_m_s = 3600.0 * element.duct.area_m2 / element.kv_m3_h
    return element.zeta + 200.0 * at_1_m_s**2


MIN_LENGTH_M = 0.01
"""What has no length here (joints, valves) is a centimetre of pipe to the peers."""


def epanet_file(peer: Peer, head_pa: float, water_at: tuple[float, float, float]) -> str:
    """EPANET's input file of the peer: Darcy-Weisbach, litres a second, millimetres, metres of water."""
    density, _, viscosity = water_at
    head_m = head_pa / (density * 32.2 * 0.3048)
    lines = ["[JUNCTIONS]", *(f" n{i} 0 0" for i in range(2, peer.nodes)), "[RESERVOIRS]", " n0 0", f" n1 {head_m:.9f}"]
    lines.append("[PIPES]")
    for i, (start, end, element) in enumerate(zip(peer.start, peer.end, peer.elements, strict=True)):
        bore_mm = element.duct.hydraulic_diameter_m * 1000.0
        length_m = max(element.length_m, MIN_LENGTH_M)
        roughness_mm = element.roughness_m * 1000.0
        lines.append(f" p{i} n{start} n{end} {length_m:.6f} {bore_mm:.6f} {roughness_mm:.6f} {zeta_of(element):.6f}")
    relative_viscosity = viscosity / density / (1.1e-5 * 0.3048**2)
    lines += ["[OPTIONS]", " UNITS LPS", " HEADLOSS D-W", f" VISCOSITY {relative_viscosity:.8f}"]
    lines += [" ACCURACY 0.000001", " TRIALS 200", "[TIMES]", " DURATION 0", "[END]"]
    return "\n".join(lines) + "\n"
