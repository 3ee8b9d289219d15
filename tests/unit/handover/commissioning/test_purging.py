"""Purge flow, pressure and what drives it."""

from __future__ import annotations

import dataclasses
import math

import fluids
import pytest

import heatloop as hl
from heatloop.handover.commissioning.purging import PurgeResult, purge_table, purges
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import WaterSystem

WATER = plain_water()


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
    assert {row.drive for row in swept} == {"hose, if its pressure is high enough"}
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
