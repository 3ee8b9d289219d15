"""Studies: the lowest flow temperature is the lowest, and a tried loop is the loop that sizing finds."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.workflows.flow_temperature import lowest_flow_temperature
from heatloop.workflows.one_loop.single_loop import SingleLoop
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def annexe():
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml")


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


def part_of(survey, *loops):
    """The survey with these of its loops only."""
    kept = tuple(survey.loop(name) for name in loops)
    used = {loop.trunk for loop in kept}
    while more := {trunk.from_trunk for trunk in survey.trunks if trunk.name in used} - used:
        used |= more
    return replace(survey, loops=kept, trunks=tuple(trunk for trunk in survey.trunks if trunk.name in used))


def with_project(survey, **changes):
    return replace(survey, project=replace(survey.project, **changes))


def with_greatest(survey, max_temp_c):
    flow_temp_c = min(survey.project.flow_temp_c, max_temp_c)
    source = replace(survey.source, max_flow_temp_c=max_temp_c)
    return replace(with_project(survey, flow_temp_c=flow_temp_c), source=source)


def min_margin_w(design):
    rooms = design.rooms
    return rooms[rooms["heated_length_m"] > 0]["margin_w"].min()


@pytest.fixture(scope="module")
def lowest(lodge):
    return lowest_flow_temperature(part_of(lodge, "Bedrooms"))


def test_a_tenth_of_a_kelvin_less_leaves_a_room_cold(lodge, lowest):
    assert lowest.flow_temp_c == round(lowest.flow_temp_c, 1)
    assert min_margin_w(lowest.design) >= -0.01
    colder = hl.size(part_of(lodge, "Bedrooms").with_flow_temp(lowest.flow_temp_c - 0.1))
    assert min_margin_w(colder) < -0.01


def test_the_room_that_decides_is_named_and_the_design_is_the_one_at_that_temperature(lowest):
    rooms = lowest.design.rooms.set_index("room")
    assert rooms.loc[lowest.room, "margin_w"] == min_margin_w(lowest.design)
    assert lowest.design.summary["flow_temp_c"] == lowest.flow_temp_c


def test_sizing_by_loss_ends_on_the_temperature_at_which_the_flow_is_greatest(annexe):
    """Sized by loss, flow rises to the one with a drop of 2 K: so it is the answer of sizing for 2 K."""
    survey = with_greatest(annexe, 59.05)
    by_loss = lowest_flow_temperature(with_project(survey, size_by="loss"), min_flow_temp_c=58.75)
    by_drop = lowest_flow_temperature(with_project(survey, delta_t_k=2.0), min_flow_temp_c=58.75)
    assert by_loss.flow_temp_c == pytest.approx(by_drop.flow_temp_c, abs=0.11)


def test_water_that_cannot_give_its_drop_is_too_cold_and_no_fault(annexe):
    """At 25 °C a drop of 15 K would end below the room."""
    assert lowest_flow_temperature(annexe, min_flow_temp_c=25.0).flow_temp_c > 60.0


def test_where_the_least_is_warm_enough_it_is_the_answer(lodge):
    assert lowest_flow_temperature(part_of(lodge, "Bedrooms"), min_flow_temp_c=54.0).flow_temp_c == 54.0


def test_a_source_that_is_too_cold_is_said_in_one_line(lodge):
    survey = with_greatest(part_of(lodge, "Kitchen"), 50.0)
    with pytest.raises(InputError) as caught:
        lowest_flow_temperature(survey)
    short_w = -hl.size(survey).rooms.set_index("room").loc["Kitchen-diner", "margin_w"]
    assert str(caught.value) == (
        f"{survey.path}: source, max_flow_temp_c: found 50 °C, at which Kitchen-diner is "
        f"{short_w:.0f} W short; required: a warmer source, more skirting in that room or a smaller heat loss"
    )


def test_a_search_without_room_is_refused(annexe):
    with pytest.raises(InputError, match=r"min_flow_temp_c: found 82; required: below 82 °C"):
        lowest_flow_temperature(annexe, min_flow_temp_c=82.0)


def test_a_loop_with_its_own_temperature_gets_no_more_than_the_source_gives(annexe):
    own = replace(annexe, loops=(replace(annexe.loops[0], flow_temp_c=55.0),))
    assert own.with_flow_temp(60.0).loops[0].flow_temp_c == 55.0
    assert own.with_flow_temp(50.0).loops[0].flow_temp_c == 50.0
    assert annexe.with_flow_temp(50.0).loops[0].flow_temp_c is None


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
