"""Surveys cut down to some of their loops."""

from dataclasses import replace


def part_of(survey, *loops):
    """The survey with these of its loops only."""
    kept = tuple(survey.loop(name) for name in loops)
    used = {loop.trunk for loop in kept}
    while more := {trunk.from_trunk for trunk in survey.trunks if trunk.name in used} - used:
        used |= more
    return replace(survey, loops=kept, trunks=tuple(trunk for trunk in survey.trunks if trunk.name in used))


def with_project(survey, **changes):
    return replace(survey, project=replace(survey.project, **changes))
