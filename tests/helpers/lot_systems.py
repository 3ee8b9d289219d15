"""Random surveys that can be sized in a lot: those of random_systems without the parts that cannot."""

from dataclasses import replace

from heatloop.survey.loops import Loop, Valves
from heatloop.survey.survey import SurveyData
from tests.helpers.random_systems import random_survey


def lot_survey(seed: int, size_by: str | None = None) -> SurveyData:
    """The survey of a seed without tees, its water divided by valves and symmetry only.

    Trunks, bypasses, mixed circuits and mixed loops, other emitters, buoyancy, antifreeze and both kinds of sizing
    remain.
    """
    survey = random_survey(seed)
    project = replace(survey.project, tees=False, size_by=size_by or survey.project.size_by)
    loops = tuple(_loop(loop) for loop in survey.loops)
    used = {*(loop.trunk for loop in loops), *(bypass.trunk for bypass in survey.bypasses)}
    for trunk in reversed(survey.trunks):
        if trunk.name in used:
            used.add(trunk.from_trunk)
    trunks = tuple(trunk for trunk in survey.trunks if trunk.name in used)
    return replace(survey, project=project, loops=loops, trunks=trunks)


def _loop(loop: Loop) -> Loop:
    """With a balancing valve, one in each of two arms, and channels that share their water equally."""
    valves = loop.valves if loop.valves.flow or loop.valves.return_ else Valves(None, "lockshield 15")
    profile = loop.profile
    if profile and (loop.arrangement == "there-and-back" or profile == "three unlike"):
        profile = "two-channel 140"
    arm_valves = (Valves(None, "lockshield 15"),) * 2 if len(loop.arms) == 2 else ()
    return replace(loop, valves=valves, profile=profile, arm_valves=arm_valves)
