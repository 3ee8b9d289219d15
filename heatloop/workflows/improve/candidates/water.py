"""Remedies of the water side: larger pipes, other temperature drops, other valves, settings of the pump."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import ceil
from typing import Literal

from heatloop.hydraulics.sizing.searched_flows import MIN_DROP_BY_LOSS_K
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.survey.loops import Loop, RouteCrossing, Valves
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import number
from heatloop.workflows.improve.remedy import Edit, Family, Remedy, loop_edit

STEP_K, MAX_LARGER_K = 0.5, 10.0
"""Steps of a temperature drop, and the most by which it is raised, in K."""

HEAD_STEP_KPA = 0.5
"""Resolution of a setting of the pump."""


def larger_pipes(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """The tails and crossings of a loop in each pipe of the catalogue with a larger bore."""
    present = survey.catalogue.pipe(loop.tails.pipe)
    family = []
    for pipe in _larger(survey, present.bore_mm):
        crossing = None if loop.crossing is None else replace(loop.crossing, pipe=pipe)
        arms = tuple(
            tuple(replace(item, pipe=pipe) if isinstance(item, RouteCrossing) else item for item in arm)
            for arm in loop.arms
        )
        edit = loop_edit(loop, tails=replace(loop.tails, pipe=pipe), crossing=crossing, arms=arms)
        words = f"tails and crossings of loop {loop.name} in {pipe} in place of {present.name}"
        family.append(Remedy("larger pipe", f"loop {loop.name}", words, (edit,)))
    yield tuple(family)


def larger_trunk(survey: SurveyData, name: str) -> Iterator[Family]:
    """A trunk in each pipe of the catalogue with a larger bore."""
    trunk = survey.trunk(name)
    present = survey.catalogue.pipe(trunk.pipe)
    yield tuple(
        Remedy("larger pipe", f"trunk {name}", f"trunk {name} in {pipe} in place of {present.name}",
               (Edit("trunk", name, (("pipe", pipe),)),))
        for pipe in _larger(survey, present.bore_mm)
    )  # fmt: skip


def _larger(survey: SurveyData, bore_mm: float) -> list[str]:
    pipes = sorted(survey.catalogue.pipes, key=lambda pipe: pipe.bore_mm)
    return [pipe.name for pipe in pipes if pipe.bore_mm > bore_mm]


def other_drops(survey: SurveyData, loop: Loop, kind: Literal["smaller drop", "larger drop"]) -> Iterator[Family]:
    """Other temperature drops of a loop: with a smaller one it carries more water, with a larger one less.

    From the present drop, in steps, down to the smallest of a sizing or up by 10 K; none if loops are sized by heat
    loss.
    """
    if survey.project.size_by != "drop":
        return
    present_k = survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k
    range_k, sign = (MAX_LARGER_K, 1.0) if kind == "larger drop" else (present_k - MIN_DROP_BY_LOSS_K, -1.0)
    steps = int(range_k / STEP_K + 1e-9)
    drops_k = [round(present_k + sign * STEP_K * step, 6) for step in range(1, steps + 1)]
    yield tuple(
        Remedy(kind, f"loop {loop.name}",
               f"temperature drop of loop {loop.name} from {number(present_k, 1)} to {number(drop_k, 1)} K",
               (loop_edit(loop, delta_t_k=drop_k),))
        for drop_k in drops_k
    )  # fmt: skip


def other_valves(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """Each other valve of the catalogue on flow or return of a loop; a thermostatic valve only in place of another."""
    valves = survey.catalogue.valves
    for side, present in (("flow", loop.valves.flow), ("return", loop.valves.return_)):
        closes = present is not None and survey.catalogue.valve(present).kvs_m3_h is not None
        for valve in valves:
            if valve.name == present or (valve.kvs_m3_h is not None) != closes:
                continue
            changed = (
                Valves(valve.name, loop.valves.return_) if side == "flow" else Valves(loop.valves.flow, valve.name)
            )
            replaced = f" in place of {present}" if present else ""
            words = f"{valve.name} on the {side} of loop {loop.name}{replaced}"
            yield (Remedy("another valve", f"loop {loop.name}", words, (loop_edit(loop, valves=changed),)),)
    if loop.arm_valves:
        yield from _other_arm_valves(survey, loop)


def _other_arm_valves(survey: SurveyData, loop: Loop) -> Iterator[Family]:
    """Each other valve of the catalogue that does not close by itself on the return of every arm."""
    for valve in survey.catalogue.valves:
        changed = tuple(replace(held, return_=valve.name) for held in loop.arm_valves)
        if valve.kvs_m3_h is None and changed != loop.arm_valves:
            words = f"{valve.name} on the return of each arm of loop {loop.name}"
            yield (Remedy("another valve", f"loop {loop.name}", words, (loop_edit(loop, arm_valves=changed),)),)


def pump_settings(system: SizedSystem) -> Iterator[Family]:
    """The pump of the source at constant head, as much as the index loop requires, rounded up."""
    survey = system.survey
    pump = survey.source.pump
    if pump is None:
        return
    head_kpa = ceil(system.duty.head_kpa / HEAD_STEP_KPA - 1e-9) * HEAD_STEP_KPA
    if not 0.0 < head_kpa <= max(pump.head_kpa):
        return
    fixed = replace(pump, speed=None, constant_kpa=head_kpa, proportional_kpa=None, proportional_m3_h=None)
    if fixed == pump:
        return
    words = f"pump of the source at a constant head of {number(head_kpa, 1)} kPa"
    yield (Remedy("pump setting", "pump", words, (Edit("source", "", (("pump", fixed),)),)),)
