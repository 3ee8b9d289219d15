"""Each step of filling and draining with its figures, for skirting with vents and for emitters alone; purges."""

from __future__ import annotations

import dataclasses
import math

import pandas as pd
import pytest

import heatloop as hl
from heatloop.handover.commissioning.filling import fill_and_vent_table, filling_steps, remote_ends
from heatloop.handover.commissioning.pressure_checks import accepted_pressures, in_kpa
from heatloop.handover.commissioning.pressures import Pressures, pressures
from heatloop.handover.commissioning.purging import PurgeResult, _drive, _one_at_a_time, _pump_kpa, purges
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import PressureTest, PumpCurve, WaterSystem
from tests.helpers.altered import with_survey
from tests.helpers.emitters_alone import written

WATER = plain_water()


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> hl.Design:
    return hl.size(written(tmp_path_factory.mktemp("alone")))


def case(design: hl.Design, **system: object) -> tuple[Pressures, tuple[PurgeResult, ...], pd.DataFrame]:
    survey = dataclasses.replace(design.survey, system=WaterSystem(**system))  # type: ignore[arg-type]
    found = pressures(survey, design.layout, 78.0, 50.0, WATER)
    swept = purges(survey, design.operation.network.loops, WATER)
    return found, swept, fill_and_vent_table(filling_steps(survey, design.layout, found, swept))


def test_the_way_of_the_water_is_trunks_tail_and_run(alder_lodge: hl.Design) -> None:
    """By the survey: every trunk between source and loop, the flow tail, and the walls as measured by tape."""
    survey = alder_lodge.survey
    ends = {(end.loop, end.arm): end for end in remote_ends(survey, alder_lodge.layout)}
    assert len(ends) == sum(len(loop.arms) for loop in survey.loops)
    for loop in survey.loops:
        trunks_m, name = 0.0, loop.trunk
        while name is not None:
            trunk = next(one for one in survey.trunks if one.name == name)
            trunks_m, name = trunks_m + trunk.length_m, trunk.from_trunk
        for number, arm in enumerate(alder_lodge.layout.loop(loop.name).arms, start=1):
            end = ends[loop.name, number]
            assert end.away_m == pytest.approx(trunks_m + loop.tails.flow_m + sum(p.tape_m for p in arm.pieces))
            assert end.level_m == next(room.level_m for room in survey.rooms if room.name == end.end.room)
            assert (end.vent, end.drain) == (True, True)


def test_an_end_without_a_wall_is_told_by_its_room(alder_lodge: hl.Design) -> None:
    end = remote_ends(alder_lodge.survey, alder_lodge.layout)[0]
    assert end.place == "Living room, wall 1, 4.60 m from its left-hand end"
    bare = dataclasses.replace(end, end=dataclasses.replace(end.end, wall=None, at_m=None))
    assert bare.place == "Living room"
    unplaced = dataclasses.replace(end, end=dataclasses.replace(end.end, at_m=None))
    assert unplaced.place == "Living room"


def test_steps_before_filling_carry_precharge_and_test(alder_lodge: hl.Design) -> None:
    test = PressureTest(pressure_kpa=450.0, settle_minutes=25.0, minutes=70.0)
    _, _, table = case(alder_lodge, test=test)
    first, second, third = table.iloc[:3].to_dict("records")
    assert "set its precharge to 58 kPa (accepted: 58 to 67 kPa)." in first["action"]
    assert "backflow preventer" in second["action"]
    assert "pressure to 450 kPa, wait 25 min, raise it again and hold it for 70 min" in third["action"]
    assert [row["safety_notices"] for row in (first, third)] == ["Pressure", "Pressure"]
    assert list(table["step"]) == list(range(1, len(table) + 1))
    assert set(table["done"]) == {""}


