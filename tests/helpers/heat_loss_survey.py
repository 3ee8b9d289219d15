"""A survey of one or a few rooms in code, for heat losses worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.survey.building import (
    Building,
    BuildUp,
    Layer,
    Room,
    UnheatedSpace,
    Wall,
)
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

BUILD_UPS = (
    BuildUp("wall", u_w_m2k=0.5),
    BuildUp("glass", u_w_m2k=1.4),
    BuildUp("door", u_w_m2k=2.0),
    BuildUp("inner", u_w_m2k=2.0),
    BuildUp("slab", (Layer("screed", 0.065, 1.15), Layer("insulation", 0.08, 0.022))),
    BuildUp("joists", u_w_m2k=1.5),
)


def survey_of(*rooms: Room, building: Building | None = None, **changes: object) -> SurveyData:
    """A survey of these rooms at -5 °C outdoors, without loops."""
    survey = SurveyData(
        Project("unit", -5.0, 50.0, "none.toml", annual_mean_c=10.0),
        building or Building(slab_area_m2=60.0, slab_exposed_perimeter_m=30.0, thermal_bridge_w_m2k=0.0),
        BUILD_UPS,
        (UnheatedSpace("Garage", temp_c=5.0), UnheatedSpace("Loft", temperature_factor=0.9)),
        rooms,
        Source(),
        (),
        (),
        Catalogue(),
    )
    return replace(survey, **changes)  # type: ignore[arg-type]


def loss_of(survey: SurveyData, area_m2: float = 10.0) -> RoomLoss:
    """The loss of the first room."""
    return room_losses(survey, {room.name: area_m2 for room in survey.rooms})[0]


def faults_of(survey: SurveyData, area_m2: float = 10.0) -> list[str]:
    """The lines of the error that the survey gives."""
    with pytest.raises(InputError) as caught:
        loss_of(survey, area_m2)
    return str(caught.value).splitlines()


def room_of(*walls: Wall, **keys: object) -> Room:
    """A room of 20 °C and 2.5 m height, without outdoor air unless it is given."""
    given_keys: dict[str, object] = {"indoor_c": 20.0, "height_m": 2.5, "air_changes_h": 0.0, "walls": walls}
    return Room("Room", **{**given_keys, **keys})  # type: ignore[arg-type]
