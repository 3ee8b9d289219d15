"""What is written down on the day, step by step against the tables of the pack and bands worked by hand."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

import heatloop as hl
from heatloop.handover.commissioning import pressure_checks, site_record
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.survey.water_system import Additive, PressureTest, Vessel, WaterSystem
from heatloop.workflows.commission import commission
from tests.helpers.altered import with_survey


@pytest.fixture(scope="module")
def pack(alder_lodge: hl.Design) -> CommissioningResult:
    return alder_lodge.commissioning()


def test_pressures_are_read_from_the_empty_vessel_to_the_warm_system(pack: CommissioningResult) -> None:
    steps = site_record.pressure_steps(pack)
    found = pack.pressures
    assert found.precharge_kpa == pytest.approx(57.354, abs=0.001), "what is set is within the accepted range"
    designed = [58.0, 390.0, 390.0, round(found.fill_kpa), round(pack.facts["running_kpa"])]
    assert [step.step for step in steps] == [1, 2, 3, 4, 5]
    assert [step.designed_kpa for step in steps] == pytest.approx(designed)
    assert [step.acceptance for step in steps] == [
        "0.58 to 0.67 bar",
        "start at least as designed; no fall in 60 min, or ± 0.05 bar only if the water temperature "
        "changed; no leak visible",
        "as step 2",
        "1.34 to 1.53 bar",
        "1.48 to 1.93 bar",
    ]
    assert [step.source for step in steps] == [
        "lower limit: EN 12828 annex D, from memory; upper limit: common practice",
        "",
        "",
        "common practice; range of the vessel: 0.97 to 1.90 bar",
        "from steps 1 and 4: Boyle's law",
    ]


def test_the_strength_test_takes_the_times_of_the_survey(alder_lodge: hl.Design) -> None:
    test = PressureTest(pressure_kpa=450.0, settle_minutes=20.0, minutes=90.0)
    steps = site_record.pressure_steps(with_survey(alder_lodge, system=WaterSystem(test=test)).commissioning())
    assert steps[1].action == "Strength test before floors are closed, after a wait of 20 min"
    assert steps[2].action == "Strength test of the whole system, after a wait of 20 min"
    assert "no fall in 90 min" in steps[1].acceptance
    assert steps[1].designed_kpa == steps[2].designed_kpa == 450.0


def test_what_opens_or_is_not_rated_is_isolated_for_a_test_above_the_relief_valve(alder_lodge: hl.Design) -> None:
    def said(test_kpa: float, **other: object) -> str:
        system = dataclasses.replace(alder_lodge.survey.system, test=PressureTest(pressure_kpa=test_kpa), **other)
        return site_record.isolated_for_test(with_survey(alder_lodge, system=system).commissioning())

    words = said(390.0)
    assert words.startswith("The test pressure is above the setting of the relief valve (3.00 bar). Before each")
    assert "isolate, remove or blank off the relief valve in every case. Isolate the heat source, the exp" in words
    assert "every pump as well, unless its maker permits the test pressure." in words
    assert words.endswith("refit and reopen them all before the heat source is switched on.")
    assert said(301.0).startswith("The test pressure is above")
    assert said(300.0) == said(250.0) == "", "the relief valve stays shut"
    low = said(300.0, vessel=Vessel(volume_l=12.0, max_pressure_kpa=290.0))
    assert low.startswith("Before each strength test isolate, remove or blank off expansion vessel (rated 2.90 bar).")
    assert "relief valve" not in low
    rated = said(390.0, vessel=Vessel(volume_l=12.0, max_pressure_kpa=600.0))
    assert "expansion vessel" not in rated


def test_no_range_of_fill_is_a_dash(alder_lodge: hl.Design) -> None:
    pack = with_survey(alder_lodge, system=WaterSystem(vessel=Vessel(volume_l=1.0))).commissioning()
    assert site_record.pressure_steps(pack)[3].acceptance == "–"


def test_valves_are_set_from_the_least_pressure_drop_with_the_bands_of_the_table(pack: CommissioningResult) -> None:
    table = pack.commissioning
    steps = site_record.balancing_steps(pack)
    order = np.argsort(table["valve_pressure_drop_kpa"].to_numpy(), kind="stable")
    assert [step.order for step in steps] == list(range(1, len(table) + 1))
    for step, at in zip(steps, order, strict=True):
        row = table.iloc[int(at)]
        drop_k = row["expected_flow_temp_c"] - row["return_temp_heads_removed_c"]
        assert (step.loop, step.arm, step.valve, step.set_to) == (row["loop"], row["arm"], row["valve"], row["set_to"])
        assert (step.rooms, step.other_settings) == (row["rooms"], row["other_settings"])
        assert step.calculated_setting == row["calculated_setting"]
        assert step.target_flow_l_h == row["target_flow_l_h"]
        assert step.tested_flow_l_h == row["flow_heads_removed_l_h"]
        assert step.min_flow_l_h == pytest.approx(0.9 * step.tested_flow_l_h)
        assert step.max_flow_l_h == pytest.approx(1.1 * step.tested_flow_l_h)
        assert step.flow_temp_c == row["expected_flow_temp_c"]
        assert step.return_temp_c == row["return_temp_heads_removed_c"]
        assert step.min_drop_k == pytest.approx(0.85 * drop_k)
        assert step.max_drop_k == pytest.approx(1.15 * drop_k)
    assert site_record.tested_flow_l_h(steps) == pytest.approx(table["flow_heads_removed_l_h"].sum())


def test_a_loop_without_a_balancing_valve_comes_first_and_has_nothing_to_set(pack: CommissioningResult) -> None:
    frame = pack.commissioning
    frame.loc[3, ["valve_pressure_drop_kpa", "calculated_setting"]] = math.nan
    frame["set_to"] = frame["set_to"].where(frame.index != 3)
    first, second, *_ = site_record.balancing_steps(
        dataclasses.replace(pack, frames={**pack.frames, "commissioning": frame})
    )
    assert (first.loop, first.set_to) == (frame["loop"][3], None)
    assert isinstance(second.set_to, int)


def test_a_head_in_metres_of_water() -> None:
    assert site_record.head_m(98.0665) == pytest.approx(10.0)
    assert site_record.WEATHER_TOLERANCE_K == 3.0


def test_settings_are_accepted_within_a_tenth_and_a_tested_pressure_within_a_twentieth_of_a_bar() -> None:
    assert (pressure_checks.SETTING_TOLERANCE_KPA, site_record.TEST_TOLERANCE_KPA) == (10.0, 5.0)


def test_purges_follow_the_order_of_filling_and_name_their_vents(pack: CommissioningResult) -> None:
    steps = site_record.purge_steps(pack)
    filling, purging = pack.fill_and_vent, pack.purging
    filled = filling[(filling["stage"] == "fill") & (filling["loop"] != "")]
    assert [step.loop for step in steps] == list(filled["loop"])
    assert [step.order for step in steps] == list(range(1, len(filled) + 1))
    assert {(step.loop, step.arm) for step in steps} == set(zip(purging["loop"], purging["arm"], strict=True))
    for step in steps:
        row = purging[(purging["loop"] == step.loop) & (purging["arm"] == step.arm)].iloc[0]
        assert (step.flow_l_h, step.hose_kpa) == (row["purge_flow_l_h"], row["hose_pressure_kpa"])
        assert step.drive == row["drive"] == "hose"
        (vent,) = step.vents
        assert vent.startswith("Vent at ")
    living = {step.arm: step.vents[0] for step in steps if step.loop == "Living room"}
    assert "wall 2, 1.30 m" in living[1]
    assert "wall 1, 4.60 m" in living[2]


def test_a_purge_without_a_row_has_no_figures(pack: CommissioningResult) -> None:
    purging = pack.purging
    kitchen = purging["loop"] == "Kitchen"
    frames = {**pack.frames, "purging": purging[~kitchen]}
    (step,) = (one for one in site_record.purge_steps(dataclasses.replace(pack, frames=frames)) if one.arm == 1
               and one.loop == "Kitchen")  # fmt: skip
    assert (math.isnan(step.flow_l_h), math.isnan(step.hose_kpa), step.drive) == (True, True, "")
    assert len(step.vents) == 1


def test_work_on_the_whole_system_in_order(pack: CommissioningResult) -> None:
    """The water is flushed and cleaned before the system is filled, and protected before it is warmed up and set."""
    blocks = {block.title: block for block in site_record.work_blocks(pack)}
    starts = {
        "Prepare and test": ("With the vessel isolated", "Switch off the heat source", "Fit an in-line filter",
            "Strength test of the whole system"),
        "Clean and flush": ("The water is in contact", "Bare aluminium", "Do not fill or top up",
            "After the strength test flush", "Fill and vent, add cleanser", "Let it cool, drain and flush",
            "Fit the filter element"),
        "Fill and vent": ("Connect the hose", "Fill, purge and vent loop by loop", "Open every loop", "Vent at plinth",
            "Bring the cold system", "Run the pump for half"),
        "Protect the water": ("Add inhibitor", "Test a sample"),
        "Warm up and set": ("Warm up slowly",),
    }  # fmt: skip
    assert list(blocks) == list(starts)
    first = 1
    for title, begins in starts.items():
        block = blocks[title]
        assert block.first == first
        assert len(block.steps) == len(begins)
        assert all(words.startswith(start) for words, start in zip(block.steps, begins, strict=True)), title
        first += len(begins)
    after = site_record.work_after_balancing(pack)
    assert after[0] == "Fit the skirting covers, then the thermostatic heads."
    assert after[-1].startswith("Test again after four weeks")


def test_an_old_system_is_cleaned_before_the_skirting_is_connected(alder_lodge: hl.Design) -> None:
    old = dataclasses.replace(alder_lodge.survey.system, old_system=True)
    first, second, third, *_ = site_record.work_blocks(with_survey(alder_lodge, system=old).commissioning())
    assert first.title == "Old system, before the new skirting is connected"
    assert [words.partition(" ")[0] for words in first.steps] == ["Take", "With", "Let"]
    assert (second.title, second.first) == ("Prepare and test", 4)
    assert [words for words in third.steps if words.startswith("After the strength test flush")] == []


def test_rules_of_an_own_stage_follow_the_filling(alder_lodge: hl.Design, tmp_path: Path) -> None:
    rules = tmp_path / "rules.toml"
    rules.write_text('[[rule]]\nstage = "our stage"\nwhat = "Our way."\nsource = "us"\n', encoding="utf-8")
    blocks = {
        block.title: block.steps for block in site_record.work_blocks(commission(alder_lodge, treatment_rules=rules))
    }
    assert blocks["Protect the water"] == ("Our way.",)
    assert "Clean and flush" not in blocks


def test_treatment_says_how_much(alder_lodge: hl.Design) -> None:
    """78.3 litres: three flushes of them, and doses of a per cent; whole litres from ten on."""

    def steps(design: hl.Design, title: str) -> tuple[str, ...]:
        return {block.title: block.steps for block in site_record.work_blocks(design.commissioning())}[title]

    said = steps(alder_lodge, "Clean and flush")
    assert said[3].endswith(" Quantity for the whole system: 235 l.")
    assert said[4].endswith(" Quantity for the whole system: 0.78 l.")
    assert steps(alder_lodge, "Protect the water")[0].endswith(" Quantity for the whole system: 0.78 l.")
    ten = Additive("inhibitor", dose_ml_per_l=1000.0 * 10.0 / alder_lodge.commissioning().facts["water_content_l"])
    dosed = with_survey(alder_lodge, system=dataclasses.replace(alder_lodge.survey.system, inhibitor=ten))
    assert steps(dosed, "Protect the water")[0].endswith(
        (" Quantity for the whole system: 10 l.", " Quantity for the whole system: 10.00 l.")
    )
    assert site_record._litres(10.0) == " Quantity for the whole system: 10 l."
    assert site_record._litres(9.994) == " Quantity for the whole system: 9.99 l."
