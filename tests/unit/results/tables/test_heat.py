"""Heat of a loop: what the water gives, by enthalpy, is what rooms get and what is lost, by emission."""

import numpy as np
import pytest

import heatloop as hl
from tests.helpers.survey_parts import with_project

PARTS = ["heat_to_rooms_w", "pipe_loss_w", "downward_loss_w"]

CONDITIONS = {
    "as designed": {},
    "mild": {"outdoor_c": 6.0},
    "cool water, valves open": {"flow_temp_c": 48.0, "thermostats": False},
}


def balances(loops) -> None:
    assert loops["heat_from_water_w"].to_numpy() == pytest.approx(loops[PARTS].sum(axis=1).to_numpy(), rel=1e-9)


@pytest.mark.parametrize("name", ["alder_lodge", "mill_annexe", "harbour_loft"])
def test_heat_from_water_is_heat_to_rooms_and_losses(name: str, request: pytest.FixtureRequest) -> None:
    design: hl.Design = request.getfixturevalue(name)
    loops, summary = design.loops, design.summary
    balances(loops)
    assert (loops["heat_from_water_w"] > 0.0).all()
    for column in ("heat_from_water_w", "heat_to_rooms_w", "net_heat_to_rooms_w"):
        assert summary[column] == pytest.approx(loops[column].sum(), rel=1e-9)
    assert summary["source_heat_w"] == pytest.approx(summary["heat_from_water_w"] + summary["trunk_loss_w"], rel=1e-9)
    back_w = design.rooms["back_loss_w"].sum()
    assert summary["net_heat_to_rooms_w"] == pytest.approx(summary["heat_to_rooms_w"] - back_w, rel=1e-9)


@pytest.mark.parametrize("conditions", CONDITIONS.values(), ids=CONDITIONS.keys())
@pytest.mark.parametrize("name", ["alder_lodge", "mill_annexe", "harbour_loft"])
def test_it_holds_at_other_conditions(name: str, conditions: dict[str, float], request: pytest.FixtureRequest) -> None:
    point = hl.simulate(request.getfixturevalue(name), **conditions)
    balances(point.loops)
    for column in ("heat_from_water_w", "heat_to_rooms_w", "net_heat_to_rooms_w"):
        assert point.summary[column] == pytest.approx(point.loops[column].sum(), rel=1e-9)


def test_an_isolated_loop_takes_no_heat(alder_lodge: hl.Design) -> None:
    point = hl.simulate(alder_lodge, isolated_loops=["Kitchen"])
    loop = point.loops.set_index("loop").loc["Kitchen"]
    assert loop["heat_from_water_w"] == 0.0
    assert np.allclose(loop[PARTS].to_numpy(float), 0.0)


def test_floor_sections_and_pipes_lose_in_their_own_columns(alder_lodge: hl.Design) -> None:
    loops = alder_lodge.loops
    assert alder_lodge.rooms["downward_loss_w"].sum() == pytest.approx(loops["downward_loss_w"].sum(), rel=1e-12)
    assert (loops["pipe_loss_w"] > 0.0).any()


@pytest.mark.parametrize("name", ["alder_lodge", "mill_annexe", "harbour_loft"])
def test_a_part_of_the_heat_that_is_only_rounding_has_no_row(name: str, request: pytest.FixtureRequest) -> None:
    """Without pipe losses the heat of the source less all other parts is rounding, above or below zero."""
    survey = with_project(request.getfixturevalue(name).survey, pipe_losses=False)
    table = hl.size(survey).source_heat_balance
    assert table["heat_w"].abs().min() > 1e-3
    assert "loss of the loops' pipes" not in set(table["destination"])
    assert table["heat_w"].iloc[:-1].sum() == pytest.approx(table["heat_w"].iloc[-1], rel=1e-9)
