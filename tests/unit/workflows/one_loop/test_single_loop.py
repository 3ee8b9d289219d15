"""A tried loop is the loop that sizing finds, and its end moves along its wall."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.workflows.one_loop.single_loop import SingleLoop
from tests.helpers.paths import DATA
from tests.helpers.survey_parts import part_of, with_project


@pytest.fixture(scope="module")
def annexe():
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml")


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


@pytest.mark.parametrize(("flow_temp_c", "drop_k"), [(50.0, 7.0), (40.0, 5.0), (55.0, 12.0)])
@pytest.mark.parametrize("loop", ["Bedrooms", "Hall and study"])
def test_a_tried_loop_is_the_loop_that_sizing_finds(lodge, loop, flow_temp_c, drop_k):
    sized = hl.size(with_project(part_of(lodge, loop), flow_temp_c=flow_temp_c, delta_t_k=drop_k))
    reaches_c = sized.loops["flow_temp_c"].iloc[0]  # the trunks have cooled the water a little
    assert flow_temp_c - 1.0 < reaches_c <= flow_temp_c
    tried = SingleLoop.from_survey(lodge, loop).at(reaches_c, drop_k)
    assert tried.flow_kg_s == pytest.approx(sized.operation.loop_flow_kg_s[0], rel=1e-4)
    assert tried.return_c == pytest.approx(reaches_c - drop_k, abs=1e-3)
    rooms = sized.rooms.set_index("room")
    useful_w = rooms["heat_to_rooms_w"] - rooms["back_loss_w"]
    assert tried.room_w == pytest.approx({room: useful_w[room] for room in tried.room_w}, rel=1e-4)
    assert tried.margin_w == pytest.approx({room: rooms.loc[room, "margin_w"] for room in tried.room_w}, abs=0.1)


def test_pieces_have_the_water_temperatures_of_the_design(lodge):
    design = hl.size(part_of(lodge, "Bedrooms"))
    tried = SingleLoop.from_survey(lodge, "Bedrooms").at(design.loops["flow_temp_c"].iloc[0], 7.0)
    elements = design.elements
    pieces = elements[elements["kind"] == "piece"]
    assert set(tried.piece_c) == set(pieces["label"])
    for label, temps_c in tried.piece_c.items():
        own = pieces[pieces["label"] == label].sort_values("channel")
        middle_c = (own["inlet_temp_c"] + own["outlet_temp_c"]) / 2.0
        assert temps_c == pytest.approx(tuple(middle_c), abs=0.06)  # the water falls in a slight curve


def test_a_piece_behind_something_has_one_temperature_for_all_its_stretches(lodge):
    """The desk covers the middle of a wall: three cells, one piece."""
    laid = SingleLoop.from_survey(lodge, "Hall and study")
    labels = [cell.label for cell in laid.path.arms[0].cells if cell.skirting]
    assert len(labels) > len(set(labels))
    tried = laid.at(50.0, 7.0)
    assert set(tried.piece_c) == set(labels)
    assert all(43.0 < c < 50.0 for temps_c in tried.piece_c.values() for c in temps_c)


def test_the_end_of_the_skirting_moves_and_more_of_it_gives_more(lodge):
    laid = [SingleLoop.from_survey(lodge, "Bedrooms", ends_at_m) for ends_at_m in (2.4, 3.4, 4.4)]
    lengths_m = [one.layout.loop("Bedrooms").heated_length_m for one in laid]
    assert lengths_m[1] - lengths_m[0] == pytest.approx(1.0, abs=0.01)
    outputs_w = [one.at(50.0, 7.0).room_w["Main bedroom"] for one in laid]
    assert outputs_w[0] < outputs_w[1] < outputs_w[2]
    as_surveyed = SingleLoop.from_survey(lodge, "Bedrooms").layout.loop("Bedrooms")
    assert lengths_m[1] == pytest.approx(as_surveyed.heated_length_m, rel=1e-12)


def test_channels_in_parallel_share_as_their_friction_says(annexe):
    """Three channels there-and-back: two go out side by side, one comes back."""
    turned = replace(annexe.loops[0], arrangement="there-and-back")
    survey = with_project(replace(annexe, loops=(turned,)), delta_t_k=10.0)
    tried = SingleLoop.from_survey(survey, "Annexe").at(70.0, 10.0)
    assert tried.flow_kg_s == pytest.approx(hl.size(survey).operation.loop_flow_kg_s[0], rel=1e-4)


@pytest.mark.parametrize(("flow_temp_c", "drop_k"), [(30.0, 15.0), (15.0, 5.0)])
def test_a_drop_that_no_flow_gives_is_said(lodge, flow_temp_c, drop_k):
    with pytest.raises(ValueError, match=f"no flow gives a drop of {drop_k:g} K at {flow_temp_c:g} °C"):
        SingleLoop.from_survey(lodge, "Bedrooms").at(flow_temp_c, drop_k)


def test_a_loop_of_two_arms_is_refused(lodge):
    with pytest.raises(ValueError, match="2 arms; required: one"):
        SingleLoop.from_survey(lodge, "Living room")


def test_an_end_moves_only_along_a_wall(lodge):
    loop = lodge.loop("Bedrooms")
    ends_in_a_crossing = replace(loop, arms=(loop.arms[0][:-1],))
    with pytest.raises(ValueError, match="does not end at a wall"):
        SingleLoop.from_survey(replace(lodge, loops=(ends_in_a_crossing,)), "Bedrooms", 2.0)
