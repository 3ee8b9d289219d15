"""The water's path through each loop: every element it meets, in order, with its bore and losses.

A loop has tails (pipe and valves, carrying all its water) and one arm, or two when it is fed from the
middle. An arm is a chain of cells along the wall (stretches that exchange heat) with one waterway
per channel; its elements point at the nodes between those cells, so that the heat solve gives each element
its temperatures. One element is one waterway of one piece, joint, crossing or end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from heatloop.circuit.rating import Characteristic, profile_characteristic, sill_characteristic
from heatloop.layout.model import Arm, CrossingAt, EndAt, JointAt, Layout, Piece
from heatloop.physics.ducts import Duct, oval_duct, round_duct
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Channel, Pipe, Profile
from heatloop.survey.model import Loop, Survey, Valves

MILLIMETRE_M = 1e-3


@dataclass(frozen=True)
class Element:
    """One stretch of waterway or one fitting.

    `arm` counts from 1, 0 for the tails; `channel` from 1, 0 where the pipe carries all the water.
    `node_in` and `node_out` count the nodes of the arm along the wall from the tails. Zeta is on the
    element's own velocity; `kv_m3_h` is None unless the element is a valve.
    """

    kind: str
    label: str
    room: str
    arm: int
    channel: int
    direction: str
    duct: Duct
    roughness_m: float
    length_m: float = 0.0
    zeta: float = 0.0
    kv_m3_h: float | None = None
    valve: str | None = None
    wall: int | None = None
    from_m: float | None = None
    to_m: float | None = None
    node_in: int = 0
    node_out: int = 0


@dataclass(frozen=True)
class Cell:
    """A stretch that exchanges heat: its characteristic times `factor`, in the room at `room_c`."""

    room: str
    room_c: float
    length_m: float
    characteristic: Characteristic
    factor: float
    label: str


@dataclass(frozen=True)
class ArmPath:
    """One run of skirting: its cells in order from the tails, and the elements of each channel in
    water order (a home channel's begin at the far end)."""

    directions: tuple[int, ...]
    cells: tuple[Cell, ...]
    channels: tuple[tuple[Element, ...], ...]
    flow_valve: tuple[Element, ...] = ()
    return_valve: tuple[Element, ...] = ()


@dataclass(frozen=True)
class LoopPath:
    """A loop from where its tails join the distribution and back."""

    loop: Loop
    profile: Profile
    tail_flow: tuple[Element, ...]
    arms: tuple[ArmPath, ...]
    tail_return: tuple[Element, ...]

    def elements(self) -> Iterator[Element]:
        """All elements in the order of the report: tails, each arm out and home, tails."""
        yield from self.tail_flow
        for arm in self.arms:
            yield from arm.flow_valve
            for direction in (1, -1):
                for channel, sign in zip(arm.channels, arm.directions, strict=True):
                    if sign == direction:
                        yield from channel
            yield from arm.return_valve
        yield from self.tail_return

    @property
    def water_l(self) -> float:
        """Water held by the loop and its tails, litres."""
        return sum(e.duct.content_l_m * e.length_m for e in self.elements())


def channel_duct(channel: Channel) -> Duct:
    """The waterway of a profile's channel: round by its bore or oval by its axes."""
    if channel.bore_mm is not None:
        return round_duct(channel.bore_mm * MILLIMETRE_M)
    if channel.width_mm is None or channel.height_mm is None:
        raise ValueError("a channel wants bore_mm, or width_mm and height_mm")
    return oval_duct(channel.width_mm * MILLIMETRE_M, channel.height_mm * MILLIMETRE_M)


def channel_directions(profile: Profile, loop: Loop) -> tuple[int, ...]:
    """+1 for each channel that carries water away from the tails, -1 for each that brings it home.

    There-and-back sends the upper half (the greater half of three) out and the rest home.
    """
    count = len(profile.channels)
    if loop.arrangement == "one-way":
        return (1,) * count
    if count < 2:
        raise ValueError(f"profile {profile.name!r} has one channel and cannot run there-and-back")
    out = (count + 1) // 2
    return (1,) * out + (-1,) * (count - out)


def loop_paths(survey: Survey, layout: Layout, water: Fluid) -> tuple[LoopPath, ...]:
    """The water path of every loop of the survey, in its order."""
    return tuple(_loop_path(survey, layout, loop, water) for loop in survey.loops)


def _loop_path(survey: Survey, layout: Layout, loop: Loop, water: Fluid) -> LoopPath:
    profile = survey.catalogue.profile(loop.profile)
    tail = survey.catalogue.pipe(loop.tails.pipe)
    one_way = loop.arrangement == "one-way"
    arms = layout.loop(loop.name).arms
    arm_valves = loop.arm_valves or (Valves(),) * len(arms)
    flow = (
        _pipe("tail", "flow tail", tail, loop.tails.flow_m, loop.tails.zeta, "flow"),
        *_valve(survey, loop.valves.flow, tail, 0, "flow"),
    )
    back = (
        *_valve(survey, loop.valves.return_, tail, 0, "return"),
        _pipe("tail", "return tail", tail, loop.tails.return_m, loop.tails.zeta, "return"),
    )
    return LoopPath(
        loop=loop,
        profile=profile,
        tail_flow=flow,
        arms=tuple(
            _arm_path(survey, loop, profile, arm, number, water, valves, tail, one_way)
            for number, (arm, valves) in enumerate(zip(arms, arm_valves, strict=True), start=1)
        ),
        tail_return=back,
    )


def _arm_path(
    survey: Survey,
    loop: Loop,
    profile: Profile,
    arm: Arm,
    number: int,
    water: Fluid,
    valves: Valves,
    tail: Pipe,
    one_way: bool,
) -> ArmPath:
    directions = channel_directions(profile, loop)
    ducts = [channel_duct(channel) for channel in profile.channels]
    laid = profile_characteristic(profile, water)
    cells: list[Cell] = []
    stations: list[tuple[Piece | JointAt | CrossingAt | EndAt, int, int]] = []
    for item in arm.elements:
        before = len(cells)
        if isinstance(item, Piece):
            characteristic = laid if item.sill is None else sill_characteristic(profile)
            room_c = survey.room(item.room).indoor_c
            cells.extend(
                Cell(item.room, room_c, s.length_m, characteristic, s.factor, item.label)
                for s in item.segments
                if s.length_m > 0
            )
        stations.append((item, before, len(cells)))
    channels = []
    for index, (duct, sign) in enumerate(zip(ducts, directions, strict=True), start=1):
        direction = "flow" if sign > 0 else "return"
        ordered = stations if sign > 0 else stations[::-1]
        channels.append(
            tuple(
                _station(survey, profile, item, span if sign > 0 else span[::-1], number, index, direction, duct)
                for item, *span in ordered
                if not (isinstance(item, EndAt) and item.kind == "turn end" and sign < 0)
            )
        )
    return ArmPath(
        directions=directions,
        cells=tuple(cells),
        channels=tuple(channels),
        flow_valve=_valve(survey, valves.flow, tail, number, "flow"),
        return_valve=_valve(survey, valves.return_, tail, number, "flow" if one_way else "return"),
    )


def _station(
    survey: Survey,
    profile: Profile,
    item: Piece | JointAt | CrossingAt | EndAt,
    span: list[int],
    arm: int,
    channel: int,
    direction: str,
    duct: Duct,
) -> Element:
    """The element of one channel at one place of the run; a turn's loss counts once, going out."""
    node_in, node_out = span
    roughness = profile.roughness_mm * MILLIMETRE_M
    match item:
        case Piece():
            kind = "piece" if item.sill is None else "sill"
            return Element(
                kind, item.label, item.room, arm, channel, direction, duct, roughness,
                length_m=item.tape_m, wall=item.wall, from_m=item.from_m, to_m=item.to_m,
                node_in=node_in, node_out=node_out,
            )  # fmt: skip
        case CrossingAt():
            pipe = survey.catalogue.pipe(item.pipe)
            return Element(
                "crossing", item.reason, item.heats, arm, channel, direction,
                round_duct(pipe.bore_m), pipe.roughness_mm * MILLIMETRE_M,
                length_m=item.length_m, zeta=item.zeta, wall=item.wall, from_m=item.from_m, to_m=item.to_m,
                node_in=node_in, node_out=node_out,
            )  # fmt: skip
        case JointAt():
            kind, label = "joint", item.kind
        case EndAt():
            kind, label = "end", item.kind
    return Element(
        kind, label, item.room, arm, channel, direction, duct, roughness,
        zeta=item.zeta, wall=item.wall, from_m=item.at_m, to_m=item.at_m, node_in=node_in, node_out=node_out,
    )  # fmt: skip


def _pipe(kind: str, label: str, pipe: Pipe, length_m: float, zeta: float, direction: str) -> Element:
    return Element(
        kind, label, "", 0, 0, direction, round_duct(pipe.bore_m), pipe.roughness_mm * MILLIMETRE_M, length_m, zeta
    )


def _valve(survey: Survey, name: str | None, pipe: Pipe, arm: int, direction: str) -> tuple[Element, ...]:
    """A valve fully open (a thermostatic one at its proportional band), or nothing."""
    if name is None:
        return ()
    valve = survey.catalogue.valve(name)
    return (
        Element(
            "valve", name, "", arm, 0, direction, round_duct(pipe.bore_m), pipe.roughness_mm * MILLIMETRE_M,
            kv_m3_h=valve.kv_open_m3_h, valve=name,
        ),
    )  # fmt: skip


def rooms_of(path: LoopPath) -> tuple[str, ...]:
    """The rooms a loop heats, in water order, each once."""
    seen: dict[str, None] = {}
    for arm in path.arms:
        for cell in arm.cells:
            seen.setdefault(cell.room, None)
    return tuple(seen)


def lengths_balance(arm: ArmPath) -> bool:
    """Whether each element of a channel starts at the node where the one before it ended."""
    return all(a.node_out == b.node_in for channel in arm.channels for a, b in pairwise(channel))
