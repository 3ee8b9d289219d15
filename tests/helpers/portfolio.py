"""A portfolio of dwellings drawn from a seed: houses like Alder Lodge in other sizes, temperatures and conditions."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np

import heatloop as hl
from heatloop.survey.building import Room, Wall
from heatloop.survey.entry import survey_from
from heatloop.survey.loops import Loop
from tests.helpers.paths import DATA


@cache
def lodge() -> hl.Survey:
    """The house from which the others are drawn."""
    return hl.read_survey(DATA / "alder-lodge" / "survey.toml")


def portfolio(count: int, first: int = 0) -> Iterator[hl.Survey]:
    """`count` different dwellings; the same number gives the same dwelling."""
    for number in range(first, first + count):
        yield dwelling(number)


def dwelling(number: int) -> hl.Survey:
    """The dwelling of that number: larger or smaller, warmer or colder, with longer or shorter pipes."""
    rng, survey = np.random.default_rng((2026, number)), lodge()
    scale = float(rng.uniform(1.0, 1.25))
    project = replace(
        survey.project,
        name=f"Dwelling {number}",
        flow_temp_c=float(rng.uniform(45.0, 55.0)),
        delta_t_k=float(rng.uniform(4.0, 8.0)),
        outdoor_c=float(rng.uniform(-8.0, 0.0)),
    )
    rooms = tuple(_room(room, scale, float(rng.uniform(-1.0, 1.0))) for room in survey.rooms)
    trunks = tuple(replace(trunk, length_m=trunk.length_m * float(rng.uniform(0.5, 2.0))) for trunk in survey.trunks)
    loops = tuple(_loop(loop, float(rng.uniform(0.5, 2.0))) for loop in survey.loops)
    changed = replace(survey, project=project, rooms=rooms, trunks=trunks, loops=loops)
    return survey_from("portfolio", changed)


def _room(room: Room, scale: float, warmer_k: float) -> Room:
    walls = tuple(_wall(wall, scale) for wall in room.walls)
    return replace(room, indoor_c=room.indoor_c + warmer_k, walls=walls)


def _wall(wall: Wall, scale: float) -> Wall:
    """Longer by a factor, its openings and obstacles where they were in proportion."""
    openings = tuple(replace(o, start_m=o.start_m * scale, width_m=o.width_m * scale) for o in wall.openings)
    obstacles = tuple(replace(o, start_m=o.start_m * scale, width_m=o.width_m * scale) for o in wall.obstacles)
    covered = tuple(replace(c, start_m=c.start_m * scale, width_m=c.width_m * scale) for c in wall.covered)
    return replace(wall, length_m=wall.length_m * scale, openings=openings, obstacles=obstacles, covered=covered)


def _loop(loop: Loop, factor: float) -> Loop:
    tails = replace(loop.tails, flow_m=loop.tails.flow_m * factor, return_m=loop.tails.return_m * factor)
    return replace(loop, tails=tails)