def test_each_loop_is_swept_at_its_purge_flow(alder_lodge: hl.Design) -> None:
    _, swept, table = case(alder_lodge)
    of = {(one.loop, one.arm): one for one in swept}
    rows = table[(table["stage"] == "fill") & (table["loop"] != "")]
    for row in rows.to_dict("records"):
        purge = of.get((row["loop"], row["arm"])) or of[row["loop"], 0]
        only = f"'s arm {row['arm']}" if row["loop"] == "Living room" else ""
        assert row["action"].startswith(
            f"Open this loop{only} alone and purge it at {purge.flow_l_h:.0f} l/h until no more air comes "
            f"(a hose of {purge.hose_pressure_kpa:.0f} kPa or more; with less, vent by hand at the far end). "
            f"Then vent at {row['room']}, wall {row['wall']}, {row['at_m']:.2f} m from"
        )
        assert row["level_m"] == (0.0 if row["loop"] in ("Living room", "Hall and study", "Kitchen") else 2.65)


def test_pressurising_and_warming_up_carry_the_range_and_the_relief(alder_lodge: hl.Design) -> None:
    found, _, table = case(alder_lodge)
    said = dict(zip(table["action"].str[:12], table["action"], strict=True))
    fill = said["Bring the co"]
    limits = f"accepted: {in_kpa(accepted_pressures(found).fill)}"
    assert f"to {found.fill_kpa:.0f} kPa ({limits}) and disconnect the hose" in fill
    assert f"may reach {found.hot_kpa:.0f} kPa; the relief valve is set to 300 kPa" in said["Warm up slow"]
    assert "below 40 °C" in said["Switch off t"]


def test_draining_leaves_out_drains_that_are_not_there(alder_lodge: hl.Design) -> None:
    stock = alder_lodge.survey.catalogue
    dry = tuple(dataclasses.replace(end, drain=False) for end in stock.ends)
    changed = with_survey(alder_lodge, catalogue=dataclasses.replace(stock, ends=dry))
    for design, expected in ((alder_lodge, True), (changed, False)):
        table = case(design)[2]
        rows = table[(table["stage"] == "drain") & (table["loop"] != "")]
        assert len(rows) == 7
        assert rows["action"].str.contains("drain the rest there into a bowl").eq(expected).all()


# --- emitters alone ----------------------------------------------------------------------------------------


def test_loops_of_emitters_alone_are_filled_and_vented_at_the_emitters(alone: hl.Design) -> None:
    _, swept, table = case(alone)
    flow = {one.loop: one.flow_l_h for one in swept}
    filled = list(table[table["stage"] == "fill"]["action"])
    assert len(filled) == 3
    assert filled[1].startswith(f'Open loop "Radiator" alone and purge it at {flow["Radiator"]:.0f} l/h until')
    assert filled[1].endswith("Then vent at old radiator, Office. Close it.")
    assert filled[2].endswith("Then vent at towel rail, Bath. Close it.")
    vented = list(table[table["stage"] == "vent"]["action"])
    assert vented[1:] == [
        'Vent at old radiator, Office (loop "Radiator") until only water comes out.',
        'Vent at towel rail, Bath (loop "Rail") until only water comes out.',
    ]
    assert remote_ends(alone.survey, alone.layout) == ()
    assert table["arm"].isna().all()
    assert table["wall"].isna().all()
    assert table["level_m"].isna().all()


# --- purges ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pump_kpa", "head_kpa", "hose_kpa", "required_kpa", "drive"),
    [
        (30.0, 30.0, None, 40.0, "pump"),
        (29.9, 30.0, None, 40.0, "hose, if its pressure is high enough"),
        (29.9, 30.0, 40.0, 40.0, "hose"),
        (29.9, 30.0, 39.9, 40.0, "none; vent by hand"),
        (math.nan, 30.0, 50.0, 40.0, "hose"),
    ],
)
def test_what_drives(pump_kpa: float, head_kpa: float, hose_kpa: float | None, required_kpa: float, drive: str) -> None:
    assert _drive(pump_kpa, head_kpa, hose_kpa, required_kpa) == drive


