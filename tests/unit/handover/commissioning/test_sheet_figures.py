"""The commissioning sheet in figures: the day, settings and temperatures to expect, purge flows, order of filling."""

from __future__ import annotations

import dataclasses
import math

import fluids
import numpy as np
import pandas as pd
import pytest

import heatloop as hl
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.diagnosis.tables import expected_flow_l_h
from heatloop.findings.safety import CAUTIONS, notice_titles
from heatloop.handover.commissioning.conditions import (
    COMPENSATED,
    CONSTANT,
    DESIGN_DAY,
    READ,
    CommissioningConditions,
    commissioning_conditions,
    exponent,
    indoor_c,
)
from heatloop.handover.commissioning.filling import fill_and_vent_table, filling_steps, remote_ends
from heatloop.handover.commissioning.pressures import pressures
from heatloop.handover.commissioning.purging import PurgeResult, purge_table, purges
from heatloop.handover.commissioning.tables import (
    BOXES,
    commissioning_table,
    part_load_days,
    part_load_table,
    surfaces_table,
)
from heatloop.hydraulics.analysis.water_content import content_l, contents
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.water import plain_water
from heatloop.physics.weather_compensation import compensated_temperatures
from heatloop.survey.water_system import CommissioningWeather, Vessel, WaterSystem
from heatloop.workflows.commission import state_at_conditions
from tests.helpers.altered import with_survey

WATER = plain_water()
TITLES = {caution.title for caution in CAUTIONS}


@pytest.fixture(scope="module")
def lodge(lodge_of_unknown_system: hl.Design) -> hl.Design:
    return lodge_of_unknown_system


@pytest.fixture(scope="module")
def annexe(mill_annexe: hl.Design) -> hl.Design:
    return mill_annexe


@pytest.fixture(scope="module")
def loft(harbour_loft: hl.Design) -> hl.Design:
    return harbour_loft


def with_system(design: hl.Design, **keys: object) -> hl.Design:
    return with_survey(design, system=WaterSystem(**keys))  # type: ignore[arg-type]


# --- the day -----------------------------------------------------------------------------------------------


def test_nothing_known_of_the_day_is_the_design(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system)
    assert (today.outdoor_c, today.flow_temp_c, today.share, today.how) == (-3.0, 50.0, 1.0, DESIGN_DAY)


def test_outdoor_temperature_alone_asks_weather_compensation(annexe: hl.Design) -> None:
    """One room at 21 °C, 70/55 at -4 °C, exponent 1.30: the formula worked by hand at 6 °C."""
    today = commissioning_conditions(annexe.system, outdoor_c=6.0)
    share = 15.0 / 25.0
    flow_c = 21.0 + 41.5 * share ** (1.0 / 1.3) + 7.5 * share
    assert (today.share, today.how) == (pytest.approx(share), COMPENSATED)
    assert today.flow_temp_c == pytest.approx(flow_c, abs=1e-6)


def test_a_reading_at_the_source_goes_before_the_formula(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system, outdoor_c=6.0, flow_temp_c=42.5)
    assert (today.flow_temp_c, today.how) == (42.5, READ)
    assert today.share == pytest.approx((indoor_c(lodge.system) - 6.0) / (indoor_c(lodge.system) + 3.0))
    alone = commissioning_conditions(lodge.system, flow_temp_c=42.5)
    assert math.isnan(alone.share)
    assert math.isnan(alone.outdoor_c)


def test_the_survey_may_hold_the_day(lodge: hl.Design) -> None:
    held = with_system(lodge, weather=CommissioningWeather(outdoor_c=5.0))
    assert commissioning_conditions(held.system).outdoor_c == 5.0
    assert commissioning_conditions(held.system, outdoor_c=1.0).outdoor_c == 1.0
    fixed = with_system(lodge, weather=CommissioningWeather(compensated=False, outdoor_c=5.0))
    assert (commissioning_conditions(fixed.system).flow_temp_c, commissioning_conditions(fixed.system).how) == (
        50.0,
        CONSTANT,
    )


