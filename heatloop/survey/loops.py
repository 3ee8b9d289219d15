"""Loops of a survey: routes, tails, valves and other emitters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Arrangement = Literal["one-way", "there-and-back"]


@dataclass(frozen=True)
class Tails:
    """The pair of pipes that connects a loop to the distribution; lengths in metres, one way."""

    pipe: str
    flow_m: float
    return_m: float
    zeta: float = 0.0
    useful_share: float = 0.0


@dataclass(frozen=True)
class CrossingRule:
    """Pipe and depth of automatic crossings of a loop."""

    pipe: str
    depth_m: float = 0.2
    useful_share: float = 0.0


@dataclass(frozen=True)
class StraightJoint:
    """A straight joint that is required on a wall."""

    room: str
    wall: int
    at_m: float


@dataclass(frozen=True)
class Valves:
    """Names of catalogue valves on the flow and the return of a loop."""

    flow: str | None = None
    return_: str | None = None


@dataclass(frozen=True)
class RouteWalls:
    """Part of a route along walls of one room; walls are numbered from 1 as in the survey."""

    room: str
    walls: tuple[int, ...]
    from_m: float | None = None
    to_m: float | None = None
    direction: Literal["clockwise", "anticlockwise"] | None = None
    floor_sections: tuple[str, ...] = ()


@dataclass(frozen=True)
class RouteCrossing:
    """Plain pipe between two parts of a route, one pipe for each channel; length in metres, one way."""

    pipe: str
    length_m: float
    heats: str | None = None


@dataclass(frozen=True)
class RouteEstimate:
    """Skirting in a room that has not been surveyed: a length without walls."""

    room: str
    estimated_wall_m: float


RouteItem = RouteWalls | RouteCrossing | RouteEstimate


@dataclass(frozen=True)
class LoopEmitter:
    """Another emitter on a loop, in series with all its water."""

    emitter: str
    room: str
    side: Literal["flow", "return"] = "return"
    existing: bool = False


@dataclass(frozen=True)
class Loop:
    """One closed water path.

    `arms` has one route, or two if the tails join between two arms. `emitters` are in water order on each side. A loop
    that has only other emitters has no arms and no profile ("").
    """

    name: str
    profile: str
    arrangement: Arrangement
    arms: tuple[tuple[RouteItem, ...], ...]
    tails: Tails
    trunk: str | None = None
    valves: Valves = Valves()
    arm_valves: tuple[Valves, ...] = ()
    crossing: CrossingRule | None = None
    sensor_room: str | None = None
    flow_temp_c: float | None = None
    delta_t_k: float | None = None
    finish: str | None = None
    cover: str | None = None
    emitters: tuple[LoopEmitter, ...] = ()
    straight_joints: tuple[StraightJoint, ...] = ()