def test_the_head_of_the_pump_ends_at_its_curve() -> None:
    pump = PumpCurve((0.0, 1.0, 2.0), (30.0, 20.0, 0.0))
    assert _pump_kpa(pump, 1.0 / 3600.0) == pytest.approx(20.0)
    assert _pump_kpa(pump, 3.0 / 3600.0) == 0.0


def test_lift_and_hose_by_the_levels_of_the_rooms(alder_lodge: hl.Design) -> None:
    _, swept, _ = case(alder_lodge, fill_c=20.0)
    per_m = float(WATER.density_kg_m3(20.0)) * 9.80665 / 1000.0
    for row in swept:
        upstairs = row.loop in ("Nursery", "Bathroom", "Bedrooms")
        assert row.static_lift_kpa == pytest.approx(2.65 * per_m if upstairs else 0.0)
        assert row.hose_pressure_kpa == pytest.approx(row.head_kpa + row.static_lift_kpa)
        assert row.head_kpa > row.loop_drop_kpa > 0.0
        assert 0.0 < row.pump_velocity_m_s < row.purge_velocity_m_s
    assert {row.arm for row in swept if row.loop == "Living room"} == {1, 2}


def test_the_lift_counts_from_the_lowest_floor_wherever_that_is(alder_lodge: hl.Design) -> None:
    rooms = tuple(dataclasses.replace(room, level_m=room.level_m + 3.0) for room in alder_lodge.survey.rooms)
    raised = dataclasses.replace(alder_lodge.survey, rooms=rooms)
    paths = alder_lodge.operation.network.loops[4:5]
    (low,), (high,) = purges(alder_lodge.survey, paths, WATER), purges(raised, paths, WATER)
    assert high.static_lift_kpa == pytest.approx(low.static_lift_kpa, rel=1e-12)
    assert low.static_lift_kpa > 25.0


def test_arms_are_purged_apart_where_there_are_two_and_each_can_be_shut(alder_lodge: hl.Design) -> None:
    survey, path = alder_lodge.survey, alder_lodge.operation.network.loops[0]
    bare = tuple(dataclasses.replace(arm, flow_valve=(), return_valve=()) for arm in path.arms)
    for one, numbers in (
        (path, [1, 2]),
        (dataclasses.replace(path, arms=bare), [0]),
        (dataclasses.replace(path, arms=path.arms[:1]), [0]),
    ):
        assert [number for number, _ in _one_at_a_time(survey, one)] == numbers
    _, first = next(iter(_one_at_a_time(survey, path)))
    assert len(first.arms) == 1


def test_without_a_curve_nothing_is_said_of_the_pump(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    bare = dataclasses.replace(survey, source=dataclasses.replace(survey.source, pump=None))
    row = purges(bare, alder_lodge.operation.network.loops[1:2], WATER)[0]
    assert math.isnan(row.pump_head_kpa)
    assert math.isnan(row.pump_velocity_m_s)
    assert row.drive == "hose"


def test_a_purge_goes_through_valves_wide_open(alder_lodge: hl.Design) -> None:
    """Narrower valves take more pressure at the same flow, by their Kv: 1 bar at Kv."""
    survey, stock = alder_lodge.survey, alder_lodge.survey.catalogue
    paths = alder_lodge.operation.network.loops[1:2]
    (wide,) = purges(survey, paths, WATER)
    narrow_kv = 0.5
    valves = tuple(
        dataclasses.replace(one, kvs_m3_h=narrow_kv) if one.name == "thermostatic 15" else one for one in stock.valves
    )
    (narrow,) = purges(dataclasses.replace(survey, catalogue=dataclasses.replace(stock, valves=valves)), paths, WATER)
    before = next(one.kvs_m3_h for one in stock.valves if one.name == "thermostatic 15")
    assert before is not None
    flow_m3_h = wide.flow_l_h / 1000.0
    density = float(WATER.density_kg_m3(10.0)) / 1000.0
    more_kpa = 100.0 * flow_m3_h**2 * density * (1.0 / narrow_kv**2 - 1.0 / before**2)
    assert narrow.loop_drop_kpa - wide.loop_drop_kpa == pytest.approx(more_kpa, rel=1e-3)