def test_indoor_temperature_and_exponent_are_the_buildings(lodge: hl.Design) -> None:
    rooms = lodge.rooms
    by_hand = (rooms["indoor_c"] * rooms["heat_loss_w"]).sum() / rooms["heat_loss_w"].sum()
    assert indoor_c(lodge.system) == pytest.approx(by_hand)
    assert exponent(lodge.system) == pytest.approx(1.28)


def tabled(system: SizedSystem, today: CommissioningConditions, now: SystemState | None) -> pd.DataFrame:
    """The commissioning table, with the system without thermostatic heads solved too."""
    return commissioning_table(
        system, today, now, state_at_conditions(system, today.flow_temp_c, thermostatic_heads_removed=True)
    )


def part_loads(system: SizedSystem) -> pd.DataFrame:
    days = [(that, state_at_conditions(system, that.flow_temp_c)) for that in part_load_days(system)]
    return part_load_table(system, [(that, state) for that, state in days if state is not None])


# --- what to expect ----------------------------------------------------------------------------------------


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


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"outdoor_c": 500.0}, "outdoor_c: found 500; required: -60 to 40"),
        ({"outdoor_c": math.nan}, "outdoor_c: found nan"),
        ({"flow_temp_c": -3.0}, "flow_temp_c: found -3; required: 0.1 to 110"),
        ({"outdoor_c": math.inf, "flow_temp_c": 200.0}, "flow_temp_c: found 200"),
        ({"flow_temp_c": 15.0}, "flow_temp_c: found 15; required: above 22, the warmest room"),
    ],
)
def test_a_day_that_cannot_be_is_refused(lodge: hl.Design, asked: dict[str, float], says: str) -> None:
    with pytest.raises(hl.InputError, match=says):
        commissioning_conditions(lodge.system, **asked)


@pytest.mark.parametrize("name", ["lodge", "annexe"])
@pytest.mark.parametrize("outdoor_c", [0.0, 7.0])
def test_compensated_water_carries_the_load_of_the_day(
    name: str, outdoor_c: float, request: pytest.FixtureRequest
) -> None:
    """The solved system at the flow temperature of the formula gives the share of the load that it asks for."""
    design = request.getfixturevalue(name)
    today = commissioning_conditions(design.system, outdoor_c=outdoor_c)
    state = state_at_conditions(design.system, today.flow_temp_c)
    assert state is not None
    given = sum(float(arm.given_w) for arm in state.arms) / sum(float(arm.given_w) for arm in design.operation.arms)
    # the film gets better in warmer water: output falls a little more than the characteristic has it
    assert given == pytest.approx(today.share, rel=0.05)
    formula = compensated_temperatures(
        indoor_c(design.system),
        outdoor_c,
        design.summary["outdoor_c"],
        design.summary["flow_temp_c"],
        design.summary["return_temp_c"],
        exponent(design.system),
    )
    assert state.source_return_c == pytest.approx(formula.return_c, abs=0.6)


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
    assert (arms["other_settings"] == "flow: thermostatic 15 at 6").all()
    flow = lodge.loops.set_index("loop")["flow_l_h"]["Living room"]
    # measured at the arms' return, cooler and denser than at the flow tail
    assert arms["target_flow_l_h"].sum() == pytest.approx(flow, rel=0.005)
    balancing = lodge.valves[lodge.valves["is_balancing"]]
    assert list(table["calculated_setting"]) == list(balancing["calculated_setting"])
    assert list(table["set_to"]) == list(balancing["nearest_setting"])
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


# --- purge -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def swept(lodge: hl.Design) -> tuple[PurgeResult, ...]:
    return purges(lodge.survey, lodge.operation.network.loops, WATER)


