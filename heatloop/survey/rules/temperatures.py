"""Rules of temperatures: water warm enough for the rooms and cool enough for the source."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.loops import Loop
from heatloop.survey.rules.routes import rooms_heated
from heatloop.survey.survey import SurveyData

PROJECT_FLOW: Loc = ("project", "flow_temp_c")
PROJECT_DROP: Loc = ("project", "delta_t_k")


@dataclass(frozen=True)
class _Water:
    """A flow temperature, and the place in the file that sets it."""

    temp_c: float
    loc: Loc


def check_temperatures(survey: SurveyData, findings: IssueCollector) -> None:
    """Report impossible or too low flow temperatures, and temperature drops that cannot be reached."""
    max_c = survey.source.max_flow_temp_c
    stated = [(PROJECT_FLOW, survey.project.flow_temp_c)]
    stated += [
        (("loop", index, "flow_temp_c"), loop.flow_temp_c)
        for index, loop in enumerate(survey.loops)
        if loop.flow_temp_c is not None
    ]
    for loc, temp_c in stated:
        if max_c is not None and temp_c > max_c:
            findings.add(loc, f"{temp_c:g}", f"at most the {max_c:g} °C that the source can give")
    project = _Water(survey.project.flow_temp_c, PROJECT_FLOW)
    for index, trunk in enumerate(survey.trunks):
        start = _in_trunk(survey, trunk.from_trunk, project)
        if start is not None and trunk.mixed_to_c is not None and trunk.mixed_to_c > start.temp_c:
            required = f"at most the {start.temp_c:g} °C that flows into it"
            findings.add(("trunk", index, "mixed_to_c"), f"{trunk.mixed_to_c:g}", required)
    _heats(survey, project, findings)


def _in_trunk(survey: SurveyData, name: str | None, project: _Water) -> _Water | None:
    """Water temperature in a trunk: mixed there or upstream, else that of the project; None in a cycle of trunks."""
    numbers = {trunk.name: number for number, trunk in enumerate(survey.trunks)}
    seen: set[str] = set()
    while name in numbers and name not in seen:
        seen.add(name)
        trunk = survey.trunks[numbers[name]]
        if trunk.mixed_to_c is not None:
            return _Water(trunk.mixed_to_c, ("trunk", numbers[name], "mixed_to_c"))
        name = trunk.from_trunk
    return None if name in seen else project


def _into_loop(survey: SurveyData, index: int, loop: Loop, project: _Water, findings: IssueCollector) -> _Water | None:
    """Water temperature of a loop, by its own statement or from its trunk."""
    trunk = _in_trunk(survey, loop.trunk, project)
    if loop.flow_temp_c is None:
        return trunk
    own = _Water(loop.flow_temp_c, ("loop", index, "flow_temp_c"))
    if trunk is not None and trunk is not project and own.temp_c > trunk.temp_c:
        required = f'at most the {trunk.temp_c:g} °C that trunk "{loop.trunk}" is mixed to'
        findings.add(own.loc, f"{own.temp_c:g}", required)
    return own


def _heats(survey: SurveyData, project: _Water, findings: IssueCollector) -> None:
    """Compare each flow temperature with the warmest room that it serves, and each drop with the smallest excess."""
    rooms = {room.name: room for room in survey.rooms}
    too_cool: dict[Loc, tuple[float, str, str]] = {}
    too_far: dict[Loc, tuple[float, str, str]] = {}
    for index, loop in enumerate(survey.loops):
        water = _into_loop(survey, index, loop, project, findings)
        warmest = max(
            (rooms[name] for name in rooms_heated(loop) if name in rooms), key=lambda room: room.indoor_c, default=None
        )
        if water is None or warmest is None:
            continue
        excess_k = water.temp_c - warmest.indoor_c
        if excess_k <= 0.0:
            required = f'more than the {warmest.indoor_c:g} °C of room "{warmest.name}", which loop "{loop.name}" heats'
            _worst(too_cool, water.loc, (excess_k, f"{water.temp_c:g}", required))
        drop_k = survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k
        place = PROJECT_DROP if loop.delta_t_k is None else ("loop", index, "delta_t_k")
        if survey.project.size_by == "drop" and 0.0 < excess_k <= drop_k:
            required = (
                f"less than {excess_k:g}, from a flow of {water.temp_c:g} to the {warmest.indoor_c:g} "
                f'°C of room "{warmest.name}" on loop "{loop.name}"'
            )
            _worst(too_far, place, (excess_k, f"{drop_k:g}", required))
    for loc, (_, found, required) in [*too_cool.items(), *too_far.items()]:
        findings.add(loc, found, required)


def _worst(kept: dict[Loc, tuple[float, str, str]], loc: Loc, case: tuple[float, str, str]) -> None:
    if loc not in kept or case[0] < kept[loc][0]:
        kept[loc] = case
