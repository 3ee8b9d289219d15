"""Whole surveys drawn from seeds: all settle, and every balance closes. `python -m tests.long systems` sizes more."""

import warnings
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.loops import Valves
from heatloop.survey.profiles import Channel
from heatloop.survey.survey import at_flow_temp
from heatloop.survey.water_system import Trunk
from tests.helpers.paths import DATA, HARBOUR_LOFT
from tests.helpers.random_systems import random_survey, worst_residual
from tests.helpers.survey_parts import with_project

SEEDS = (1, 2, 5, 6, 11, 14, 1110, 5058)
"""In 1110 a mixed trunk of the temperature of the trunk before it passes on almost no return water; 5058 has a drop of
a few kelvin under hot water."""

LODGE = DATA / "alder-lodge" / "survey.toml"


def _with_loop(survey, place, **changes):
    """The loops of a survey, one of them changed."""
    return tuple(replace(loop, **changes) if i == place else loop for i, loop in enumerate(survey.loops))


@pytest.mark.parametrize("seed", SEEDS)
def test_random_surveys_settle_and_balance(seed):
    assert worst_residual(hl.size(random_survey(seed))) <= 1e-9


def test_loops_near_their_largest_drop_affect_each_other_through_the_trunk_that_they_share():
    """Less flow in one loop cools the water of the other by more than the drop of the other gains by its own flow."""
    assert worst_residual(hl.size(at_flow_temp(with_project(random_survey(9), size_by="drop"), 30.1))) <= 1e-9


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(LODGE)


def test_a_loop_without_a_valve_takes_more_than_it_was_sized_for(lodge):
    design = hl.size(replace(lodge, loops=_with_loop(lodge, 0, valves=Valves(), arm_valves=())))
    sized_kg_s = design.system.sized_loops[0].flow_kg_s
    assert design.system.state.loop_flow_kg_s[0] > 1.5 * sized_kg_s
    checks = design.frames["checks"]
    found = checks[(checks["check"] == "surplus pressure without a balancing valve") & (checks["verdict"] == "fail")]
    assert list(found["location"]) == [lodge.loops[0].name]
    assert worst_residual(design) <= 1e-9


def test_one_wide_channel_beside_two_narrow_ones_balances():
    survey = hl.read_survey(DATA / "mill-annexe" / "survey.toml")
    widths = (Channel(width_mm=100.0, height_mm=16.0), *(Channel(width_mm=10.0, height_mm=16.0),) * 2)
    profiles = tuple(
        replace(one, channels=tuple(replace(width, role=c.role) for width, c in zip(widths, one.channels, strict=True)))
        if len(one.channels) == 3
        else one
        for one in survey.catalogue.profiles
    )
    three = next(one.name for one in profiles if len(one.channels) == 3)
    loops = tuple(replace(loop, profile=three, arrangement="one-way") for loop in survey.loops)
    design = hl.size(replace(survey, loops=loops, catalogue=replace(survey.catalogue, profiles=profiles)))
    assert worst_residual(design) <= 1e-9
    state = design.system.state
    wide, *narrow = state.link_flow_kg_s[state.network.channel_link[0]]
    assert wide > 3.0 * max(narrow)


def test_a_source_whose_pump_has_nothing_to_overcome_is_designed(lodge):
    trunk = Trunk("mixed", "copper 22", 3.0, mixed_to_c=lodge.project.flow_temp_c - 5.0)
    loops = tuple(replace(loop, trunk="mixed", flow_temp_c=None) for loop in lodge.loops)
    design = hl.size(replace(lodge, trunks=(trunk,), loops=loops, bypasses=()))
    assert design.summary["pump_head_kpa"] == 0.0
    assert "pump reserve" not in set(design.frames["checks"]["check"])


@pytest.mark.parametrize(("flow_c", "outdoor_c"), [(48, 3), (44, 4), (42, 5), (40, 6)])
def test_thermostatic_valves_find_their_rest_in_mild_weather(alder_lodge, flow_c, outdoor_c):
    point = hl.simulate(alder_lodge, flow_temp_c=flow_c, outdoor_c=outdoor_c)
    assert point.operation.throttled.any()


@pytest.mark.parametrize("drop_k", [1e-30, 0.05])
def test_drops_that_no_thermometer_shows_are_faults(lodge, drop_k):
    with pytest.raises(InputError, match=r"at least 0\.1 K"):
        hl.size(replace(lodge, project=replace(lodge.project, delta_t_k=drop_k)))


def test_the_greatest_drop_below_two_kelvin_is_named_and_holds(lodge):
    cool = tuple(
        replace(loop, flow_temp_c=22.0, delta_t_k=1.9) if i == 1 else loop for i, loop in enumerate(lodge.loops)
    )
    with pytest.raises(InputError, match="with less flow the water of this loop cools no further") as raised:
        hl.size(replace(lodge, loops=cool))
    max_drop_k = float(str(raised.value).split("at most ")[1].split(" K")[0])
    assert 0.1 <= max_drop_k < 2.0
    mended = tuple(replace(loop, delta_t_k=max_drop_k) if i == 1 else loop for i, loop in enumerate(cool))
    hl.size(replace(lodge, loops=mended))


def test_plain_pipe_is_no_skirting_surface(alder_lodge):
    along = alder_lodge.frames["temperature_profile"]
    rooms = {room.name: room.indoor_c for room in alder_lodge.survey.rooms}
    metal = along[along["surface_temp_c"].notna()]
    assert len(metal) > 100
    excess = (metal["surface_temp_c"] - metal["room"].map(rooms)) / (metal["water_temp_c"] - metal["room"].map(rooms))
    assert excess.max() <= 1.0
    for _, piece in excess.groupby([metal["loop"], metal["arm"], metal["channel"], metal["label"]]):
        # the film keeps the metal cooler than its water, at the first point of a piece as at the next
        assert abs(piece.iloc[0] - piece.iloc[min(1, len(piece) - 1)]) < 0.05


def test_curves_of_pumps_have_no_flow_or_head_below_zero():
    survey = hl.read_survey(HARBOUR_LOFT / "survey.toml")
    for design in (hl.size(survey), *(hl.size(random_survey(seed)) for seed in SEEDS[:2])):
        assert (design.frames["pump_curves"][["flow_l_h", "head_kpa"]] >= 0.0).all(axis=None)
        assert (design.frames["loop_isolation"]["pump_head_kpa"] >= 0.0).all()


@pytest.mark.parametrize("seed", [5092, 1759])
def test_trunks_without_flow_warn_of_nothing(seed):
    """In 5092 a trunk has nothing but a closed bypass, in 1759 a mixed trunk has no loop."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        assert worst_residual(hl.size(random_survey(seed))) <= 1e-9


def test_curves_of_pumps_are_found_where_rounding_moves_the_smallest_flows():
    assert len(hl.size(random_survey(1772)).pump_curves) > 0


def test_a_loop_that_other_pumps_drive_backwards_is_named_with_a_remedy():
    """A mixed circuit with a loop without valves draws more water than the shared pipes let through."""
    survey = random_survey(768)
    with pytest.raises(InputError) as caught:
        hl.size(survey)
    (issue,) = caught.value.issues
    assert 'loop "Loop 1"' in str(issue)
    assert "driven by the pumps of other loops" in str(issue)
    assert "required: a balancing valve in every loop" in str(issue)
    without = replace(survey, loops=_with_loop(survey, 3, valves=survey.loops[2].valves))
    assert worst_residual(hl.size(without)) <= 1e-9
