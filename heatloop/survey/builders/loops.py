"""Loops, their routes and their water supply, for `hl.build`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from heatloop.survey.builders.keys import value_with_keys
from heatloop.survey.building import Room
from heatloop.survey.loops import (
    CrossingRule,
    Loop,
    LoopEmitter,
    RouteCrossing,
    RouteEstimate,
    RouteItem,
    RouteWalls,
    Tails,
    Valves,
)
from heatloop.survey.water_system import PumpCurve, Source, Trunk


def route(room: str, *walls: int, **keys: Any) -> RouteWalls:
    """Part of a route: skirting along walls of one room.

    Parameters
    ----------
    room : str
        Name of the room.
    *walls : int
        Numbers of its walls from 1, in the order of the water.
    **keys
        Other keys, `from_m` and `to_m` in m, `direction`, `floor_sections`: units and meaning under `[[loop]]` on
        the page "The survey file".

    Returns
    -------
    RouteWalls

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.route("Hall", 1, 2, from_m=0.3).walls
    (1, 2)
    """
    if "floor_sections" in keys:
        keys["floor_sections"] = tuple(keys["floor_sections"])
    return value_with_keys("route", RouteWalls, keys, room=room, walls=walls)


def pipe(name: str, length_m: float, heats: str | None = None) -> RouteCrossing:
    """Part of a route: plain pipe between two stretches of skirting.

    Parameters
    ----------
    name : str
        Pipe of the catalogue.
    length_m : float
        Length one way in m.
    heats : str, optional
        The room that its heat is given to; default: the room before it.

    Returns
    -------
    RouteCrossing

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.pipe("tail 15", 2.5).length_m
    2.5
    """
    return RouteCrossing(name, length_m, heats)


def loop(name: str, profile: str, tails: Tails, *items: RouteItem | Room, **keys: Any) -> Loop:
    """A loop of skirting with its route in water order.

    Parameters
    ----------
    name : str
        Name in the report.
    profile : str
        Profile of the catalogue.
    tails : Tails
        The pair of pipes from trunk or source, from :func:`tails`.
    *items : RouteWalls, RouteCrossing or Room
        From :func:`route` and :func:`pipe`; for a quotation, a room without walls. No items with `arms`, which has
        two such sequences.
    **keys
        Other keys, such as `arrangement` (default "there-and-back"), `arms`, `trunk`, `valves`, `crossing`, `emitters`,
        `sensor_room`: units and meaning under `[[loop]]` on the page "The survey file".

    Returns
    -------
    Loop

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> tails = hl.build.tails("copper 15", 3.0)
    >>> hl.build.loop("Study", "two-channel 140", tails, hl.build.route("Study", 1, 2)).arrangement
    'there-and-back'
    """
    arms = keys.pop("arms", None) or ((items,) if items else ())
    keys.setdefault("arrangement", "there-and-back" if profile else "one-way")
    if "emitters" in keys:
        keys["emitters"] = tuple(keys["emitters"])
    keys["arms"] = tuple(tuple(map(_route_item, arm)) for arm in arms)
    return value_with_keys("loop", Loop, keys, name=name, profile=profile, tails=tails)


def _route_item(item: Any) -> Any:
    if isinstance(item, Room):
        return RouteEstimate(item.name, item.estimated_wall_m or 0.0)
    return item


def tails(pipe: str, length_m: float, return_m: float | None = None, **keys: Any) -> Tails:
    """The pair of pipes that joins a loop to a trunk or the source.

    Parameters
    ----------
    pipe : str
        Pipe of the catalogue.
    length_m : float
        Length one way in m.
    return_m : float, optional
        Length of the return in m, if it differs.
    **keys
        Other keys, `zeta` and `useful_share`: units and meaning under `[[loop]]` on the page "The survey file".

    Returns
    -------
    Tails

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.tails("tail 15", 4.0).return_m
    4.0
    """
    back_m = length_m if return_m is None else return_m
    return value_with_keys("tails", Tails, keys, pipe=pipe, flow_m=length_m, return_m=back_m)


def valves(flow: str | None = None, return_: str | None = None) -> Valves:
    """The valves of a loop or an arm.

    Parameters
    ----------
    flow, return_ : str, optional
        Valves of the catalogue on flow and return.

    Returns
    -------
    Valves

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.valves("thermostatic", "lockshield").return_
    'lockshield'
    """
    return Valves(flow, return_)


def crossing(pipe: str, depth_m: float = CrossingRule.depth_m, **keys: Any) -> CrossingRule:
    """How a loop passes doors and obstacles.

    Parameters
    ----------
    pipe : str
        Pipe of the catalogue.
    depth_m : float, default 0.2
        Depth at each side in m.
    **keys
        Other keys, `useful_share`: units and meaning under `[[loop]]` on the page "The survey file".

    Returns
    -------
    CrossingRule

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.crossing("tail 15", 0.15).depth_m
    0.15
    """
    return value_with_keys("crossing", CrossingRule, keys, pipe=pipe, depth_m=depth_m)


def emitter(name: str, room: str, **keys: Any) -> LoopEmitter:
    """Another emitter on a loop.

    Parameters
    ----------
    name : str
        Emitter of the catalogue.
    room : str
        The room that its heat is given to.
    **keys
        Other keys, `side` ("flow" or "return") and `existing`: units and meaning under `[[loop]]` on the page
        "The survey file".

    Returns
    -------
    LoopEmitter

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.emitter("towel rail", "Bathroom").room
    'Bathroom'
    """
    return value_with_keys("emitter", LoopEmitter, keys, emitter=name, room=room)


def trunk(name: str, pipe: str, length_m: float, **keys: Any) -> Trunk:
    """A pair of pipes that several loops share.

    Parameters
    ----------
    name : str
        Name used by loops.
    pipe : str
        Pipe of the catalogue.
    length_m : float
        Length one way in m.
    **keys
        Other keys, such as `from_trunk`, `mixed_to_c` in °C and `pump`: units and meaning under `[[trunk]]` on the page
        "The survey file".

    Returns
    -------
    Trunk

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.trunk("riser", "trunk 28", 6.0).length_m
    6.0
    """
    return value_with_keys("trunk", Trunk, keys, name=name, pipe=pipe, length_m=length_m)


def source(kind: str = Source.kind, **keys: Any) -> Source:
    """The heat source.

    Parameters
    ----------
    kind : str, default "heat source"
        Name of the source in the report.
    **keys
        Other keys, such as `output_kw` in kW and `pump`: units and meaning under `[source]` on the page "The survey
        file".

    Returns
    -------
    Source

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.source("heat pump").kind
    'heat pump'
    """
    return value_with_keys("source", Source, keys, kind=kind)


def pump(flow_m3_h: Sequence[float], head_kpa: Sequence[float], **keys: Any) -> PumpCurve:
    """A pump by its curve at full speed.

    Parameters
    ----------
    flow_m3_h, head_kpa : sequence of float
        Points of the curve: flow rising in m³/h, head falling in kPa.
    **keys
        Other keys, such as `speed`, `constant_kpa` or `proportional_kpa`, which state how it runs: units and meaning
        under `[source]` on the page "The survey file".

    Returns
    -------
    PumpCurve

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.pump([0.0, 1.0, 2.0], [60.0, 50.0, 20.0]).head_kpa
    (60.0, 50.0, 20.0)
    """
    return value_with_keys("pump", PumpCurve, keys, flow_m3_h=tuple(flow_m3_h), head_kpa=tuple(head_kpa))
