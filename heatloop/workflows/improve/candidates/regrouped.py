"""Loops arranged otherwise: divided, joined, reversed, one-way or there-and-back, on another trunk."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from heatloop.survey.loops import Loop, RouteCrossing, RouteItem, RouteWalls, Tails, Valves
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing, number
from heatloop.workflows.improve.candidates.routes import (
    between_m,
    end_of,
    reversed_items,
    rooms_of_items,
    route_length_m,
)
from heatloop.workflows.improve.remedy import Family, Remedy, loop_edit, loop_replaced

SAME_PLACE_M = 0.01
"""Ends of runs closer than this are joined without a crossing."""

SHORTEST_CROSSING_M = 0.3

MEASURE = "measure it"


def regrouped(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """Every other arrangement of a loop that has a route on surveyed walls."""
    if not loop.arms or any(not isinstance(item, RouteWalls | RouteCrossing) for arm in loop.arms for item in arm):
        return
    yield from divided(survey, loop)
    for other in survey.loops:
        if other.name != loop.name:
            yield from joined(survey, loop, other)
    yield from turned(survey, loop)
    yield from on_other_trunks(survey, loop)


def divided(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """Two loops in place of one: divided where its tails join two arms, or at a crossing between two rooms."""
    if len(loop.arms) == 2:
        tails_m = max(loop.tails.flow_m, loop.tails.return_m)
        yield _two_loops(survey, loop, loop.arms, (loop.tails, loop.tails), f"tails as before, {number(tails_m, 1)} m")
        return
    (items,) = loop.arms
    for place, item in enumerate(items):
        first, second = items[:place], items[place + 1 :]
        if not isinstance(item, RouteCrossing) or not rooms_of_items(first) or not rooms_of_items(second):
            continue
        before_m = route_length_m(survey, loop, first) + item.length_m
        tails = loop.tails
        longer = replace(tails, flow_m=tails.flow_m + before_m, return_m=tails.return_m + before_m)
        both = (tails, longer)
        if loop.arrangement == "one-way":
            both = (
                replace(tails, return_m=tails.flow_m + before_m - item.length_m),
                replace(tails, flow_m=tails.flow_m + before_m),
            )
        assumed = f"tails of {number(both[1].flow_m, 1)} m for the second loop, along the route of the first: {MEASURE}"
        yield _two_loops(survey, loop, (first, second), both, assumed)


def _two_loops(
    survey: SurveyData, loop: Loop, routes: Sequence[tuple[RouteItem, ...]], tails: Sequence[Tails], assumed: str
) -> Family:
    names = (loop.name, _new_name(survey, loop.name))
    valves = loop.arm_valves or (Valves(), Valves())
    second = set(rooms_of_items(routes[1])) - set(rooms_of_items(routes[0]))
    parts = []
    for index, route in enumerate(routes):
        rooms = rooms_of_items(route)
        sensor = None if loop.sensor_room is None else loop.sensor_room if loop.sensor_room in rooms else rooms[0]
        own = Valves(loop.valves.flow or valves[index].flow, loop.valves.return_ or valves[index].return_)
        parts.append(
            replace(
                loop,
                name=names[index],
                arms=(route,),
                tails=tails[index],
                valves=own,
                arm_valves=(),
                sensor_room=sensor,
                emitters=tuple(e for e in loop.emitters if (e.room in second) == (index == 1)),
                straight_joints=tuple(joint for joint in loop.straight_joints if joint.room in rooms),
            )
        )
    words = f"loop {loop.name} divided: {listing(rooms_of_items(routes[0]))}; {listing(rooms_of_items(routes[1]))}"
    return (Remedy("divided loop", f"loop {loop.name}", words, (loop_replaced(loop, *parts),), assumed),)


def _new_name(survey: SurveyData, name: str) -> str:
    """A name that no loop has yet."""
    held = {loop.name for loop in survey.loops}
    return next(new for count in range(2, len(held) + 3) if (new := f"{name} {count}") not in held)


def joined(survey: SurveyData, loop: Loop, other: Loop) -> Iterator[Family]:
    """One loop in place of two of the same kind, joined in the way with the shortest crossing."""
    if not _are_alike(loop, other):
        return
    (first,), (second,) = loop.arms, other.arms
    ways = (
        (loop, (first, second)),
        (loop, (first, reversed_items(survey, other, second))),
        (other, (second, first)),
        (other, (second, reversed_items(survey, loop, first))),
    )
    found = []
    for lead, (before, after) in ways:
        follower = other if lead is loop else loop
        leave, enter = end_of(survey, lead, before, False), end_of(survey, follower, after, True)
        length_m = None if leave is None or enter is None else between_m(survey, leave, enter)
        if length_m is not None:
            found.append((length_m, lead, follower, before, after))
    if not found:
        return
    length_m, lead, follower, before, after = min(found, key=lambda way: way[0])
    crossing: tuple[RouteItem, ...] = ()
    assumed = ""
    if length_m > SAME_PLACE_M:
        pipe = lead.tails.pipe if lead.crossing is None else lead.crossing.pipe
        length_m = round(max(length_m, SHORTEST_CROSSING_M), 2)
        crossing = (RouteCrossing(pipe, length_m),)
        assumed = f"a crossing of {number(length_m, 1)} m along the walls: {MEASURE}"
    tails = lead.tails
    if lead.arrangement == "one-way":
        tails = replace(tails, return_m=follower.tails.return_m)
    whole = replace(
        lead,
        arms=((*before, *crossing, *after),),
        tails=tails,
        emitters=(*lead.emitters, *follower.emitters),
        straight_joints=(*lead.straight_joints, *follower.straight_joints),
    )
    words = f"loops {lead.name} and {follower.name} joined to one"
    edits = (loop_replaced(lead, whole), loop_replaced(follower))
    yield (Remedy("joined loops", f"loop {lead.name}", words, edits, assumed),)


def _are_alike(loop: Loop, other: Loop) -> bool:
    """Whether two loops with one route each can be one: same profile, pipes, trunk and water."""
    if len(loop.arms) != 1 or len(other.arms) != 1:
        return False
    fields = ("profile", "arrangement", "trunk", "flow_temp_c", "delta_t_k", "finish", "cover", "crossing")
    return all(getattr(loop, name) == getattr(other, name) for name in fields) and loop.tails.pipe == other.tails.pipe


def turned(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """The route reversed, and the other arrangement: one-way or there-and-back."""
    if len(loop.arms) != 1:
        return
    (items,), tails, where = loop.arms, loop.tails, f"loop {loop.name}"
    along_m = route_length_m(survey, loop, items)
    back = reversed_items(survey, loop, items)
    if loop.arrangement == "one-way":
        swapped = replace(tails, flow_m=tails.return_m, return_m=tails.flow_m)
        edit = loop_edit(loop, arms=(back,), tails=swapped)
        yield (Remedy("reversed route", where, f"route of loop {loop.name} reversed", (edit,)),)
        pair = replace(tails, return_m=tails.flow_m)
        there = loop_edit(loop, arrangement="there-and-back", tails=pair)
        yield (Remedy("arrangement", where, f"loop {loop.name} there-and-back in place of one-way", (there,)),)
        return
    longer_m = tails.flow_m + along_m
    longer = replace(tails, flow_m=longer_m, return_m=tails.return_m + along_m)
    assumed = f"tails of {number(longer_m, 1)} m along the route to its far end: {MEASURE}"
    edit = loop_edit(loop, arms=(back,), tails=longer)
    yield (Remedy("reversed route", where, f"route of loop {loop.name} reversed", (edit,), assumed),)
    assumed = f"a return pipe of {number(tails.return_m + along_m, 1)} m along the route: {MEASURE}"
    once = loop_edit(loop, arrangement="one-way", tails=replace(tails, return_m=tails.return_m + along_m))
    yield (Remedy("arrangement", where, f"loop {loop.name} one-way in place of there-and-back", (once,), assumed),)


def on_other_trunks(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """The loop on each other trunk, or at the source."""
    names: Iterable[str | None] = (None, *(trunk.name for trunk in survey.trunks))
    for name in names:
        if name == loop.trunk or (name is None and not survey.trunks):
            continue
        target = "at the source" if name is None else f"to trunk {name}"
        present = "at the source" if loop.trunk is None else f"to trunk {loop.trunk}"
        assumed = f"tails as long as before, {number(loop.tails.flow_m, 1)} m: {MEASURE}"
        words = f"loop {loop.name} connected {target}, not {present}"
        edit = loop_edit(loop, trunk=name)
        yield (Remedy("another trunk", f"loop {loop.name}", words, (edit,), assumed),)
