"""Rules of loops: names that exist, keys that belong together."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.survey.building import Room
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.loop_tables import LoopTable
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.loops import Loop
from heatloop.survey.rules.routes import check_routes, rooms_heated, route_locs
from heatloop.survey.rules.temperatures import check_temperatures
from heatloop.survey.rules.water_system import check_distribution, trunk_names
from heatloop.survey.survey import SurveyData

ARRANGEMENTS = '"one-way" or "there-and-back"'


def check_loops(survey: SurveyData, table: SurveyTable, catalogue: Catalogue | None, findings: IssueCollector) -> None:
    """Report every invalid combination or name in the distribution and the loops.

    `catalogue` is None where it could not be read; its names are then not checked.
    """
    rooms = {
        room.name: None if findings.is_unread(("room", number, "walls")) else room
        for number, room in enumerate(survey.rooms)
    }
    check_distribution(survey, findings)
    for index, (loop, loop_table) in enumerate(zip(survey.loops, table.loop, strict=True)):
        _shape(("loop", index), loop, loop_table, findings)
        findings.name(("loop", index, "trunk"), "the name of a trunk", loop.trunk, trunk_names(survey))
        check_routes(index, loop, loop_table, rooms, catalogue, findings)
        _rooms(("loop", index), loop, survey, rooms, findings)
    if catalogue is not None:
        _names(survey, table, catalogue, findings)
    check_temperatures(survey, findings)


def _shape(loc: Loc, loop: Loop, loop_table: LoopTable, findings: IssueCollector) -> None:
    """Report keys of a loop that require or exclude one another."""
    if findings.is_unread(loc):
        return
    if loop_table.arms is not None and loop_table.route is not None:
        findings.add(loc, "route and arms", "route; or arms, where the tails join part-way")
    if loop_table.has_emitters_alone:
        _without_skirting(loc, loop_table, findings)
    elif loop_table.arms is None and loop_table.route is None:
        findings.add((*loc, "route"), "nothing", "the walls it follows; or arms, where the tails join part-way")
    if not loop_table.has_emitters_alone:
        for key, required in (("profile", "the name of a profile of the catalogue"), ("arrangement", ARRANGEMENTS)):
            if getattr(loop_table, key) is None:
                findings.add((*loc, key), "nothing", required)
    if loop_table.arms is not None and loop.arrangement == "one-way":
        required = '"there-and-back" for a loop with arms: each arm has flow and return'
        findings.add((*loc, "arrangement"), '"one-way"', required)
    if loop_table.arm_valves and loop_table.arms is None and not findings.is_unread((*loc, "arms")):
        findings.add((*loc, "arm_valves"), "valves for arms without arms", "valves of the loop alone")
    tails, place = loop_table.tails, (*loc, "tails")
    if findings.is_unread(place):
        return
    ends = {"flow_m": tails.flow_m, "return_m": tails.return_m}
    given_ends = [key for key, length in ends.items() if length is not None]
    if tails.length_m is not None and given_ends:
        findings.add(place, f"length_m and {given_ends[0]}", "length_m of both, or flow_m and return_m")
    elif tails.length_m is not None and loop_table.arrangement == "one-way":
        required = "flow_m and return_m: a one-way loop starts and ends in different places"
        findings.add((*place, "length_m"), "one length for both tails", required)
    elif tails.length_m is None and not given_ends:
        required = "flow_m and return_m" if loop_table.arrangement == "one-way" else "length_m, one way"
        findings.add(place, "no length", required)
    elif len(given_ends) == 1:
        other = next(key for key in ends if key not in given_ends)
        findings.add((*place, other), "nothing", f"the other tail's length, beside {given_ends[0]}")


def _without_skirting(loc: Loc, loop_table: LoopTable, findings: IssueCollector) -> None:
    """Report keys of skirting in a loop that has only other emitters."""
    for key in ("finish", "cover", "crossing"):
        value = getattr(loop_table, key)
        if value is not None:
            found = f'"{value}" without a route' if isinstance(value, str) else "one without a route"
            findings.add((*loc, key), found, "a route for the skirting, or a loop with emitters only, without this key")


def _rooms(
    loc: Loc, loop: Loop, survey: SurveyData, rooms: Mapping[str, Room | None], findings: IssueCollector
) -> None:
    """Report errors of the sensor room and of the heat losses of the rooms that a loop heats."""
    names = rooms_heated(loop)
    sensor = loop.sensor_room
    if sensor and findings.name((*loc, "sensor_room"), "the name of a room", sensor, rooms):
        read = not any(findings.is_unread((*loc, key)) for key in ("route", "arms", "emitters"))
        known = read and all(name in rooms for name in names)
        if sensor not in names and known and names:
            listed = " or ".join(f'"{name}"' for name in names)
            findings.add((*loc, "sensor_room"), f'"{sensor}", which the loop does not heat', listed)
    for number, emitter in enumerate(loop.emitters):
        findings.name((*loc, "emitters", number, "room"), "the name of a room", emitter.room, rooms)
    numbers = {room.name: number for number, room in enumerate(survey.rooms)}
    for name in names:
        room = rooms.get(name)
        if room is None or room.heat_loss_w is not None or room.walls or room.estimated_wall_m is None:
            continue
        place: Loc = ("room", numbers[name], "heat_loss_w")
        required = f'the heat loss in watts: loop "{loop.name}" heats the room, and it has no walls for a calculation'
        findings.add(place, "nothing", required)


def _names(survey: SurveyData, table: SurveyTable, catalogue: Catalogue, findings: IssueCollector) -> None:
    """Report unknown names of catalogue entries."""
    profiles = [profile.name for profile in catalogue.profiles]
    pipes = [pipe.name for pipe in catalogue.pipes]
    valves = [valve.name for valve in catalogue.valves]
    emitters = [emitter.name for emitter in catalogue.emitters]
    pipe, valve = "the name of a pipe of the catalogue", "the name of a valve of the catalogue"
    for index, trunk in enumerate(survey.trunks):
        findings.name(("trunk", index, "pipe"), pipe, trunk.pipe, pipes)
    for index, (loop, loop_table) in enumerate(zip(survey.loops, table.loop, strict=True)):
        loc: Loc = ("loop", index)
        required = "the name of a profile of the catalogue"
        known = findings.name((*loc, "profile"), required, loop.profile or None, profiles)
        if known and loop.profile:
            profile = catalogue.profile(loop.profile)
            finishes, covers = ([item.name for item in items] for items in (profile.finishes, profile.covers))
            findings.name((*loc, "finish"), "the name of a finish of its profile", loop.finish, finishes)
            findings.name((*loc, "cover"), "the name of a cover of its profile", loop.cover, covers)
        if known and loop.profile and loop.arrangement == "there-and-back":
            channels = len(catalogue.profile(loop.profile).channels)
            if channels == 1:
                required = "a profile with two channels or more, for there-and-back"
                findings.add((*loc, "profile"), f'"{loop.profile}", which has one', required)
        findings.name((*loc, "tails", "pipe"), pipe, loop.tails.pipe, pipes)
        for number, emitter in enumerate(loop.emitters):
            required = "the name of an emitter of the catalogue"
            findings.name((*loc, "emitters", number, "emitter"), required, emitter.emitter, emitters)
        if loop.crossing is not None:
            findings.name((*loc, "crossing", "pipe"), pipe, loop.crossing.pipe, pipes)
        pairs: list[tuple[Loc, str | None, str | None]] = [
            ((*loc, "valves"), loop.valves.flow, loop.valves.return_),
            *(((*loc, "arm_valves", i), pair.flow, pair.return_) for i, pair in enumerate(loop.arm_valves)),
        ]
        for place, flow, return_ in pairs:
            findings.name((*place, "flow"), valve, flow, valves)
            findings.name((*place, "return"), valve, return_, valves)
        for place, items in zip(route_locs(index, loop_table), loop_table.routes, strict=True):
            for number, item in enumerate(items):
                findings.name((*place, number, "pipe"), pipe, item.pipe, pipes)
