"""The Python program that builds a survey by the functions of `hl.build`, as a person types it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

import heatloop as hl
from heatloop.survey.building import (
    Building,
    BuildUp,
    CoveredStretch,
    Diagonal,
    FloorOrCeiling,
    Layer,
    Obstacle,
    Opening,
    Room,
    UnheatedSpace,
    Wall,
)  # fmt: skip
from heatloop.survey.loops import CrossingRule, Loop, LoopEmitter, RouteCrossing, RouteWalls, Tails, Valves
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.water_system import PumpCurve, Source, Trunk

CALLS: dict[type, tuple[str, tuple[str, ...]]] = {
    Building: ("building", ()),
    BuildUp: ("build_up", ("name", "*layers")),
    CoveredStretch: ("covered", ("start_m", "width_m", "factor")),
    CrossingRule: ("crossing", ("pipe", "depth_m")),
    Diagonal: ("diagonal", ("from_corner", "to_corner", "length_m")),
    FloorOrCeiling: ("surface", ("beyond", "build_up")),
    Layer: ("layer", ("material", "thickness_m", "conductivity_w_mk")),
    LoopEmitter: ("emitter", ("emitter", "room")),
    Obstacle: ("obstacle", ("kind", "start_m", "width_m")),
    PumpCurve: ("pump", ("flow_m3_h", "head_kpa")),
    Room: ("room", ("name", "indoor_c", "walls")),
    RouteCrossing: ("pipe", ("pipe", "length_m", "heats")),
    RouteWalls: ("route", ("room", "*walls")),
    Source: ("source", ("kind",)),
    Tails: ("tails", ("pipe", "flow_m", "return_m")),
    Trunk: ("trunk", ("name", "pipe", "length_m")),
    UnheatedSpace: ("space", ("name", "temp_c")),
    Valves: ("valves", ("flow", "return_")),
    Wall: ("wall", ("length_m", "beyond", "*openings", "*obstacles", "*covered")),
}
"""The function that makes a value, and the fields that it takes in order; * for one that it takes item by item."""


def python_script(survey: hl.Survey, catalogue: str) -> str:
    """The program; `job` is the survey. For surveys without bypasses and documents."""
    project = survey.project
    first = (project.name, project.outdoor_c, project.flow_temp_c)
    stated = {f.name: getattr(project, f.name) for f in fields(project)}
    more = [f"{key}={value!r}" for key, value in stated.items() if key in ("delta_t_k", "size_by", "annual_mean_c")]
    lines = [
        "import heatloop as hl", "", "B = hl.build", "job = B.survey(",
        f"    {', '.join(map(repr, first))},", f"    {_list(survey.rooms)},", f"    {_list(survey.loops)},",
        f"    {catalogue!r},", f"    building={_code(survey.building)},", f"    build_ups={_list(survey.build_ups)},",
        f"    spaces={_list(survey.spaces)}, source={_code(survey.source)}, trunks={_list(survey.trunks)},",
        f"    {', '.join(more)},", ")",
    ]  # fmt: skip
    if system := survey_to_tables(survey).get("system"):
        lines.append(f"job = job.with_values({{'system': {system!r}}})")
    return "\n".join(lines) + "\n"


def _list(values: Sequence[Any]) -> str:
    return "[" + ",\n        ".join(map(_code, values)) + "]"


def _code(value: Any) -> str:
    """The expression that makes a value."""
    if isinstance(value, Loop):
        return _loop(value)
    if isinstance(value, Opening):
        return _opening(value)
    if is_dataclass(value) and not isinstance(value, type):
        name, ordered = CALLS[type(value)]
        return f"B.{name}({', '.join([*_ordered(value, ordered), *_keys(value, _taken(ordered))])})"
    return f"[{', '.join(map(_code, value))}]" if isinstance(value, tuple | list) else repr(value)


def _taken(ordered: Sequence[str]) -> set[str]:
    return {name.removeprefix("*") for name in ordered}


def _ordered(value: Any, ordered: Sequence[str]) -> list[str]:
    """Arguments by their order, without those at the end that are as they would be anyhow."""
    plain = [name for name in ordered if not name.startswith("*")]
    items = [item for name in ordered if name.startswith("*") for item in getattr(value, name[1:])]
    defaults = {f.name: f.default for f in fields(value)}
    while plain and not items and getattr(value, plain[-1]) == defaults[plain[-1]]:
        plain.pop()
    return [*(_code(getattr(value, name)) for name in plain), *map(_code, items)]


def _keys(value: Any, taken: set[str], **usual: Any) -> Iterator[str]:
    for f in fields(value):
        default = f.default_factory() if f.default_factory is not MISSING else f.default
        if f.name not in taken and (held := getattr(value, f.name)) != usual.get(f.name, default):
            yield f"{f.name}={_code(held)}"


def _opening(opening: Opening) -> str:
    taken = ["start_m", "width_m", "height_m", *(["sill_m"] if opening.kind == "window" else [])]
    parts = [_code(getattr(opening, name)) for name in taken]
    keys = _keys(opening, {*taken, "kind"})
    return f"B.{opening.kind.replace(' ', '_')}({', '.join([*parts, *keys])})"


def _loop(loop: Loop) -> str:
    parts = [repr(loop.name), repr(loop.profile), _code(loop.tails)]
    parts += map(_code, loop.arms[0]) if len(loop.arms) == 1 else []
    taken = {"name", "profile", "tails", *(["arms"] if len(loop.arms) == 1 else [])}
    return f"B.loop({', '.join([*parts, *_keys(loop, taken, arrangement='there-and-back')])})"
