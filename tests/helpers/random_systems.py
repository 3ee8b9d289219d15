"""Whole surveys drawn from a seed: rooms, loops of every kind, trunks, bypasses and valves of the catalogues here."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

import heatloop as hl
from heatloop.survey.building import Building, FloorOrCeiling, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.loops import CrossingRule, Loop, LoopEmitter, RouteCrossing, RouteWalls, Tails, Valves
from heatloop.survey.profiles import Channel
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Antifreeze, Bypass, PumpCurve, Source, Trunk
from tests.helpers.paths import DATA, ROOT

PIPES = ("copper 15", "copper 22", "copper 28")
PUMP = PumpCurve((0.0, 1.0, 2.0, 4.0), (90.0, 80.0, 60.0, 10.0))
LEVELS_M = (0.0, 2.7, 5.4)
VALVES = (
    Valves("thermostatic 15", "lockshield 15"), Valves(None, "lockshield 15"), Valves("thermostatic 15", None),
    Valves("lockshield 15", None), Valves(), Valves("thermostatic 15", "thermostatic 15"),
)  # fmt: skip


@cache
def catalogue() -> Catalogue:
    """The demonstration catalogue with other emitters and with three waterways unlike each other."""
    lodge = hl.read_survey(DATA / "alder-lodge" / "survey.toml").catalogue
    loft = hl.read_survey(ROOT / "tests" / "surveys" / "harbour-loft" / "survey.toml").catalogue
    three = next(profile for profile in lodge.profiles if len(profile.channels) == 3)
    bores = (Channel(15.0, role="upper"), Channel(10.0, role="middle"), Channel(13.0, role="lower"))
    unlike = replace(three, name="three unlike", channels=bores)
    return replace(lodge, profiles=(*lodge.profiles, unlike), emitters=loft.emitters)


def random_survey(seed: int) -> SurveyData:
    """The survey of a seed, every loop in a room or two of its own: valid, if not always what anybody would build."""
    rng = np.random.default_rng(seed)
    shares = [int(rng.integers(1, 3)) for _ in range(int(rng.integers(1, 7)))]
    levels = np.repeat(rng.choice(LEVELS_M, len(shares)), shares)
    rooms = tuple(_room(rng, f"Room {i}", float(level)) for i, level in enumerate(levels))
    ends = np.cumsum(shares)
    flow_c = round(float(rng.uniform(32.0, 70.0)), 1)
    trunks = _trunks(rng, flow_c)
    # the water must be able to cool by the drop in the warmest room, of the coolest trunk
    spread_k = min([flow_c, *(t.mixed_to_c for t in trunks if t.mixed_to_c)]) - max(room.indoor_c for room in rooms)
    drop_k = round(float(rng.uniform(0.1, 0.4)) * spread_k, 1)
    names = (None, *(trunk.name for trunk in trunks))
    loops = tuple(
        _loop(rng, f"Loop {i}", rooms[end - share : end], names[int(rng.integers(0, len(names)))])
        for i, (share, end) in enumerate(zip(shares, ends, strict=True))
    )
    project = Project(
        f"System {seed}",
        round(float(rng.uniform(-12.0, 8.0)), 1),
        flow_c,
        "",
        delta_t_k=max(drop_k, 1.0),
        size_by="loss" if rng.random() < 0.3 else "drop",
        water_film=bool(rng.random() < 0.7),
        pipe_losses=bool(rng.random() < 0.7),
        buoyancy=bool(rng.random() < 0.3),
        tees=bool(rng.random() < 0.3),
        antifreeze=_antifreeze(rng),
    )
    bypasses = tuple(
        Bypass(f"Bypass {i}", round(float(rng.uniform(0.05, 1.0)), 2), names[int(rng.integers(0, len(names)))],
               round(float(rng.uniform(1.0, 30.0)), 1) if rng.random() < 0.5 else None)
        for i in range(int(rng.integers(0, 3)) if rng.random() < 0.4 else 0)
    )  # fmt: skip
    by_name = {trunk.name: trunk for trunk in trunks}
    return SurveyData(
        project=project,
        building=Building(),
        build_ups=(),
        spaces=(),
        rooms=rooms,
        source=Source(pump=PUMP if rng.random() < 0.7 else None),
        trunks=_in_use(trunks, {*(loop.trunk for loop in loops), *(bypass.trunk for bypass in bypasses)}),
        loops=tuple(
            _mixed(np.random.default_rng((seed, i)), loop, flow_c, _reaches([*trunks], by_name.get(loop.trunk), flow_c))
            for i, loop in enumerate(loops)
        ),
        catalogue=catalogue(),
        bypasses=bypasses,
    )


def _antifreeze(rng: np.random.Generator) -> Antifreeze | None:
    if rng.random() > 0.2:
        return None
    return Antifreeze("propylene glycol", mass_fraction=round(float(rng.uniform(0.1, 0.5)), 2))


def _room(rng: np.random.Generator, name: str, level_m: float) -> Room:
    """A rectangle, one of its walls outdoors with a window, that loses what its size makes likely."""
    long_m, short_m = (round(float(metres), 2) for metres in rng.uniform(2.0, 7.0, 2))
    window = Opening("window", round(0.3 * long_m, 2), round(0.3 * long_m, 2), 1.2, 0.9)
    walls = tuple(
        Wall(length, beyond="neighbour", neighbour_c=18.0, openings=(window,) if i == 0 else ())
        for i, length in enumerate((long_m, short_m, long_m, short_m))
    )
    neighbour = FloorOrCeiling("neighbour", neighbour_c=18.0)
    return Room(
        name, round(float(rng.uniform(15.0, 23.0)), 1), level_m=level_m, walls=walls,
        floor=neighbour, ceiling=neighbour, heat_loss_w=round(long_m * short_m * float(rng.uniform(10.0, 60.0))),
        heat_loss_source="the generator",
    )  # fmt: skip


def _trunks(rng: np.random.Generator, flow_c: float) -> tuple[Trunk, ...]:
    """None to four trunks, some branching off others, some mixed."""
    trunks: list[Trunk] = []
    for i in range(int(rng.integers(0, 5))):
        parent = trunks[int(rng.integers(0, i))] if i and rng.random() < 0.5 else None
        mixed = rng.random() < 0.3
        hottest_c = _reaches(trunks, parent, flow_c)
        trunks.append(
            Trunk(
                f"Trunk {i}", str(rng.choice(PIPES)), round(float(rng.uniform(0.5, 20.0)), 1),
                from_trunk=parent.name if parent else None,
                mixed_to_c=min(hottest_c, round(flow_c - float(rng.uniform(0.0, 0.4)) * (flow_c - 26.0), 1))
                if mixed
                else None,
                pump=PUMP if mixed and rng.random() < 0.5 else None,
                reverse_return=not mixed and rng.random() < 0.2 and not _has_row(trunks, parent),
            )
        )  # fmt: skip
    return tuple(trunks)


def _reaches(trunks: list[Trunk], trunk: Trunk | None, flow_c: float) -> float:
    """The temperature of the water at the end of a trunk: that of the nearest mixing on the way from the source."""
    while trunk is not None:
        if trunk.mixed_to_c is not None:
            return trunk.mixed_to_c
        trunk = next((one for one in trunks if one.name == trunk.from_trunk), None)
    return flow_c


def _has_row(trunks: list[Trunk], parent: Trunk | None) -> bool:
    """Whether a row of reverse-return trunks begins at the end of this one already."""
    name = parent.name if parent else None
    return any(trunk.reverse_return and trunk.from_trunk == name for trunk in trunks)


def _in_use(trunks: tuple[Trunk, ...], hanging: set[str | None]) -> tuple[Trunk, ...]:
    """The trunks that lead to something: what hangs on them, or others that do."""
    used = set(hanging)
    for trunk in reversed(trunks):
        if trunk.name in used:
            used.add(trunk.from_trunk)
    return tuple(trunk for trunk in trunks if trunk.name in used)


def _loop(rng: np.random.Generator, name: str, rooms: tuple[Room, ...], trunk: str | None) -> Loop:
    valves = VALVES[int(rng.choice(len(VALVES), p=(0.5, 0.1, 0.1, 0.1, 0.1, 0.1)))]
    emitters = ("old radiator", "towel rail")
    if rng.random() < 0.1:
        room = rooms[int(rng.integers(0, len(rooms)))].name
        tails = Tails(PIPES[0], 2.0, 2.0)
        own = (LoopEmitter(str(rng.choice(emitters)), room),)
        return Loop(name, "", "one-way", (), tails, trunk, valves, emitters=own)
    profile = str(rng.choice(["two-channel 140", "three-channel 175", "three unlike"]))
    two_arms = bool(rng.random() < 0.2)
    first = rooms[0]
    arms = tuple(_route(rng, first, rooms, side) for side in ((1, 2), (3, 4)))[: 2 if two_arms else 1]
    arm_valves = (Valves(None, "lockshield 15"),) * 2 if two_arms and rng.random() < 0.5 else ()
    out_m, back_m = (round(float(metres), 1) if metres > 1.0 else 0.0 for metres in rng.uniform(0.5, 10.0, 2))
    others = (LoopEmitter(str(rng.choice(emitters)), first.name, "flow" if rng.random() < 0.5 else "return"),)
    one_way = bool(rng.random() < 0.4) and not two_arms  # each arm goes out and returns
    return Loop(
        name, profile, "one-way" if one_way else "there-and-back", arms, Tails(PIPES[0], out_m, back_m),
        trunk, valves, arm_valves=arm_valves, crossing=CrossingRule(PIPES[0], 0.15),
        emitters=others if rng.random() < 0.15 else (),
        sensor_room=first.name,
    )  # fmt: skip


def _mixed(rng: np.random.Generator, loop: Loop, flow_c: float, most_c: float) -> Loop:
    """One loop in ten has a flow temperature of its own, at most that of the water that reaches it."""
    if rng.random() > 0.1:
        return loop
    return replace(loop, flow_temp_c=min(most_c, round(flow_c - float(rng.uniform(0.0, 0.4)) * (flow_c - 26.0), 1)))


def _route(
    rng: np.random.Generator, first: Room, rooms: tuple[Room, ...], walls: tuple[int, int]
) -> tuple[RouteWalls | RouteCrossing, ...]:
    """Along one or two walls of a room, and at times on through plain pipe to two of another."""
    here = RouteWalls(first.name, walls[: int(rng.integers(1, 3))])
    other = rooms[-1]
    if other is first:
        return (here,)
    length_m = round(float(rng.uniform(0.3, 4.0)), 1)
    return here, RouteCrossing(PIPES[0], length_m, heats=first.name), RouteWalls(other.name, walls)


def worst_residual(design: hl.Design) -> float:
    """The greatest relative residual of a design, at exact and at whole settings of its valves."""
    states = (design.system.state, design.system.achieved)
    return float(max(getattr(s, f"residual_{name}") for s in states for name in ("mass", "head", "energy", "inlet")))


def every_table(design: hl.Design) -> dict[str, pd.DataFrame]:
    """All tables of a design, made now: one that cannot be made raises its error here."""
    return {name: design.frames[name] for name in design.frames}
