"""Reading good files: every key reaches its value, defaults are the documented ones."""

import codecs
import copy
import dataclasses
import shutil
import tomllib
from typing import get_args

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey import building, catalogue, loops, profiles, survey
from heatloop.survey.building import Building, CoveredStretch, FloorOrCeiling, Obstacle, Opening, Room
from heatloop.survey.catalogue import Pipe
from heatloop.survey.entry import read_survey
from heatloop.survey.files.catalogue_tables import CatalogueTable
from heatloop.survey.files.fields import FileTable
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.loops import RouteCrossing, RouteEstimate, RouteWalls, Tails, Valves
from heatloop.survey.profiles import Channel, ChannelCoupling, OutputRating
from heatloop.survey.read import read_catalogue, survey_of
from heatloop.survey.survey import Project
from heatloop.survey.water_system import PumpCurve, Source, Trunk
from tests.helpers.paths import HARBOUR_LOFT

GOOD = HARBOUR_LOFT
SURVEY = read_survey(GOOD / "survey.toml")
MODELS = building, loops, profiles, survey, catalogue
TABLES = tomllib.loads((GOOD / "survey.toml").read_text(encoding="utf-8"))


def test_project_and_source():
    assert SURVEY.project == Project("Harbour Loft", -4.0, 52.0, "catalogue.toml", 8.0)
    assert isinstance(SURVEY.project.outdoor_c, float)
    assert SURVEY.source.pump == PumpCurve((0.0, 1.0, 2.0, 3.0), (60.0, 55.0, 42.0, 20.0))
    assert SURVEY.path == GOOD / "survey.toml"


def test_walls_openings_and_what_stands_before_them():
    saloon = SURVEY.room("Saloon")
    assert [wall.turn_deg for wall in saloon.walls] == [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]
    assert saloon.walls[0].openings[0] == Opening("window", 2.0, 1.5, 1.2, 0.9, name="gable window", build_up="glazing")
    assert saloon.walls[1].obstacles == (Obstacle("units", 0.5, 2.0, "crossing"),)
    assert saloon.walls[5].covered == (CoveredStretch(1.0, 1.0, 0.6),)
    assert saloon.walls[5].beyond is None
    assert saloon.floor == FloorOrCeiling("ground", "slab")


def test_trunks_and_tails():
    assert SURVEY.trunk("riser").from_trunk is None
    assert SURVEY.trunk("cabins") == Trunk("cabins", "copper 22", 4.0, "riser", 45.0)
    assert SURVEY.loop("Saloon").tails == Tails("copper 15", 2.5, 2.5)
    assert SURVEY.loop("Cabins").tails == Tails("copper 15", 3.0, 5.0)


def test_arms_each_in_water_order():
    first, second = SURVEY.loop("Saloon").arms
    assert first == (RouteWalls("Saloon", (5, 6), from_m=0.3, floor_sections=("balcony doors",)),)
    assert second == (
        RouteWalls("Saloon", (4, 3), from_m=1.8),
        RouteCrossing("copper 15", 1.2, heats="Lobby"),
        RouteWalls("Lobby", (2,), 1.8, 0.2, "anticlockwise"),
    )
    assert SURVEY.loop("Saloon").arm_valves == (Valves(None, "lockshield 15"),) * 2


def test_route_with_crossings_and_a_quote():
    (route,) = SURVEY.loop("Cabins").arms
    assert route[1] == RouteCrossing("copper 15", 0.8)
    # a crossing without a pipe of its own is in the pipe of the loop's crossings
    assert route[3] == RouteCrossing("copper 15", 2.5)
    assert route[4] == RouteEstimate("Attic", 5.5)


def test_like_takes_the_keys_it_does_not_give():
    first, second = SURVEY.room("Cabin A"), SURVEY.room("Cabin B")
    assert (second.copy_of, second.indoor_c, second.air_changes_h) == ("Cabin A", 19.0, 0.5)
    assert [wall.length_m for wall in second.walls] == [wall.length_m for wall in first.walls]
    # its opening is another opening, and the route that names it finds it
    assert second.walls[0].openings[0].name == "french window (Cabin B)"
    assert SURVEY.loop("Cabins").arms[0][2].floor_sections == ("french window (Cabin B)",)


def test_like_a_room_that_is_like_another():
    tables = copy.deepcopy(TABLES)
    tables["room"].append({"name": "Cabin C", "copy_of": "Cabin B", "height_m": 2.6})
    room = survey_of(tables, GOOD / "survey.toml").room("Cabin C")
    assert (room.indoor_c, room.height_m, len(room.walls)) == (19.0, 2.6, 4)
    assert room.walls[0].openings[0].name == "french window (Cabin C)"


def test_trunk_from_the_source_by_name():
    tables = copy.deepcopy(TABLES)
    tables["trunk"][0]["from"] = "source"
    tables["loop"][1]["trunk"] = "source"
    tables["trunk"] = tables["trunk"][:1]
    survey = survey_of(tables, GOOD / "survey.toml")
    assert survey.trunk("riser").from_trunk is None
    assert survey.loop("Cabins").trunk is None


