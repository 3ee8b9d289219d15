"""A room of four walls laid out with the catalogue of the test."""

from __future__ import annotations

from dataclasses import replace

from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout
from heatloop.survey.building import Building, Room, Wall
from heatloop.survey.catalogue import Catalogue, Emitter, End, Joint, Pipe
from heatloop.survey.loops import (
    CrossingRule,
    Loop,
    RouteItem,
    Tails,
)
from heatloop.survey.profiles import Channel, FloorSectionRating, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

PROFILE = Profile(
    "plain", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (3.0, 4.0),
    floor_section=FloorSectionRating(60.0, 1.1),
)  # fmt: skip
CATALOGUE = Catalogue(
    (PROFILE,),
    (Joint("any angle", "angle", (-135.0, 135.0), 60.0), Joint("splice", "straight", (0.0, 0.0), 5.0)),
    (End("front piece", "valve end", 140.0), End("far piece", "turn end", 60.0)),
    (Pipe("copper 15", 13.6, 15.0),),
    emitters=(Emitter("rail", 400.0, 1.25, zeta=2.0),),
)
PLAIN = (Wall(3.0), Wall(4.0), Wall(3.0), Wall(4.0))
ROOM = Room("Room", 20.0, walls=PLAIN)


def laid(*route: RouteItem, rooms: tuple[Room, ...] = (ROOM,), **changes: object) -> tuple[SurveyData, Layout]:
    loop = Loop(
        "Loop", "plain", "there-and-back", (route,) if route else (), Tails("copper 15", 2.0, 2.0),
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    loops = (replace(loop, **changes),)  # type: ignore[arg-type]
    project = Project("Test", -3.0, 50.0, "")
    survey = SurveyData(project, Building(), (), (), rooms, Source(), (), loops, CATALOGUE)
    return survey, build_layout(survey)
