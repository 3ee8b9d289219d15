"""Warmer water and stronger emitters: flow temperature, another profile, another emitter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import ceil

from heatloop.survey.loops import Loop, LoopEmitter, RouteCrossing
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Trunk
from heatloop.text.formatting import number
from heatloop.workflows.energy.weather_curve import max_flow_temp_c
from heatloop.workflows.improve.remedy import Edit, Family, Remedy, loop_edit

STEP_K = 0.5
"""Steps of temperatures and drops."""


def loops_heating(survey: SurveyData, room: str) -> tuple[Loop, ...]:
    """The loops with skirting or another emitter in a room."""
    return tuple(loop for loop in survey.loops if room in heated_by(loop))


def heated_by(loop: Loop) -> set[str]:
    """Names of the rooms with skirting or another emitter of a loop."""
    routed = {item.room for arm in loop.arms for item in arm if not isinstance(item, RouteCrossing)}
    return routed | {emitter.room for emitter in loop.emitters}


def hotter_water(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """Hotter water for a loop: at the source or, where it has cooler water, at the mixing valve of loop or trunk."""
    project_c = survey.project.flow_temp_c
    mixed = next((trunk for trunk in trunks_of(survey, loop) if trunk.mixed_to_c is not None), None)
    if loop.flow_temp_c is not None and loop.flow_temp_c < project_c:
        yield _hotter(loop.flow_temp_c, project_c, lambda c: loop_edit(loop, flow_temp_c=c), f"loop {loop.name}")
    elif mixed is not None and mixed.mixed_to_c is not None:
        name, mixed_c = mixed.name, mixed.mixed_to_c
        yield _hotter(mixed_c, project_c, lambda c: Edit("trunk", name, (("mixed_to_c", c),)), f"trunk {name}")
    else:
        max_c = max_flow_temp_c(survey)
        yield _hotter(project_c, max_c, lambda c: Edit("project", "", (("flow_temp_c", c),)), "the source")


def trunks_of(survey: SurveyData, loop: Loop) -> Iterator[Trunk]:
    """The trunk of a loop and those before it, towards the source."""
    name = loop.trunk
    while name is not None:
        trunk = survey.trunk(name)
        yield trunk
        name = trunk.from_trunk


def _hotter(present_c: float, max_c: float, edit: Callable[[float], Edit], where: str) -> Family:
    temps_c = _steps(present_c, max_c)
    return tuple(
        Remedy("hotter water", where, f"flow temperature of {where} from {number(present_c, 1)} to {number(c, 1)} °C",
               (edit(c),))
        for c in temps_c
    )  # fmt: skip


def _steps(start: float, end: float) -> list[float]:
    """Values above `start` in steps, the last is `end`; none where it is not above."""
    count = ceil((end - start) / STEP_K - 1e-9)
    return [min(round(start + STEP_K * step, 6), end) for step in range(1, count + 1)]


def stronger_profiles(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """The profiles of the catalogue with a greater rated output, such as a taller one or one with three channels."""
    if not loop.profile:
        return
    present = survey.catalogue.profile(loop.profile)
    for profile in survey.catalogue.profiles:
        if profile.rating.output_w_m <= present.rating.output_w_m:
            continue
        finish = loop.finish if loop.finish in {item.name for item in profile.finishes} else None
        cover = loop.cover if loop.cover in {item.name for item in profile.covers} else None
        words = (
            f"profile of loop {loop.name}: {profile.name} in place of {present.name} ({number(profile.height_mm)} mm "
            f"high, {len(profile.channels)} channels)"
        )
        changed = loop_edit(loop, profile=profile.name, finish=finish, cover=cover)
        yield (Remedy("another profile", f"loop {loop.name}", words, (changed,)),)


def other_emitters(survey: SurveyData, room: str) -> Iterator[Family]:
    """Each other emitter of the catalogue in series with the first loop of the room."""
    for loop in loops_heating(survey, room)[:1]:
        for emitter in survey.catalogue.emitters:
            added = (*loop.emitters, LoopEmitter(emitter.name, room))
            words = f"{emitter.name} in {room}, in the return of loop {loop.name}"
            assumed = "there is a place for it beside the return pipe"
            yield (Remedy("another emitter", f"loop {loop.name}", words, (loop_edit(loop, emitters=added),), assumed),)