def test_build_up_from_the_library():
    tables = copy.deepcopy(TABLES)
    tables["room"][2]["walls"][0]["build_up"] = "solid brick wall, before 1965"
    assert survey_of(tables, GOOD / "survey.toml").room("Cabin A").walls[0].build_up.startswith("solid")


def test_catalogue_entries():
    duo, trio = SURVEY.catalogue.profiles
    assert duo.rating == OutputRating(150.0, 1.28, arrangement="there-and-back", drop_k=10.0)
    assert duo.link == ChannelCoupling(web_thickness_mm=1.8, web_length_mm=70.0, webs=1, conductivity_w_mk=200.0)
    assert (trio.rating.drop_k, trio.rating.flow_kg_s) == (None, 0.03)
    assert trio.channels[0] == Channel(width_mm=20.0, height_mm=12.0)
    assert SURVEY.catalogue.valve("thermostatic 15").kv_at_1k_m3_h == (0.07, 0.12, 0.17, 0.22)
    assert SURVEY.catalogue.end("turn end").vent
    assert read_catalogue(GOOD / "catalogue.toml") == SURVEY.catalogue


def test_catalogue_path_counts_from_the_survey(tmp_path, monkeypatch):
    shutil.copytree(GOOD, tmp_path / "job")
    (tmp_path / "job" / "parts").mkdir()
    (tmp_path / "job" / "catalogue.toml").rename(tmp_path / "job" / "parts" / "list.toml")
    path = tmp_path / "job" / "survey.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('"catalogue.toml"', '"parts/list.toml"'), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert read_survey("job/survey.toml").catalogue == SURVEY.catalogue


def test_byte_order_mark_and_windows_lines_are_read(tmp_path):
    shutil.copytree(GOOD, tmp_path, dirs_exist_ok=True)
    path = tmp_path / "survey.toml"
    text = path.read_bytes().replace(b"\n", b"\r\n")
    path.write_bytes(codecs.BOM_UTF8 + text)
    assert read_survey(path).rooms == SURVEY.rooms


def test_defaults_of_the_file_are_those_of_the_values():
    room = Room("r", 20.0)
    read = SURVEY.room("Attic")
    assert (read.height_m, read.level_m, read.heat_recovery) == (
        room.height_m,
        room.level_m,
        room.heat_recovery,
    )
    assert SURVEY.building.thermal_bridge_w_m2k == Building().thermal_bridge_w_m2k
    assert SURVEY.source.water_volume_l == Source().water_volume_l
    pipe = SURVEY.catalogue.pipe("copper 15")
    assert pipe == Pipe("copper 15", 13.6, 15.0)


def tables_under(kind):
    """A kind of table and all kinds within it."""
    found = {kind}
    for field in kind.model_fields.values():
        stack = [field.annotation]
        while stack:
            part = stack.pop()
            if isinstance(part, type) and issubclass(part, FileTable):
                found |= tables_under(part)
            stack.extend(get_args(part))
    return found


# what a file says in a form of its own, or what is no part of it
OWN_FORM = {
    "SurveyData": {"catalogue", "path", "cells", "build_ups", "spaces", "rooms", "trunks", "loops", "bypasses"},
    "RouteEstimate": {"estimated_wall_m"},
    "OutputRating": {"fit_spread"},
    "Catalogue": {"profiles", "joints", "ends", "pipes", "valves", "fittings", "fixings", "consumables", "packs"},
}


@pytest.mark.parametrize(
    "value",
    [v for m in MODELS for v in vars(m).values() if dataclasses.is_dataclass(v) and v.__module__ == m.__name__],
    ids=lambda value: value.__name__,
)
def test_every_value_can_be_said_in_a_file(value):
    fields = {field.name for field in dataclasses.fields(value)} - OWN_FORM.get(value.__name__, set())
    kinds = tables_under(SurveyTable) | tables_under(CatalogueTable)
    assert any(fields <= set(kind.model_fields) for kind in kinds), fields


@pytest.mark.parametrize("key", ["source", "building"])
def test_tables_that_may_be_left_out(key):
    tables = copy.deepcopy(TABLES)
    del tables[key]
    tables["build_up"][1] = {"name": "slab", "u_w_m2k": 0.2}
    survey = survey_of(tables, GOOD / "survey.toml")
    assert getattr(survey, key) == {"source": Source(), "building": Building()}[key]


def test_tables_that_share_a_part_are_told_apart():
    tables = copy.deepcopy(TABLES)
    tables["room"][0]["walls"][0] = tables["loop"][0]["arm_valves"][0] = {}
    with pytest.raises(InputError, match="wall 1, length_m: found nothing"):
        survey_of(tables, GOOD / "survey.toml")


def test_survey_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        SURVEY.project.name = "other"


def test_error_has_a_line_for_each_fault():
    tables = copy.deepcopy(TABLES)
    tables["project"]["outdoor_c"] = "cold"
    tables["room"][0]["height_m"] = 0
    with pytest.raises(InputError) as caught:
        survey_of(tables, GOOD / "survey.toml")
    assert len(str(caught.value).splitlines()) == len(caught.value.issues) == 2