def test_purge_flow_is_speed_times_the_widest_bore(swept: tuple[PurgeResult, ...]) -> None:
    """13.6 mm pipe at 0.75 m/s: 0.14527 l/m x 0.75 x 3600 = 392 l/h; two channels at once need twice as much."""
    flow = {(row.loop, row.arm): row.flow_l_h for row in swept}
    assert flow["Nursery and bathroom", 0] == pytest.approx(math.pi / 4 * 1.36**2 * 75.0 * 3.6, rel=1e-4)
    assert flow["Hall and study", 0] == pytest.approx(2.0 * flow["Bedrooms", 0], rel=1e-4)
    assert set(flow) >= {("Living room", 1), ("Living room", 2)}
    assert all(row.purge_velocity_m_s == pytest.approx(0.75) for row in swept)


def test_purge_pressure_agrees_with_another_library(lodge: hl.Design, swept: tuple[PurgeResult, ...]) -> None:
    """The nursery's loop at 392 l/h of water at about 10 °C, element by element with fluids."""
    (row,) = (r for r in swept if r.loop == "Nursery and bathroom")
    flow_m3_s = row.flow_l_h / 3.6e6
    density, viscosity = float(WATER.density_kg_m3(10.3)), float(WATER.viscosity_pa_s(10.3))

    def pipe_pa(bore_m: float, length_m: float, zeta: float) -> float:
        speed = flow_m3_s / (math.pi / 4.0 * bore_m**2)
        re = density * speed * bore_m / viscosity
        factor = fluids.friction_factor(Re=re, eD=1.5e-6 / bore_m)
        return float((factor * length_m / bore_m + zeta) * density * speed**2 / 2.0)

    joints = pipe_pa(0.013, 0.0, 4 * 1.1 + 2.2)
    channels = pipe_pa(0.013, 28.80, 0.0)
    tails, crossings = pipe_pa(0.0136, 10.0, 0.0), pipe_pa(0.0136, 0.80, 2 * 4.0)
    valves = sum(1e5 * (flow_m3_s * 3600.0 / kv) ** 2 * density / 1000.0 for kv in (0.82, 1.35))
    by_hand_kpa = (joints + channels + tails + crossings + valves) / 1000.0
    assert row.loop_drop_kpa == pytest.approx(by_hand_kpa, rel=0.005)
    assert row.head_kpa > row.loop_drop_kpa
    assert row.hose_pressure_kpa == pytest.approx(row.head_kpa + 2.65 * 9.80665, rel=1e-3)


def test_what_drives_the_purge(lodge: hl.Design, loft: hl.Design, swept: tuple[PurgeResult, ...]) -> None:
    assert {row.drive for row in swept} == {"hose, if its pressure suffices"}
    assert all(row.pump_velocity_m_s < 0.6 for row in swept)
    survey = dataclasses.replace(lodge.survey, system=WaterSystem(hose_kpa=100.0))
    (strong,) = purges(survey, lodge.operation.network.loops[1:2], WATER)
    assert strong.drive == "hose"
    (weak,) = purges(survey, lodge.operation.network.loops[2:3], WATER)
    assert weak.drive == "none; vent by hand"
    cabins = next(r for r in purges(loft.survey, loft.operation.network.loops, WATER) if r.loop == "Cabins")
    assert cabins.drive == "pump"
    assert cabins.pump_head_kpa >= cabins.head_kpa
    assert cabins.pump_velocity_m_s == pytest.approx(0.75)


def test_the_speed_that_the_pump_reaches_is_where_its_curve_meets_the_loop(lodge: hl.Design) -> None:
    slower = dataclasses.replace(lodge.survey, system=WaterSystem(purge_velocity_m_s=0.48))
    paths = lodge.operation.network.loops[4:5]
    (row,) = purges(lodge.survey, paths, WATER)
    (at_it,) = purges(
        dataclasses.replace(slower, system=WaterSystem(purge_velocity_m_s=row.pump_velocity_m_s)), paths, WATER
    )
    assert at_it.head_kpa == pytest.approx(at_it.pump_head_kpa, rel=2e-3)


def test_purge_table_names_its_source(swept: tuple[PurgeResult, ...]) -> None:
    table = purge_table(swept)
    assert table["source"].str.contains("AIRAH").all()
    assert list(table["purge_flow_l_h"]) == [row.flow_l_h for row in swept]


# --- order of filling --------------------------------------------------------------------------------------


