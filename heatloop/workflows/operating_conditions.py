"""What a rating is asked for: temperatures, settings, loops shut and the pump, checked and put into effect."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from heatloop.findings.input_errors import InputError, InputIssue, is_number, number_faults, quoted_value
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic, pump_law
from heatloop.hydraulics.sizing.valve_settings import nearest_settings, valve_locations
from heatloop.physics.valves import kv_at_setting
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Survey
from heatloop.survey.water_system import PumpCurve

Settings = Mapping[str | tuple[str, str] | tuple[str, str, int], float] | Literal["real", "exact"]
"""Settings by the name of a valve (all of that kind), by (loop, side), or by (loop, side, arm); "real" or "exact":
those of the design, at the valves' own marks or between them."""

Key = str | tuple[str, str] | tuple[str, str, int]

PUMP_UNITS = {
    "speed": "a share of full speed",
    "constant_kpa": "kPa",
    "proportional_kpa": "kPa",
    "proportional_m3_h": "m3/h",
}
PUMP_KEYS = tuple(PUMP_UNITS)


@dataclass(frozen=True)
class AskedConditions:
    """What a rating is asked for, as `rate` takes it."""

    flow_temp_c: float | None = None
    outdoor_c: float | None = None
    room_c: float | Mapping[str, float] | None = None
    pump: Mapping[str, float] | None = None
    settings: Settings = "real"
    closed: Collection[str] = ()
    thermostats: bool = True


def check_arguments(given: AskedConditions) -> None:
    """Whether all arguments of a rating are of the kind they should be; InputError says which are not."""
    settings: object = given.settings  # of any kind until it is checked, as all of them
    room_c, pump, closed, on = given.room_c, given.pump, given.closed, given.thermostats
    both = (("flow_temp_c", given.flow_temp_c), ("outdoor_c", given.outdoor_c))
    temps: dict[str, object] = {name: value for name, value in both if value is not None}
    if isinstance(room_c, Mapping):
        temps |= {f"room_c, {quoted_value(name)}": value for name, value in room_c.items()}
    elif room_c is not None:
        temps["room_c"] = room_c
    faults = number_faults("rating", temps)
    if isinstance(pump, Mapping):
        for key, value in pump.items():
            faults += number_faults("rating", {f"pump, {key}": value}, f"a number, {PUMP_UNITS.get(key, 'above 0')}")
    elif pump is not None:
        faults.append(argument_issue("pump", quoted_value(pump), f"a table with one of {', '.join(PUMP_KEYS[:3])}"))
    if isinstance(settings, Mapping):
        faults += _setting_faults(settings)
    elif not isinstance(settings, str):
        faults.append(argument_issue("settings", quoted_value(settings), '"real", "exact", or settings by valve'))
    if isinstance(closed, str) or not isinstance(closed, Collection):
        faults.append(argument_issue("closed", quoted_value(closed), "a list of the names of loops"))
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


def survey_at_conditions(survey: Survey, asked: AskedConditions) -> Survey:
    """The survey with the temperatures asked for; everything else as it is."""
    project = survey.project
    if asked.flow_temp_c is not None:
        project = replace(project, flow_temp_c=float(asked.flow_temp_c))
    if asked.outdoor_c is not None:
        project = replace(project, outdoor_c=float(asked.outdoor_c))
    rooms, room_c = survey.rooms, asked.room_c
    if room_c is not None:
        by_room = room_c if isinstance(room_c, Mapping) else {room.name: room_c for room in rooms}
        rooms = tuple(replace(room, indoor_c=float(by_room.get(room.name, room.indoor_c))) for room in rooms)
    return replace(survey, project=project, rooms=rooms)


