"""Surveys changed in Python: checked as files are, written, and put into files whose comments stay."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.survey.building import CoveredStretch
from heatloop.survey.entry import survey_from
from tests.helpers.paths import DATA, HARBOUR_LOFT
from tests.helpers.repository_surveys import SURVEYS, name_of

MILL = DATA / "mill-annexe" / "survey.toml"
LODGE = DATA / "alder-lodge" / "survey.toml"


@pytest.fixture(scope="module")
def mill():
    return hl.read_survey(MILL)


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(LODGE)


@pytest.mark.parametrize("path", SURVEYS, ids=name_of)
def test_every_survey_is_equal_after_to_toml(path, tmp_path):
    survey = hl.read_survey(path)
    again = hl.read_survey(survey.save(tmp_path / "again.toml"))
    assert again.project.catalogue != survey.project.catalogue  # the path from another folder, to the same file
    assert again.catalogue == survey.catalogue
    assert replace(again, project=survey.project, path=path) == survey


def test_changes_give_copies_and_leave_the_survey_as_it_is(mill):
    before = replace(mill)
    changed = mill.with_flow_temp(60.0).with_delta_t(6.0).with_outdoor(-5.0)
    project = changed.project
    assert (project.flow_temp_c, project.delta_t_k, project.outdoor_c) == (60.0, 6.0, -5.0)
    assert isinstance(changed, hl.Survey)
    assert mill == before
    source = hl.build.source("boiler", output_kw=9.0, pump=hl.build.pump([0, 1.0], [40, 20]))
    assert mill.with_source(source).source == source


def test_a_loop_keeps_its_flow_temperature_unless_it_is_above(lodge):
    own = lodge.with_values({"loop": {"Kitchen": {"flow_temp_c": 45.0}}})
    assert own.with_flow_temp(55.0).loop("Kitchen").flow_temp_c == 45.0
    assert own.with_flow_temp(44.0).loop("Kitchen").flow_temp_c == 44.0


def test_rooms_and_loops_are_added_replaced_and_removed(lodge):
    box = hl.build.rectangle("Larder", 12.0, 2.0, 1.5, heat_loss_w=80.0)
    larger = lodge.with_room(box)
    assert larger.rooms[-1] == box
    assert larger.with_room(replace(box, indoor_c=14.0)).room("Larder").indoor_c == 14.0
    assert larger.without_room("Larder") == lodge
    with pytest.raises(hl.InputError, match="Cellar"):
        lodge.with_loop(replace(lodge.loop("Kitchen"), sensor_room="Cellar"))
    fewer = lodge.without_loop("Kitchen")
    assert [one.name for one in fewer.loops] == [one.name for one in lodge.loops if one.name != "Kitchen"]
    assert {one.name for one in fewer.with_loop(lodge.loop("Kitchen")).loops} == {one.name for one in lodge.loops}
    with pytest.raises(KeyError, match="Attic"):
        lodge.without_room("Attic")


def test_all_faults_come_at_once_in_the_words_of_a_file(lodge):
    with pytest.raises(hl.InputError) as caught:
        lodge.with_values(
            {"project": {"outdoor_c": -300, "size_by": "guess"}, "room": {"Hall": {"walls": {2: {"length_m": "long"}}}}}
        )
    places = {issue.place for issue in caught.value.issues}
    assert {"project, outdoor_c", "project, size_by", 'room "Hall", wall 2, length_m'} <= places
    with pytest.raises(hl.InputError, match="profile of the catalogue; the nearest is"):
        lodge.with_profile("Kitchen", "two-chanel 140")
    with pytest.raises(hl.InputError, match='"Attic"'):
        lodge.with_values({"room": {"Attic": {"indoor_c": 20}}})
    with pytest.raises(hl.InputError, match='key "flow_c"'):
        lodge.with_values({"project": {"flow_c": 20}})
    with pytest.raises(hl.InputError, match="a mapping"):
        lodge.with_values([1])
    with pytest.raises(hl.InputError, match="required: a number in °C"):
        lodge.with_flow_temp("warm")


def test_with_values_takes_numbers_of_any_kind_and_removes_with_none(lodge):
    changed = lodge.with_values(
        {"project": {"delta_t_k": np.float64(6.0), "annual_mean_c": None}, "system": {"ph": (7, 8)}}
    )
    assert changed.project.delta_t_k == 6.0
    assert type(changed.project.delta_t_k) is float
    assert changed.system.ph == (7, 8)
    with pytest.raises(hl.InputError):
        lodge.with_values({"project": {"name": None}})


@pytest.mark.parametrize(
    ("wrong", "place"),
    [
        ({"outdoor_c": -300.0}, "project, outdoor_c"),
        ({"flow_temp_c": "warm"}, "project, flow_temp_c"),
        ({"delta_t_k": float("nan")}, "project, delta_t_k"),
        ({"water_film": 1}, "project, water_film"),
        ({"name": ""}, "project, name"),
    ],
)
def test_size_checks_a_survey_that_was_changed_without_check(mill, wrong, place):
    with pytest.raises(hl.InputError) as caught:
        hl.size(replace(mill, project=replace(mill.project, **wrong)))
    assert [issue.place for issue in caught.value.issues] == [place]


@pytest.mark.parametrize("part", ["project", "rooms", "loops", "source", "building", "trunks", "system"])
@pytest.mark.parametrize("wrong", [None, 3, "x", (1,), [], object()])
def test_whatever_stands_in_a_survey_is_told_or_passes(mill, part, wrong):
    told = ""
    try:
        survey_from("size", replace(mill, **{part: wrong}))
    except hl.InputError as error:
        told = str(error)
    assert bool(told) == ((part, wrong) != ("trunks", []))


def test_a_room_that_is_a_copy_stays_one_while_it_has_all_keys_of_the_other():
    loft = hl.read_survey(HARBOUR_LOFT / "survey.toml")
    copy = next(room for room in loft.rooms if room.copy_of)
    assert 'copy_of = "' in loft.to_toml()
    other = loft.room(copy.copy_of)
    walls = (replace(other.walls[0], covered=(CoveredStretch(0.1, 0.2),)), *other.walls[1:])
    changed = loft.with_room(replace(other, walls=walls))
    assert changed.room(copy.name).walls == copy.walls
    warmed = loft.with_room(replace(other, reheat_w_m2=11.0))
    assert warmed.room(copy.name).reheat_w_m2 is None
    assert warmed.room(copy.name).copy_of is None


def test_save_refuses_what_is_there_and_other_kinds(mill, tmp_path):
    path = mill.save(tmp_path / "a.toml")
    held = path.read_bytes()
    for name, words in (
        ("a.toml", "nothing is overwritten"),
        ("a.csv", "ends in neither"),
        ("no/a.toml", "cannot be written"),
    ):
        with pytest.raises(hl.InputError, match=words):
            mill.save(tmp_path / name)
    assert path.read_bytes() == held
    assert "# 1 west wall, going north; outdoors behind it" in path.read_text(encoding="utf-8")


def test_a_survey_whose_catalogue_is_in_no_file_cannot_be_saved(mill, tmp_path):
    held = hl.build.survey("Held", -3.0, 50.0, mill.rooms, [replace(mill.loops[0], trunk=None)], mill.catalogue,
                           building=mill.building, build_ups=mill.build_ups, spaces=mill.spaces)  # fmt: skip
    assert held.project.catalogue == ""
    with pytest.raises(hl.InputError, match="survey: project, catalogue: found a catalogue in no file"):
        held.save(tmp_path / "held.toml")
    named = held.with_values({"project": {"catalogue": str(mill.catalogue_file)}})
    assert hl.read_survey(named.save(tmp_path / "held.toml")).catalogue == mill.catalogue
