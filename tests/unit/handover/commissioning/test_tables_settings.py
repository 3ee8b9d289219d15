"""Settings and temperatures to expect on the day, against the design and a simulation."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import heatloop as hl
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.diagnosis.tables import expected_flow_l_h
from heatloop.handover.commissioning.conditions import (
    CommissioningConditions,
    commissioning_conditions,
)
from heatloop.handover.commissioning.tables import (
    BOXES,
    commissioning_table,
    part_load_days,
    part_load_table,
    surfaces_table,
)
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.water import plain_water
from heatloop.workflows.commission import state_at_conditions

WATER = plain_water()


def tabled(system: SizedSystem, today: CommissioningConditions, now: SystemState | None) -> pd.DataFrame:
    """The commissioning table, with the system without thermostatic heads solved too."""
    return commissioning_table(
        system, today, now, state_at_conditions(system, today.flow_temp_c, thermostatic_heads_removed=True)
    )


def part_loads(system: SizedSystem) -> pd.DataFrame:
    days = [(that, state_at_conditions(system, that.flow_temp_c)) for that in part_load_days(system)]
    return part_load_table(system, [(that, state) for that, state in days if state is not None])


def test_at_the_design_with_valves_between_no_marks_the_sheet_is_the_design(annexe: hl.Design) -> None:
    today = commissioning_conditions(annexe.system)
    state = state_at_conditions(annexe.system, today.flow_temp_c)
    assert state is not None
    assert state.return_c == pytest.approx(annexe.operation.return_c, abs=1e-6)
    table = tabled(annexe.system, today, state)
    assert table["expected_flow_l_h"].to_numpy() == pytest.approx(table["target_flow_l_h"].to_numpy(), rel=1e-6)
    assert table["expected_return_temp_c"].to_numpy() == pytest.approx(
        table["design_return_temp_c"].to_numpy(), abs=1e-6
    )


def test_what_to_expect_is_of_valves_at_their_marks_and_the_target_of_the_design(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system)
    table = tabled(lodge.system, today, state_at_conditions(lodge.system, today.flow_temp_c))
    valves = lodge.valves[lodge.valves["is_balancing"]]
    assert table["target_flow_l_h"].to_numpy() == pytest.approx(valves["target_flow_l_h"].to_numpy(), rel=0.005)
    # the pump goes along its own curve, where the table of valves holds its head
    assert table["expected_flow_l_h"].to_numpy() == pytest.approx(valves["achieved_flow_l_h"].to_numpy(), rel=0.02)
    study = table[table["loop"] == "Hall and study"].iloc[0]
    assert study["expected_flow_l_h"] > 1.1 * study["target_flow_l_h"]
    assert study["expected_return_temp_c"] > study["design_return_temp_c"] + 0.3


@pytest.mark.parametrize("name", ["lodge", "annexe", "loft"])
def test_flows_with_heads_off_are_those_a_diagnosis_expects(name: str, request: pytest.FixtureRequest) -> None:
    design = request.getfixturevalue(name)
    table = tabled(design.system, commissioning_conditions(design.system), None)
    model = site_model(design.system, thermostatic_heads_removed=True)
    expected = dict(zip((loop.name for loop in design.survey.loops), expected_flow_l_h(model), strict=True))
    for row in table[table["arm"] == 0].to_dict("records"):
        assert row["flow_heads_removed_l_h"] == pytest.approx(expected[row["loop"]], rel=2e-4)


@pytest.mark.parametrize("name", ["lodge", "annexe", "loft"])
@pytest.mark.parametrize("outdoor_c", [1.0, 7.0])
def test_the_sheet_agrees_with_a_rating_at_that_load(
    name: str, outdoor_c: float, request: pytest.FixtureRequest
) -> None:
    design = request.getfixturevalue(name)
    today = commissioning_conditions(design.system, outdoor_c=outdoor_c)
    table = tabled(design.system, today, state_at_conditions(design.system, today.flow_temp_c))
    rated = hl.simulate(design, flow_temp_c=today.flow_temp_c, outdoor_c=outdoor_c, thermostats=False).loops.set_index(
        "loop"
    )
    whole = table[table["arm"] == 0].set_index("loop")
    for column, of_rating in (
        ("expected_flow_temp_c", "flow_temp_c"),
        ("expected_return_temp_c", "return_temp_c"),
        ("expected_flow_l_h", "flow_l_h"),
        ("temperature_drop_k", "temperature_drop_k"),
    ):
        assert whole[column].to_numpy() == pytest.approx(rated.loc[whole.index, of_rating].to_numpy(), rel=1e-9)


@pytest.mark.parametrize("name", ["lodge", "annexe"])
def test_a_rating_is_near_the_system_at_the_head_of_the_design(name: str, request: pytest.FixtureRequest) -> None:
    """Cooler water moves the pump a little along its curve: nearly what a held differential would give."""
    design = request.getfixturevalue(name)
    state = state_at_conditions(design.system, 42.0)
    assert state is not None
    supply_c = np.full(len(design.survey.loops), 42.0)
    held = solve_state(state.network, OperatingConditions(supply_c, [ConstantHead(design.operation.head_pa)]), WATER)
    assert state.loop_flow_kg_s == pytest.approx(held.loop_flow_kg_s, rel=0.02)
    assert state.return_c == pytest.approx(held.return_c, abs=0.06)


def test_part_load_falls_with_the_weather_and_starts_at_the_design(lodge: hl.Design) -> None:
    table = part_loads(lodge.system)
    assert list(dict.fromkeys(table["outdoor_c"])) == [-3.0, 0.0, 5.0, 10.0]
    rated = hl.simulate(lodge, thermostats=False).loops.set_index("loop")
    for loop, rows in table.groupby("loop"):
        design = rated.loc[loop]
        assert rows["return_temp_c"].iloc[0] == pytest.approx(design["return_temp_c"], abs=1e-6)
        assert (np.diff(rows["flow_temp_c"]) < 0).all()
        assert (np.diff(rows["temperature_drop_k"]) < 0).all()
        assert rows["flow_l_h"].to_numpy() == pytest.approx(design["flow_l_h"], rel=0.03)


def test_mixed_trunks_keep_their_temperature_until_the_source_is_cooler(loft: hl.Design) -> None:
    table = part_loads(loft.system).set_index(["outdoor_c", "loop"])
    assert table["flow_temp_c"][0.0, "Saloon"] > 45.0
    assert table["flow_temp_c"][0.0, "Cabins"] == pytest.approx(45.0, abs=0.2), "less what the trunk loses"
    assert table["flow_temp_c"][10.0, "Cabins"] == pytest.approx(table["flow_temp_c"][10.0, "Saloon"], abs=0.5)


def test_each_arm_with_a_valve_has_a_row_and_they_share_the_loop(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system)
    table = tabled(lodge.system, today, state_at_conditions(lodge.system, 50.0))
    arms = table[table["loop"] == "Living room"]
    assert list(arms["arm"]) == [1, 2]
    assert (arms["valve"] == "lockshield 15").all()
    assert (arms["other_settings"] == "thermostatic 15 on the flow: setting 6").all()
    flow = lodge.loops.set_index("loop")["flow_l_h"]["Living room"]
    # measured at the arms' return, cooler and denser than at the flow tail
    assert arms["target_flow_l_h"].sum() == pytest.approx(flow, rel=0.005)
    balancing = lodge.valves[lodge.valves["is_balancing"]]
    assert list(table["calculated_setting"]) == list(balancing["calculated_setting"])
    assert list(table["set_to"]) == list(balancing["nearest_setting"])
    # one bar at Kv, for water of 0.99 kg/l
    by_kv_kpa = 100.0 * (balancing["flow_l_h"] / 1000.0 / balancing["kv_m3_h"]) ** 2 * 0.99
    assert table["valve_pressure_drop_kpa"].to_numpy() == pytest.approx(by_kv_kpa.to_numpy(), rel=5e-3)
    for box in BOXES:
        assert (table[box.name] == "").all()


def test_heads_off_gives_more_by_the_full_kv(annexe: hl.Design) -> None:
    """The index loop: its valve takes what a Kv of 0.82 takes, the pump goes down its curve."""
    today = commissioning_conditions(annexe.system)
    table = tabled(annexe.system, today, state_at_conditions(annexe.system, 70.0))
    (row,) = table.to_dict("records")
    assert row["flow_heads_removed_l_h"] > 1.2 * row["target_flow_l_h"]
    off = state_at_conditions(annexe.system, 70.0, thermostatic_heads_removed=True)
    assert off is not None
    valve = next(i for i, p in enumerate(off.network.locations) if p.element.valve == "thermostatic 15")
    volume_m3_h = off.flow_kg_s[valve] / off.density_kg_m3[valve] * 3600.0
    drop_pa = 1e5 * (volume_m3_h / 0.82) ** 2 * off.density_kg_m3[valve] / 1000.0
    assert off.drop_pa[valve] == pytest.approx(drop_pa, rel=1e-9)
    assert 0.9 * annexe.operation.head_pa < off.head_pa < annexe.operation.head_pa


def test_water_too_cool_to_tell_anything_leaves_temperatures_out(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system, outdoor_c=19.0)
    assert state_at_conditions(lodge.system, today.flow_temp_c) is None
    table = tabled(lodge.system, today, None)
    assert table["expected_return_temp_c"].isna().all()
    assert table["target_flow_l_h"].notna().all()
    assert surfaces_table(lodge.system, None, 43.0)["expected_surface_temp_c"].isna().all()


def test_vulnerable_rooms_come_first_and_are_judged_by_their_surface(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system, outdoor_c=7.0)
    table = surfaces_table(lodge.system, state_at_conditions(lodge.system, today.flow_temp_c), 43.0)
    first = table.iloc[0]
    assert (first["room"], first["vulnerable"], first["limit_c"], first["verdict"]) == (
        "Nursery",
        True,
        43.0,
        "caution",
    )
    assert (
        first["design_surface_temp_c"]
        == lodge.temperature_profile[lodge.temperature_profile["room"] == "Nursery"]["surface_temp_c"].max()
    )
    assert (table["expected_surface_temp_c"] < table["design_surface_temp_c"]).all()
    assert (table["verdict"].iloc[1:] == "").all()
    assert surfaces_table(lodge.system, None, 60.0)["verdict"].iloc[0] == "pass"