def steps_of(design: hl.Design):  # type: ignore[no-untyped-def]
    survey, layout = design.survey, design.layout
    litres = content_l(contents(survey, layout, design.operation.network))
    case = pressures(survey, layout, litres, design.summary["flow_temp_c"], WATER)
    return filling_steps(survey, layout, case, purges(survey, design.operation.network.loops, WATER))


def test_filling_goes_up_from_the_low_point_and_the_far_ends_come_last(lodge: hl.Design) -> None:
    ends = remote_ends(lodge.survey, lodge.layout)
    assert [end.level_m for end in ends] == sorted(end.level_m for end in ends)
    for level_m in {end.level_m for end in ends}:
        away = [end.away_m for end in ends if end.level_m == level_m]
        assert away == sorted(away)
    assert {end.loop for end in ends[-2:]} == {"Nursery and bathroom", "Bedrooms"}
    # trunks 4.5 + 5.0, tail 5.0, walls 4.0 + 4.6 + 2.9 + 2.9
    nursery = next(end for end in ends if end.loop == "Nursery and bathroom")
    assert nursery.away_m == pytest.approx(28.9)
    assert (nursery.end.room, nursery.vent, nursery.drain) == ("Bathroom", True, True)


def test_steps_follow_that_order_and_draining_runs_it_backwards(lodge: hl.Design) -> None:
    table = fill_and_vent_table(steps_of(lodge))
    order = [end.loop for end in remote_ends(lodge.survey, lodge.layout)]
    assert list(dict.fromkeys(table["stage"])) == [
        "prepare", "strength test", "fill", "vent", "pressurise", "warm up", "drain",
    ]  # fmt: skip
    filled = table[(table["stage"] == "fill") & (table["loop"] != "")]
    assert list(filled["loop"]) == order
    vented = [loop for loop in order if loop != "Hall and study"]
    assert list(table[(table["stage"] == "vent") & (table["loop"] != "")]["loop"]) == vented
    assert list(table[(table["stage"] == "drain") & (table["loop"] != "")]["loop"]) == vented[::-1]
    hall = filled[filled["loop"] == "Hall and study"]["action"].iloc[0]
    assert "It has no air vent" in hall


@pytest.mark.common_practice
def test_covers_go_on_after_the_system_is_filled_and_warm(lodge: hl.Design) -> None:
    table = fill_and_vent_table(steps_of(lodge))
    off = table.index[table["action"].str.contains("Remove thermostatic heads and covers")]
    on = table.index[table["action"].str.contains("fit the covers")]
    filled = table.index[table["stage"].isin(["fill", "vent", "pressurise"])]
    assert len(off) == len(on) == 1
    assert off[0] < filled.min() <= filled.max() < on[0]


def test_steps_carry_the_figures(lodge: hl.Design) -> None:
    words = " ".join(fill_and_vent_table(steps_of(lodge))["action"])
    for figure in ("57 kPa", "390 kPa", "30 min", "60 min", "147 kPa", "300 kPa", "392 l/h", "784 l/h", "2.90 m"):
        assert figure in words


def test_a_vessel_that_does_not_suit_stops_the_work(lodge: hl.Design) -> None:
    table = fill_and_vent_table(steps_of(with_system(lodge, vessel=Vessel(volume_l=1.0))))
    assert "Stop: no fill pressure suits this vessel" in " ".join(table["action"])
    assert "nan" not in " ".join(table["action"])


def test_every_step_that_can_hurt_says_what_to_read_first(lodge: hl.Design) -> None:
    table = fill_and_vent_table(steps_of(lodge))
    for cell in table["safety_notices"]:
        assert set(notice_titles(cell)) <= TITLES
    by_stage = table.groupby("stage")["safety_notices"].agg("; ".join)
    assert "Pressure" in by_stage["strength test"]
    assert "Scalding" in by_stage["drain"]
    assert "Chemicals" in by_stage["drain"]
    assert "Gas, oil, refrigerant and flues" in by_stage["warm up"]
    assert "Electricity" in by_stage["prepare"]
