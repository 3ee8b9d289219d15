"""Water path through each loop: every element in order, with its bore and losses.

A loop has tails (pipe and valves that carry all its water) and one arm, or two if it is centre-fed. An arm is
a chain of cells along the wall with one waterway for each channel. A cell is a stretch that exchanges heat. The
elements refer to the nodes between cells, from which the heat calculation gives each element its temperatures. One
element is one waterway of one piece, joint, crossing or end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.heat_loss.rooms import wall_u_w_m2k
from heatloop.hydraulics.heat.profile_rating import (
    AS_RATED,
    IdentificationInput,
    RatingInterpretation,
    channel_duct,
    characteristics,
    there_and_back,
)
from heatloop.hydraulics.model import (
    ArmPath,
    Cell,
    Characteristic,
    EmitterCharacteristic,
    LoopPath,
    PathElement,
    Side,
    TailLoss,
)
from heatloop.layout.model import Arm, Layout, Piece, PlacedCrossing, PlacedEnd, PlacedJoint, RunElement
from heatloop.physics.ducts import Duct, round_duct
from heatloop.physics.emitters import emitter_constant_w_kn
from heatloop.physics.heat_transfer import pipe_loss_w_mk
from heatloop.physics.water import plain_water
from heatloop.survey.building import Room
from heatloop.survey.catalogue import Pipe
from heatloop.survey.loops import Loop, Valves
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData


def channel_directions(profile: Profile, loop: Loop) -> tuple[int, ...]:
    """Direction of each channel: +1 away from the tails, -1 back to them.

    In there-and-back the upper half of the channels (of three, the upper two) is outward and the rest is return.
    """
    count = len(profile.channels)
    return (1,) * count if loop.arrangement == "one-way" else there_and_back(count)


ProfileCharacteristics = Mapping[str, Mapping[bool, Characteristic]]
"""Constants by profile, on the wall (False) and, where the survey has floor sections, laid in the floor (True)."""


def loop_paths(
    survey: SurveyData, layout: Layout, characteristics: ProfileCharacteristics | None = None
) -> tuple[LoopPath, ...]:
    """Water path of every loop of the survey, in its order; `characteristics` of its profiles if they are calculated
    already."""
    characteristics = (
        characteristics or profile_characteristics(survey, layout, [RatingAssumptions(survey.project.water_film)])[0]
    )
    walls = _WallsBehind(survey)
    return tuple(_loop_path(walls, layout, loop, characteristics.get(loop.profile, {})) for loop in survey.loops)


class _WallsBehind:
    """U-values of the walls behind skirting, each calculated once."""

    def __init__(self, survey: SurveyData) -> None:
        self.survey, self.rooms = survey, {room.name for room in survey.rooms}
        self._u_w_m2k: dict[tuple[str, int], float] = {}

    def u_w_m2k(self, room: str, wall: int) -> float:
        """U-value of a wall, 0 for walls without heat loss: towards heated rooms, and estimated ones (number 0)."""
        if (room, wall) not in self._u_w_m2k:
            self._u_w_m2k[room, wall] = self._calculated(room, wall)
        return self._u_w_m2k[room, wall]

    def _calculated(self, room: str, wall: int) -> float:
        if wall == 0:
            return 0.0
        beyond = self.survey.room(room).walls[wall - 1].beyond
        if beyond is None or beyond in self.rooms:
            return 0.0
        return wall_u_w_m2k(self.survey, room, wall) or 0.0


@dataclass(frozen=True)
class RatingAssumptions:
    """Assumptions for the ratings of a survey: with or without water film, by profile where not as usual."""

    film: bool
    readings: Mapping[str, RatingInterpretation] = field(default_factory=dict)


def profile_characteristics(
    survey: SurveyData, layout: Layout, cases: Sequence[RatingAssumptions]
) -> list[ProfileCharacteristics]:
    """Constants of the survey's profiles for each set of rating assumptions, all calculated together.

    Rating tests use plain water, whatever the fluid of the system. Raises InputError where a test has no constant.
    """
    has_floor_section = any(piece.floor_section is not None for loop in layout.loops for piece in loop.pieces)
    keys, required = [], []
    for number, case in enumerate(cases):
        for profile in survey.profiles:
            name, reading = profile.name, case.readings.get(profile.name, AS_RATED)
            for flat in (False, True) if has_floor_section and profile.floor_section is not None else (False,):
                keys.append((number, name, flat))
                required.append(IdentificationInput(profile, case.film, reading, flat))
    characteristics: list[dict[str, dict[bool, Characteristic]]] = [{} for _ in cases]
    for (number, name, flat), characteristic in zip(keys, _identified(survey, required), strict=True):
        characteristics[number].setdefault(name, {})[flat] = characteristic
    return list(characteristics)


def _identified(survey: SurveyData, required: Sequence[IdentificationInput]) -> Sequence[Characteristic]:
    try:
        return _with_plain_water(tuple(required))
    except ValueError:
        faults = []
    for test in required:
        try:
            characteristics([test], plain_water())
        except ValueError as error:
            place, sought = (
                f'profile "{test.profile.name}", rating',
                "a rating test that the channel equations can give",
            )
            faults.append(InputIssue(survey.catalogue_file, place, str(error), sought))
    raise InputError(dict.fromkeys(faults))


@lru_cache(maxsize=32)  # a report solves the same profiles some twenty times, and an identification takes milliseconds
def _with_plain_water(required: tuple[IdentificationInput, ...]) -> tuple[Characteristic, ...]:
    return characteristics(required, plain_water())


@dataclass(frozen=True)
class _LaidLoop:
    """A loop of skirting: its profile, the constants of the profile on wall and in floor, and its tail pipe."""

    survey: SurveyData
    walls: _WallsBehind
    loop: Loop
    profile: Profile
    characteristics: Mapping[bool, Characteristic]
    pipe: Pipe


class _Way(NamedTuple):
    """One channel of an arm, both counted from 1, and the direction of its water."""

    arm: int
    channel: int
    direction: Side
    duct: Duct
    roughness_m: float


def _loop_path(
    walls: _WallsBehind, layout: Layout, loop: Loop, characteristics: Mapping[bool, Characteristic]
) -> LoopPath:
    survey = walls.survey
    profile = survey.catalogue.profile(loop.profile) if loop.profile else None
    tail = survey.catalogue.pipe(loop.tails.pipe)
    arms = layout.loop(loop.name).arms
    arm_valves = loop.arm_valves or (Valves(),) * len(arms)
    flow = (
        _tail(tail, loop.tails.flow_m, loop.tails.zeta, "flow"),
        *_valve(survey, loop.valves.flow, tail, 0, "flow"),
        *_emitters(survey, loop, tail, "flow"),
    )
    back = (
        *_emitters(survey, loop, tail, "return"),
        *_valve(survey, loop.valves.return_, tail, 0, "return"),
        _tail(tail, loop.tails.return_m, loop.tails.zeta, "return"),
    )
    room = survey.room(arms[0].pieces[0].room if arms else loop.emitters[0].room)
    if profile is None:
        paths: tuple[ArmPath, ...] = (_no_skirting(room, tail),)
    else:
        context = _LaidLoop(survey, walls, loop, profile, characteristics, tail)
        paths = tuple(
            _arm_path(context, arm, number, valves)
            for number, (arm, valves) in enumerate(zip(arms, arm_valves, strict=True), start=1)
        )
    return LoopPath(loop, profile, flow, paths, back, _tail_loss(survey, loop, tail, room))


def _no_skirting(room: Room, pipe: Pipe) -> ArmPath:
    """Arm of a loop that has only other emitters: bare pipe without output and without elements."""
    nothing = Characteristic(0.0, 1.0, 0.0)
    cell = Cell(room.name, room.indoor_c, 1.0, nothing, 1.0, "", film=False, skirting=False, useful=0.0)
    return ArmPath((1,), (round_duct(pipe.bore_m),), (cell,), ((),))


def _tail_loss(survey: SurveyData, loop: Loop, pipe: Pipe, room: Room) -> TailLoss:
    loss_w_mk = _pipe_loss_w_mk(survey, pipe)
    tails = loop.tails
    return TailLoss(loss_w_mk * tails.flow_m, loss_w_mk * tails.return_m, room.indoor_c, room.name, tails.useful_share)


def _pipe_loss_w_mk(survey: SurveyData, pipe: Pipe) -> float:
    """Heat loss of pipe in W/(m K); 0 where the survey excludes pipe losses."""
    if not survey.project.pipe_losses:
        return 0.0
    return pipe_loss_w_mk(pipe.outside_mm, pipe.insulation_mm, pipe.insulation_conductivity_w_mk)


def _arm_path(loop: _LaidLoop, arm: Arm, number: int, valves: Valves) -> ArmPath:
    survey, profile, pipe = loop.survey, loop.profile, loop.pipe
    directions = channel_directions(profile, loop.loop)
    ducts = tuple(channel_duct(channel) for channel in profile.channels)
    cells: list[Cell] = []
    stations: list[tuple[RunElement, int, int]] = []
    for item in arm.elements:
        before = len(cells)
        if isinstance(item, Piece):
            cells += _piece_cells(loop, item)
        elif isinstance(item, PlacedCrossing):
            cells += _crossing_cells(survey, loop.loop, item, len(ducts))
        stations.append((item, before, len(cells)))
    channels = []
    for index, (duct, sign) in enumerate(zip(ducts, directions, strict=True), start=1):
        way = _Way(number, index, "flow" if sign > 0 else "return", duct, profile.roughness_mm / 1000.0)
        ordered = stations if sign > 0 else stations[::-1]
        channels.append(
            tuple(
                _station(survey, item, way, span if sign > 0 else span[::-1])
                for item, *span in ordered
                if not (isinstance(item, PlacedEnd) and item.kind == "turn end" and sign < 0)
            )
        )
    one_way = loop.loop.arrangement == "one-way"
    return ArmPath(
        directions=directions,
        ducts=ducts,
        cells=tuple(cells),
        channels=tuple(channels),
        flow_valve=_valve(survey, valves.flow, pipe, number, "flow"),
        return_valve=_valve(survey, valves.return_, pipe, number, "flow" if one_way else "return"),
    )


def _dress_factor(profile: Profile, loop: Loop) -> float:
    """Factor of the finish and cover of a loop on its output, from the catalogue."""
    chosen = ((profile.finishes, loop.finish), (profile.covers, loop.cover))
    return math.prod(item.factor for items, name in chosen for item in items if item.name == name)


def _downward_loss_w_mk(profile: Profile) -> float:
    return 0.0 if profile.floor_section is None else profile.floor_section.downward_loss_w_mk


def _piece_cells(loop: _LaidLoop, piece: Piece) -> list[Cell]:
    """Cells of a piece: one for each stretch with its own output factor."""
    survey, profile, characteristic = loop.survey, loop.profile, loop.characteristics[piece.floor_section is not None]
    dressed = 1.0 if piece.floor_section else _dress_factor(profile, loop.loop)
    film = survey.project.water_film and profile.rating.flow_exponent is None
    room_c = survey.room(piece.room).indoor_c
    return [
        Cell(
            piece.room, room_c, segment.length_m, characteristic, segment.factor * dressed, piece.label, film,
            back_w_mk=0.0 if piece.floor_section else _back_w_mk(loop, piece.room, segment.wall),
            downward_loss_w_mk=_downward_loss_w_mk(profile) if piece.floor_section else 0.0,
        )
        for segment in piece.segments
        if segment.length_m > 0
    ]  # fmt: skip


def _back_w_mk(loop: _LaidLoop, room: str, wall: int) -> float:
    """Heat loss through the wall behind the skirting in W/(m K): U times height.

    The temperature difference is that of skirting and room.
    """
    return loop.walls.u_w_m2k(room, wall) * loop.profile.height_mm / 1000.0


def _crossing_cells(survey: SurveyData, loop: Loop, crossing: PlacedCrossing, channels: int) -> list[Cell]:
    """The pipes of a crossing, one for each channel, as a cell of their own."""
    loss_w_mk = _pipe_loss_w_mk(survey, survey.catalogue.pipe(crossing.pipe))
    if loss_w_mk == 0.0 or crossing.length_m <= 0.0:
        return []
    room = survey.room(crossing.heats)
    useful = loop.crossing.useful_share if loop.crossing is not None else 0.0
    characteristic = Characteristic(loss_w_mk * channels, 1.0, 0.0)
    return [
        Cell(room.name, room.indoor_c, crossing.length_m, characteristic, 1.0, crossing.reason, False, False, useful)
    ]


def _station(survey: SurveyData, item: RunElement, way: _Way, span: list[int]) -> PathElement:
    """Element of one channel at one position of the run; the loss of a turn is counted once, in the outward channel."""
    node_in, node_out = span
    arm, channel, direction, duct, roughness_m = way
    match item:
        case Piece():
            return PathElement(
                "piece" if item.floor_section is None else "floor section",
                item.label, item.room, arm, channel, direction, duct, roughness_m,
                length_m=item.tape_m, wall=item.wall, from_m=item.from_m, to_m=item.to_m,
                node_in=node_in, node_out=node_out,
            )  # fmt: skip
        case PlacedCrossing():
            pipe = survey.catalogue.pipe(item.pipe)
            return PathElement(
                "crossing", item.reason, item.heats, arm, channel, direction,
                round_duct(pipe.bore_m), pipe.roughness_mm / 1000.0,
                length_m=item.length_m, zeta=item.zeta, wall=item.wall, from_m=item.from_m, to_m=item.to_m,
                node_in=node_in, node_out=node_out,
            )  # fmt: skip
    return PathElement(
        "joint" if isinstance(item, PlacedJoint) else "end",
        item.kind, item.room, arm, channel, direction, duct, roughness_m,
        zeta=item.zeta, wall=item.wall, from_m=item.at_m, to_m=item.at_m, node_in=node_in, node_out=node_out,
    )  # fmt: skip


SHORTEST_TAIL_M = 0.001
"""A shorter tail is calculated with this length: a line of a network must have some resistance."""


def tail_length_m(length_m: float) -> float:
    """Length with which a tail of this length is calculated."""
    return max(length_m, SHORTEST_TAIL_M)


def _tail(pipe: Pipe, length_m: float, zeta: float, direction: Side) -> PathElement:
    label, roughness_m, length_m = f"{direction} tail", pipe.roughness_mm / 1000.0, tail_length_m(length_m)
    return PathElement("tail", label, "", 0, 0, direction, round_duct(pipe.bore_m), roughness_m, length_m, zeta)


def _emitters(survey: SurveyData, loop: Loop, pipe: Pipe, side: Side) -> Iterator[PathElement]:
    """Other emitters on one side of a loop, in water order; local losses refer to the bore of the tails."""
    for place, item in enumerate(loop.emitters, start=1):
        if item.side != side:
            continue
        try:
            emitter, room = survey.catalogue.emitter(item.emitter), survey.room(item.room)
        except KeyError as error:
            where, required = (
                f'loop "{loop.name}", emitter {place}',
                "an emitter of the catalogue, a room of the survey",
            )
            raise InputError([survey.fault(where, str(error.args[0]), required)]) from error
        yield PathElement(
            "emitter", emitter.name, room.name, 0, 0, side, round_duct(pipe.bore_m), pipe.roughness_mm / 1000.0,
            zeta=emitter.zeta or 0.0, kv_m3_h=emitter.kv_m3_h, holds_l=emitter.water_l,
            emits=EmitterCharacteristic(
                emitter_constant_w_kn(emitter.output_w, emitter.exponent), emitter.exponent, room.indoor_c,
            ),
        )  # fmt: skip


def _valve(survey: SurveyData, name: str | None, pipe: Pipe, arm: int, direction: Side) -> tuple[PathElement, ...]:
    """A fully open valve (a thermostatic one at its proportional band), or nothing."""
    if name is None:
        return ()
    valve = survey.catalogue.valve(name)
    return (
        PathElement(
            "valve", name, "", arm, 0, direction, round_duct(pipe.bore_m), pipe.roughness_mm / 1000.0,
            kv_m3_h=valve.kv_open_m3_h, valve=name,
        ),
    )  # fmt: skip


def rooms_of(path: LoopPath) -> tuple[str, ...]:
    """Rooms that a loop heats, in water order, each once."""
    skirting = [cell.room for arm in path.arms for cell in arm.cells if cell.skirting]
    before, after = ([e.room for e in tail if e.emits is not None] for tail in (path.tail_flow, path.tail_return))
    return tuple(dict.fromkeys((*before, *skirting, *after)))