def check_conditions(survey: Survey, heated: Collection[str], asked: AskedConditions, water: Fluid) -> None:
    """Whether the survey can be rated at its temperatures now, `heated` its rooms with skirting or other emitters.

    Raises InputError for names that are not there, water that its properties do not reach, and temperatures at which
    nothing is heated.
    """
    faults, closed, room_c = [], asked.closed, asked.room_c
    loops, rooms = [loop.name for loop in survey.loops], [room.name for room in survey.rooms]
    faults += [
        argument_issue("closed", quoted_value(name), _one_of("loop", loops)) for name in closed if name not in loops
    ]
    if isinstance(room_c, Mapping):
        faults += [
            argument_issue("room_c", quoted_value(name), _one_of("room", rooms)) for name in room_c if name not in rooms
        ]
    if loops and set(closed) >= set(loops) and not survey.bypasses:
        faults.append(argument_issue("closed", "every loop", "at least one loop, or a bypass, that lets water pass"))
    temp, outdoor_c = survey.project.flow_temp_c, survey.project.outdoor_c
    warm = sorted((room for room in survey.rooms if room.name in heated), key=lambda room: room.indoor_c)
    if not water.t_min_c <= temp <= water.t_max_c:
        wanted = f"{water.t_min_c:.4g} to {water.t_max_c:.4g}, the range of {water.name}"
        faults.append(argument_issue("flow_temp_c", f"{temp:g}", wanted))
    elif warm and temp <= warm[-1].indoor_c:
        wanted = f'above {warm[-1].indoor_c:g}, the temperature of "{warm[-1].name}": water no warmer heats nothing'
        faults.append(argument_issue("flow_temp_c", f"{temp:g}", wanted))
    if warm and outdoor_c >= warm[0].indoor_c:
        wanted = f'below {warm[0].indoor_c:g}, the temperature of "{warm[0].name}": a warmer day wants no heating'
        faults.append(argument_issue("outdoor_c", f"{outdoor_c:g}", wanted))
    if faults:
        raise InputError(faults)


def argument_issue(place: str, found: str, wanted: str) -> InputIssue:
    """A fault of what a rating was asked for."""
    return InputIssue("rating", place, found, wanted)


def _one_of(what: str, names: Collection[str]) -> str:
    return f"the name of a {what}: " + ", ".join(f'"{name}"' for name in names)


def settings_kv(
    network: PipeNetwork, exact: Mapping[int, float], settings: Settings, catalogue: Catalogue
) -> dict[int, float]:
    """Kv of every valve by its place; `exact` are those of the design."""
    if isinstance(settings, str):
        if settings == "exact":
            return dict(exact)
        if settings != "real":
            raise InputError([argument_issue("settings", f'"{settings}"', '"real", "exact", or settings by valve')])
    kv = {place: one.kv_m3_h for place, one in nearest_settings(network, exact, catalogue).items()}
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
                wanted = f'1 to {len(valve.kv_m3_h)}, the settings of "{valve.name}"'
                faults.append(argument_issue(f"settings, {_key_words(key)}", f"{setting:g}", wanted))
                break
    if faults:
        raise InputError(faults)
    return kv


def _key_words(key: Key) -> str:
    return f'"{key}"' if isinstance(key, str) else ", ".join(f'"{part}"' for part in key)


def _meant(network: PipeNetwork, place: int, valve: str, key: Key) -> bool:
    if isinstance(key, str):
        return valve == key
    at = network.places[place]
    own: tuple[Any, ...] = (network.loops[at.loop].loop.name, at.element.direction, at.element.arm)
    return own[: len(key)] == tuple(key) and (len(key) == 3 or at.element.arm == 0)


def pump_from_argument(curve: PumpCurve | None, pump: Mapping[str, float]) -> PumpCharacteristic:
    """The law of the source's pump, run as asked for."""
    unknown = [key for key in pump if key not in PUMP_KEYS]
    ways = [key for key in PUMP_KEYS[:3] if key in pump]
    if unknown or len(ways) != 1:
        wanted = f"one of {', '.join(PUMP_KEYS[:3])}"
        raise InputError([argument_issue("pump", ", ".join(map(str, pump)) or "nothing", wanted)])
    if not all(np.isfinite(value) and value > 0.0 for value in pump.values()) or pump.get("speed", 1.0) > 1.0:
        raise InputError([argument_issue("pump", str(dict(pump)), "numbers above 0, and a speed of at most 1")])
    if curve is not None:
        asked = {key: pump.get(key) for key in PUMP_KEYS}
        return pump_law(PumpCurve(curve.flow_m3_h, curve.head_kpa, **asked, efficiency=curve.efficiency))
    if "constant_kpa" in pump:
        return ConstantHead(1000.0 * pump["constant_kpa"])
    raise InputError([argument_issue("pump", ways[0], "constant_kpa: the survey has no curve of the pump")])
