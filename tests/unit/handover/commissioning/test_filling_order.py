"""Order of filling and draining of the demonstration house, with the figures of each step."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.findings.safety import SAFETY_NOTICES, notice_titles
from heatloop.handover.commissioning.filling import fill_and_vent_table, filling_steps, remote_ends
from heatloop.handover.commissioning.pressures import pressures
from heatloop.handover.commissioning.purging import purges
from heatloop.hydraulics.analysis.water_content import content_l, contents
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Vessel, WaterSystem
from tests.helpers.altered import with_survey

WATER = plain_water()
TITLES = {caution.title for caution in SAFETY_NOTICES}


def with_system(design: hl.Design, **keys: object) -> hl.Design:
    return with_survey(design, system=WaterSystem(**keys))  # type: ignore[arg-type]


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
        "prepare", "strength test", "water treatment", "fill", "vent", "pressurise", "warm up", "set", "refit", "drain",
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
    off = table.index[table["action"].str.contains("Remove thermostatic heads and skirting covers")]
    on = table.index[table["action"].str.contains("Fit the skirting covers")]
    filled = table.index[table["stage"].isin(["fill", "vent", "pressurise"])]
    assert len(off) == len(on) == 1
    assert off[0] < filled.min() <= filled.max() < on[0]


def test_steps_carry_the_figures(lodge: hl.Design) -> None:
    words = " ".join(fill_and_vent_table(steps_of(lodge))["action"])
    for figure in (
        "to 58 kPa",
        "58 to 67 kPa",
        "390 kPa",
        "30 min",
        "60 min",
        "147 kPa",
        "300 kPa",
        "392 l/h",
        "784 l/h",
        "2.90 m",
    ):
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
