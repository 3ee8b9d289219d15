"""Tables of a survey file for the water path: tails, valves, routes and loops.

The keys are those of :mod:`heatloop.survey.loops`; a default is the one given there. Where a key of
the file has a form of its own (tails, routes, arms) the table states this.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from heatloop.survey.building import Room
from heatloop.survey.files.fields import ChoiceField, FileTable, IntegerField, ListField, Name, NumberField, YesNo, Zeta
from heatloop.survey.files.water_system_tables import PipeRun, Water
from heatloop.survey.loops import (
    CrossingRule,
    Loop,
    LoopEmitter,
    RouteCrossing,
    RouteEstimate,
    RouteItem,
    RouteWalls,
    StraightJoint,
    Tails,
    Valves,
)

Drop = Annotated[float, NumberField("kelvin", above=0, maximum=60)]
Position = Annotated[float, NumberField("metres", minimum=0, maximum=60)]
Tail = Annotated[float, NumberField("metres", minimum=0, maximum=200)]
Share = Annotated[float, NumberField("a share", minimum=0, maximum=1)]
Names = Annotated[list[Name], ListField("names in quotes")]


class TailsTable(FileTable):
    """The pair of pipes that joins a loop to the distribution, one way: `length_m`, or `flow_m` and `return_m`
    where the two differ."""

    pipe: Name = Field(description="pipe of the catalogue")
    length_m: Tail | None = Field(default=None, description="length of each of the two pipes")
    flow_m: Tail | None = Field(default=None, description="length of the flow pipe, one way")
    return_m: Tail | None = Field(default=None, description="length of the return pipe, one way")
    zeta: Zeta = Field(default=Tails.zeta, description="loss coefficient of the fittings, in each of the two pipes")
    useful_share: Share = Field(
        default=Tails.useful_share,
        description="share of the heat of the tails that counts for the room where the skirting begins",
    )

    def value(self) -> Tails:
        both = math.nan if self.length_m is None else self.length_m
        return Tails(
            self.pipe,
            both if self.flow_m is None else self.flow_m,
            both if self.return_m is None else self.return_m,
            self.zeta,
            self.useful_share,
        )


class ValvesTable(FileTable):
    """The valves of a loop or an arm."""

    flow: Name | None = Field(default=None, description="valve on the flow, by its name in the catalogue")
    return_: Name | None = Field(
        default=None,
        validation_alias="return",
        description="valve on the return, by its name in the catalogue; it balances the loop unless the valve on the "
        "flow has a presetting",
    )

    def value(self) -> Valves:
        return Valves(self.flow, self.return_)


class CrossingTable(FileTable):
    """Pipe that passes the interruptions of the skirting of a loop."""

    pipe: Name = Field(description="pipe of the catalogue")
    depth_m: Annotated[float, NumberField("metres", minimum=0, maximum=10)] = Field(
        default=CrossingRule.depth_m, description="length of pipe at each side of the interruption, down or up"
    )
    useful_share: Share = Field(
        default=CrossingRule.useful_share,
        description="share of the heat of a crossing that counts for its room",
    )

    def value(self) -> CrossingRule:
        return CrossingRule(self.pipe, self.depth_m, self.useful_share)


class RouteTable(FileTable):
    """One item of a route, by the keys it has.

    `room` and `walls`: skirting on those walls. `length_m` (with `pipe`, or in the pipe of the loop's
    `crossing`): a crossing. `room` alone: a room estimated from its `estimated_wall_m`.
    """

    room: Name | None = Field(default=None, description="room in which the skirting is")
    walls: Annotated[list[Annotated[int, IntegerField("a wall number")]], ListField("wall numbers", 1)] | None = Field(
        default=None, description="numbers of the walls in water order"
    )
    from_m: Position | None = Field(
        default=None,
        description="start of the skirting on the first wall, from its left-hand end; if not given, where the "
        "water reaches the wall",
    )
    to_m: Position | None = Field(
        default=None,
        description="end of the skirting on the last wall, from its left-hand end; if not given, where the "
        "water leaves the wall",
    )
    direction: Annotated[Literal["clockwise", "anticlockwise"], ChoiceField(("clockwise", "anticlockwise"))] | None = (
        Field(default=None, description="direction, if the order of the numbers does not show it")
    )
    floor_sections: Names = Field(
        default_factory=list, description="openings that the skirting passes by a floor section"
    )
    pipe: Name | None = Field(default=None, description="pipe of a crossing; if not given, that of the loop")
    length_m: PipeRun | None = Field(default=None, description="length of a crossing, one way")
    heats: Name | None = Field(
        default=None, description="room that receives the heat of the crossing; if not given, the room before it"
    )

    @property
    def is_crossing(self) -> bool:
        return self.pipe is not None or self.length_m is not None or self.heats is not None

    def value(self, rooms: Mapping[str, Room], pipe: str) -> RouteItem:
        if self.is_crossing:
            length_m = math.nan if self.length_m is None else self.length_m
            return RouteCrossing(self.pipe or pipe, length_m, self.heats)
        name = self.room or ""
        room = rooms.get(name)
        if self.walls is None and room is not None and not room.walls:
            usable_m = math.nan if room.estimated_wall_m is None else room.estimated_wall_m
            return RouteEstimate(name, usable_m)
        sections = tuple(_own_name(section, room) for section in self.floor_sections)
        walls = tuple(self.walls or ())
        return RouteWalls(name, walls, self.from_m, self.to_m, self.direction, sections)


def generated_opening_name(opening: str, room: str) -> str:
    """Name of an opening that `room` copies from another room: a separate opening."""
    return f"{opening} ({room})"


def _own_name(section: str, room: Room | None) -> str:
    if room is None or room.copy_of is None:
        return section
    names = {opening.name for wall in room.walls for opening in wall.openings}
    own = generated_opening_name(section, room.name)
    return own if section not in names and own in names else section


class LoopEmitterTable(FileTable):
    """Another emitter on a loop, in series with all its water."""

    emitter: Name = Field(description="emitter of the catalogue")
    room: Name = Field(description="room that receives its heat")
    side: Annotated[Literal["flow", "return"], ChoiceField(("flow", "return"))] = Field(
        default=LoopEmitter.side, description='before the skirting (`"flow"`) or after it (`"return"`)'
    )
    existing: YesNo = Field(
        default=LoopEmitter.existing,
        description="whether the emitter exists already: it is then not included in the order or the price",
    )

    def value(self) -> LoopEmitter:
        return LoopEmitter(self.emitter, self.room, self.side, self.existing)


class StraightJointTable(FileTable):
    """A straight joint at a given place of a wall, in addition to those that the stock length requires."""

    room: Name = Field(description="room of the wall")
    wall: Annotated[int, IntegerField("a wall number")] = Field(description="number of the wall")
    at_m: Position = Field(description="distance from the left-hand end of the wall, seen from inside the room")

    def value(self) -> StraightJoint:
        return StraightJoint(self.room, self.wall, self.at_m)


class LoopTable(FileTable):
    """A loop has a `route`, or `arms` (two routes from the tails) if the tails are connected between two arms. A loop
    that has only emitters other than skirting has no `route`, `arms`, `profile` and `arrangement`."""

    name: Name = Field(description="name of the loop in the report")
    profile: Name | None = Field(default=None, description="profile of the catalogue")
    arrangement: Annotated[Literal["one-way", "there-and-back"], ChoiceField(("one-way", "there-and-back"))] | None = (
        Field(default=None, description="path of the water through the channels")
    )
    tails: TailsTable = Field(description="pair of pipes between the loop and its trunk or the source")
    trunk: Name | None = Field(
        default=None, description="trunk to which the tails are connected; if not given, the source"
    )
    valves: ValvesTable = Field(default_factory=ValvesTable, description="valves on flow and return")
    arm_valves: Annotated[list[ValvesTable], ListField("valves, one item for each arm", 2, 2)] = Field(
        default_factory=list, description="valves of the arms, one item for each arm"
    )
    crossing: CrossingTable | None = Field(default=None, description="pipe and depth of its crossings")
    sensor_room: Name | None = Field(default=None, description="room whose sensor controls the loop")
    flow_temp_c: Water | None = Field(
        default=None, description="flow temperature of this loop, instead of that of the project"
    )
    delta_t_k: Drop | None = Field(
        default=None, description="temperature drop of this loop, instead of that of the project"
    )
    finish: Name | None = Field(default=None, description="finish of the profile, by its name in the catalogue")
    cover: Name | None = Field(default=None, description="cover of the profile, by its name in the catalogue")
    emitters: Annotated[list[LoopEmitterTable], ListField("emitters")] = Field(
        default_factory=list, description="radiators and towel rails, in series with the skirting or without skirting"
    )
    straight_joints: Annotated[list[StraightJointTable], ListField("straight joints")] = Field(
        default_factory=list, description="joints in addition to those that the stock length requires"
    )
    route: Annotated[list[RouteTable], ListField("route items", 1)] | None = Field(
        default=None, description="walls and crossings in water order"
    )
    arms: (
        Annotated[
            list[Annotated[list[RouteTable], ListField("route items", 1)]],
            ListField("routes, each in water order from the tails", 2, 2),
        ]
        | None
    ) = Field(default=None, description="two routes, each from the place where the tails join")

    @property
    def routes(self) -> list[list[RouteTable]]:
        """The route of each arm, one where the loop is fed at its end."""
        if self.arms is not None:
            return self.arms
        return [] if self.has_emitters_alone else [self.route or []]

    @property
    def has_emitters_alone(self) -> bool:
        """Whether the loop has other emitters and no skirting."""
        skirting = (self.profile, self.arrangement, self.route, self.arms)
        return bool(self.emitters) and all(key is None for key in skirting)

    def value(self, rooms: Mapping[str, Room]) -> Loop:
        pipe = self.crossing.pipe if self.crossing else ""
        return Loop(
            name=self.name,
            profile=self.profile or "",
            arrangement=self.arrangement or "one-way",
            arms=tuple(tuple(item.value(rooms, pipe) for item in items) for items in self.routes),
            tails=self.tails.value(),
            trunk=None if self.trunk == "source" else self.trunk,
            valves=self.valves.value(),
            arm_valves=tuple(item.value() for item in self.arm_valves),
            crossing=self.crossing.value() if self.crossing else None,
            sensor_room=self.sensor_room,
            flow_temp_c=self.flow_temp_c,
            delta_t_k=self.delta_t_k,
            finish=self.finish,
            cover=self.cover,
            emitters=tuple(item.value() for item in self.emitters),
            straight_joints=tuple(item.value() for item in self.straight_joints),
        )
