"""Conditions of an operating point: temperatures, settings, isolated loops and the pump, checked and applied."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from heatloop.findings.input_errors import InputError, InputIssue, is_number, number_faults, quoted_value
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic, pump_characteristic
from heatloop.hydraulics.sizing.valve_settings import nearest_settings, valve_locations
from heatloop.physics.valves import kv_at_setting
from heatloop.physics.water import Fluid
from heatloop.survey.building import Room
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import PumpCurve

Settings = Mapping[str | tuple[str, str] | tuple[str, str, int], float] | Literal["nearest", "calculated"]
"""Settings by the name of a valve (all of that kind), by (loop, side), or by (loop, side, arm); "nearest" or
"calculated": those of the design, at the nearest whole settings of the valves or as calculated."""

CALL = "simulate"

Key = str | tuple[str, str] | tuple[str, str, int]

PUMP_UNITS = {"pump_speed": "a share of full speed", "pump_head_kpa": "kPa", "proportional_m3_h": "m3/h"}
"""Arguments for the pump of the source, and their units."""

PUMP_MAXIMA = {"pump_speed": 1.0, "pump_head_kpa": 2000.0, "proportional_m3_h": 1000.0}
"""The largest values of these arguments: head and flow as in a survey."""

OUTDOOR_C, ROOM_C = (-60.0, 40.0), (0.0, 40.0)
"""Outdoor and room temperatures that a survey can state."""


@dataclass(frozen=True)
class RequestedConditions:
    """Conditions of an operating point: the arguments of `simulate`."""

    flow_temp_c: float | None = None
    outdoor_c: float | None = None
    room_c: float | Mapping[str, float] | None = None
    settings: Settings = "nearest"
    isolated_loops: Collection[str] = ()
    thermostats: bool = True
    pump_speed: float | None = None
    pump_head_kpa: float | None = None
    proportional_m3_h: float | None = None

    @property
    def pump(self) -> dict[str, float]:
        """The arguments for the pump that were given, by name."""
        arguments = ((name, getattr(self, name)) for name in PUMP_UNITS)
        return {name: value for name, value in arguments if value is not None}


def check_arguments(conditions: RequestedConditions) -> None:
    """Check that all conditions are of the right type; InputError lists those that are not."""
    settings: object = conditions.settings  # of any kind until it is checked, as all of them
    room_c, closed, on = conditions.room_c, conditions.isolated_loops, conditions.thermostats
    both = (("flow_temp_c", conditions.flow_temp_c), ("outdoor_c", conditions.outdoor_c))
    temps: dict[str, Any] = {name: value for name, value in both if value is not None}
    if isinstance(room_c, Mapping):
        temps |= {f"room_c, {quoted_value(name)}": value for name, value in room_c.items()}
    elif room_c is not None:
        temps["room_c"] = room_c
    faults = number_faults(CALL, temps)
    faults += [
        argument_issue(name, f"{value:g}", f"{low:g} to {high:g} °C")
        for name, value in temps.items()
        if is_number(value) and name != "flow_temp_c"
        for low, high in [OUTDOOR_C if name == "outdoor_c" else ROOM_C]
        if not low <= value <= high
    ]
    for name, value in conditions.pump.items():
        faults += number_faults(CALL, {name: value}, f"a number, {PUMP_UNITS[name]}")
    if isinstance(settings, Mapping):
        faults += _setting_faults(settings)
    elif not isinstance(settings, str):
        faults.append(
            argument_issue("settings", quoted_value(settings), '"nearest", "calculated", or settings by valve')
        )
    if isinstance(closed, str) or not isinstance(closed, Collection):
        faults.append(argument_issue("isolated_loops", quoted_value(closed), "a list of the names of loops"))
    if not isinstance(on, bool):
        faults.append(argument_issue("thermostats", quoted_value(on), "True or False"))
    if faults:
        raise InputError(faults)


def _setting_faults(settings: Mapping[Any, object]) -> list[InputIssue]:
    faults = []
    for key, setting in settings.items():
        if not (isinstance(key, str) or (isinstance(key, tuple) and len(key) in (2, 3))):
            faults.append(
                argument_issue("settings", quoted_value(key), "a valve, a loop and side, or a loop, side and arm")
            )
        elif not is_number(setting):
            faults.append(
                argument_issue(
                    f"settings, {_key_words(key)}", quoted_value(setting), "a number, the setting of the valve"
                )
            )
    return faults


def survey_at_conditions(survey: SurveyData, conditions: RequestedConditions) -> SurveyData:
    """The survey with the temperatures of the conditions; everything else is unchanged."""
    project = survey.project
    if conditions.flow_temp_c is not None:
        project = replace(project, flow_temp_c=float(conditions.flow_temp_c))
    if conditions.outdoor_c is not None:
        project = replace(project, outdoor_c=float(conditions.outdoor_c))
    rooms, room_c = survey.rooms, conditions.room_c
    if room_c is not None:
        by_room = room_c if isinstance(room_c, Mapping) else {room.name: room_c for room in rooms}
        rooms = tuple(replace(room, indoor_c=float(by_room.get(room.name, room.indoor_c))) for room in rooms)
    return replace(survey, project=project, rooms=rooms)


def check_conditions(
    survey: SurveyData, heated: Collection[str], conditions: RequestedConditions, fluid: Fluid
) -> None:
    """Check that the survey can be solved at these temperatures; `heated`: rooms with skirting or other emitters.

    Raises InputError for unknown names, for water outside the range of its properties, and for temperatures at which no
    room is heated.
    """
    faults, closed, room_c = [], conditions.isolated_loops, conditions.room_c
    loops, rooms = [loop.name for loop in survey.loops], [room.name for room in survey.rooms]
    faults += [
        argument_issue("isolated_loops", quoted_value(name), _one_of("loop", loops))
        for name in closed
        if name not in loops
    ]
    if isinstance(room_c, Mapping):
        faults += [
            argument_issue("room_c", quoted_value(name), _one_of("room", rooms)) for name in room_c if name not in rooms
        ]
    if loops and set(closed) >= set(loops) and not survey.bypasses:
        faults.append(
            argument_issue("isolated_loops", "every loop", "at least one loop, or a bypass, that lets water pass")
        )
    temp, outdoor_c = survey.project.flow_temp_c, survey.project.outdoor_c
    warm = sorted((room for room in survey.rooms if room.name in heated), key=lambda room: room.indoor_c)
    if not fluid.t_min_c <= temp <= fluid.t_max_c:
        required = f"{fluid.t_min_c:.4g} to {fluid.t_max_c:.4g}, the range of {fluid.name}"
        faults.append(argument_issue("flow_temp_c", f"{temp:g}", required))
    elif warm and temp <= warm[-1].indoor_c:
        faults.append(_too_warm(warm[-1], temp, conditions))
    if warm and outdoor_c >= warm[0].indoor_c:
        faults.append(_too_cold(warm[0], outdoor_c, conditions))
    if faults:
        raise InputError(faults)


def _too_warm(room: Room, flow_c: float, conditions: RequestedConditions) -> InputIssue:
    """The issue of a room that is not cooler than the water, at the argument that was given."""
    place = _room_argument(room, conditions)
    if place and conditions.flow_temp_c is None:
        return argument_issue(place, f"{room.indoor_c:g}", f"below {flow_c:g}, the flow temperature")
    required = f'above {room.indoor_c:g}, the temperature of "{room.name}": cooler water heats no room'
    return argument_issue("flow_temp_c", f"{flow_c:g}", required)


def _too_cold(room: Room, outdoor_c: float, conditions: RequestedConditions) -> InputIssue:
    """The issue of a room that is not warmer than outdoors, at the argument that was given."""
    place = _room_argument(room, conditions)
    if place and conditions.outdoor_c is None:
        required = f"above {outdoor_c:g}, the outdoor temperature: a colder room requires no heating"
        return argument_issue(place, f"{room.indoor_c:g}", required)
    required = f'below {room.indoor_c:g}, the temperature of "{room.name}": on a warmer day no heating is required'
    return argument_issue("outdoor_c", f"{outdoor_c:g}", required)


def _room_argument(room: Room, conditions: RequestedConditions) -> str:
    """The argument that gives the temperature of a room; empty where the survey gives it."""
    if isinstance(conditions.room_c, Mapping):
        return f"room_c, {quoted_value(room.name)}" if room.name in conditions.room_c else ""
    return "" if conditions.room_c is None else "room_c"


def argument_issue(place: str, found: str, required: str) -> InputIssue:
    """An issue of a condition of the operating point."""
    return InputIssue(CALL, place, found, required)


def _one_of(argument: str, names: Collection[str]) -> str:
    return f"the name of a {argument}: " + ", ".join(f'"{name}"' for name in names)


def settings_kv(
    network: PipeNetwork, exact: Mapping[int, float], settings: Settings, catalogue: Catalogue
) -> dict[int, float]:
    """Kv of every valve by its element; `exact`: those of the design."""
    if isinstance(settings, str):
        if settings == "calculated":
            return dict(exact)
        if settings != "nearest":
            raise InputError(
                [argument_issue("settings", f'"{settings}"', '"nearest", "calculated", or settings by valve')]
            )
    kv = {place: preset.kv_m3_h for place, preset in nearest_settings(network, exact, catalogue).items()}
    if isinstance(settings, str):
        return kv
    faults = []
    for key, setting in settings.items():
        places = [place for place, name in valve_locations(network).items() if _meant(network, place, name, key)]
        if not places:
            faults.append(
                argument_issue("settings", _key_words(key), "a valve, a loop and side, or a loop, side and arm")
            )
        for place in places:
            valve = catalogue.valve(valve_locations(network)[place])
            try:
                kv[place] = kv_at_setting(setting, valve.kv_m3_h)
            except ValueError:
                required = f'1 to {len(valve.kv_m3_h)}, the settings of "{valve.name}"'
                faults.append(argument_issue(f"settings, {_key_words(key)}", f"{setting:g}", required))
                break
    if faults:
        raise InputError(faults)
    return kv


def _key_words(key: Key) -> str:
    return f'"{key}"' if isinstance(key, str) else ", ".join(f'"{part}"' for part in key)


def _meant(network: PipeNetwork, place: int, valve: str, key: Key) -> bool:
    if isinstance(key, str):
        return valve == key
    at = network.locations[place]
    own: tuple[Any, ...] = (network.loops[at.loop].loop.name, at.element.direction, at.element.arm)
    return own[: len(key)] == tuple(key) and (len(key) == 3 or at.element.arm == 0)


def pump_from_argument(curve: PumpCurve | None, conditions: RequestedConditions) -> PumpCharacteristic:
    """Characteristic of the pump of the source at the given speed or head. InputError where it has none."""
    speed, head_kpa, flow_m3_h = conditions.pump_speed, conditions.pump_head_kpa, conditions.proportional_m3_h
    for name, value in conditions.pump.items():
        if not 0.0 < value <= PUMP_MAXIMA[name]:
            unit = "" if name == "pump_speed" else f" {PUMP_UNITS[name]}"
            required = f"above 0 and at most {PUMP_MAXIMA[name]:g}{unit}"
            raise InputError([argument_issue(name, f"{value:g}", required)])
    if (speed is None) == (head_kpa is None):
        found = "nothing" if speed is None else f"{speed:g} beside pump_head_kpa"
        raise InputError([argument_issue("pump_speed", found, "either pump_speed or pump_head_kpa")])
    if flow_m3_h is not None and head_kpa is None:
        raise InputError(
            [argument_issue("proportional_m3_h", f"{flow_m3_h:g}", "pump_head_kpa, the head at that flow")]
        )
    if curve is not None:
        way = {"constant_kpa": head_kpa} if flow_m3_h is None else {"proportional_kpa": head_kpa}
        run = PumpCurve(curve.flow_m3_h, curve.head_kpa, speed=speed, proportional_m3_h=flow_m3_h, **way)
        return pump_characteristic(run)
    if head_kpa is not None and flow_m3_h is None:
        return ConstantHead(1000.0 * head_kpa)
    name = "pump_speed" if flow_m3_h is None else "proportional_m3_h"
    raise InputError(
        [argument_issue(name, f"{conditions.pump[name]:g}", "pump_head_kpa: the survey has no pump curve")]
    )
