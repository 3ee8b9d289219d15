"""Diagnoses of sites: verdict, probability, readings to take next, and the rate of right verdicts on unseen sites."""

from __future__ import annotations

import json
import os
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

import heatloop as hl
from heatloop.diagnosis import fault_types
from heatloop.diagnosis import readings as r
from heatloop.diagnosis.diagnosis import diagnose_model
from heatloop.diagnosis.inference.hypotheses import FAULTLESS
from heatloop.diagnosis.readings import Reading, Readings
from heatloop.diagnosis.readings_file import readings_of
from heatloop.diagnosis.readings_form import readings_text
from heatloop.diagnosis.simulate import simulate_readings
from heatloop.diagnosis.simulated_site import Instruments, SiteFault
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.survey.read import survey_of
from tests.helpers.diagnosis.score import scored
from tests.helpers.diagnosis.sites import SCORED, quick_design, random_faults, random_site
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge"
SAMPLE, FIRST_SEED = int(os.environ.get("HEATLOOP_DIAGNOSED", "15")), 9000
"""Random systems of the ordinary run; `python -m tests.long diagnosis` takes sixty here, and more of its own."""


@pytest.fixture(scope="module")
def design(alder_draft):
    return alder_draft


@pytest.fixture(scope="module")
def model(design):
    return site_model(design.system, thermostatic_heads_removed=True)


def visit(design, *faults, seed=1, steady=False, **tools):
    readings, truth = simulate_readings(
        design.system, faults, np.random.default_rng(seed), instruments=Instruments(steady=steady, **tools)
    )
    return readings, truth


# --- the visits to Alder Lodge that come with the demonstration ------------------------------------------


def test_air_in_a_loop_is_found_from_the_file(design):
    found = hl.diagnose(design, LODGE / "readings-air.csv")
    first = found.explanations.iloc[0]
    assert found.summary["verdict"] == "fault"
    assert (first["kind"], first["of"]) == (fault_types.LITTLE_WATER, "Nursery and bathroom")
    assert first["probability"] > 0.9
    assert first["size_low"] < 0.25 < first["size_high"]
    assert "return temperature of Nursery and bathroom" in first["evidence"]
    assert "air in the loop" in first["causes"]
    assert "vent" in first["distinguishing_check"]
    loops = found.loops.set_index("loop")
    own = loops.loc["Nursery and bathroom"]
    assert own["flow_low_l_h"] < own["flow_l_h"] < own["flow_high_l_h"] < 0.5 * own["expected_flow_l_h"]
    others = loops.drop("Nursery and bathroom")["flow_share"]
    assert others.to_numpy() == pytest.approx(1.0, abs=0.15)
    assert own["return_temp_read_c"] < own["return_temp_expected_c"] - 3.0


def test_what_temperatures_cannot_tell_is_said_and_the_reading_that_tells_is_named(design):
    found = hl.diagnose(design, LODGE / "readings-covered.csv")
    assert found.summary["verdict"] == "not identified"
    assert set(found.explanations["kind"][:2]) == {fault_types.MUCH_WATER, fault_types.LITTLE_HEAT}
    assert set(found.explanations["of"][:2]) == {"Hall and study"}
    best = found.next_readings.iloc[0]
    assert (best["reading"], best["of"]) == (r.FLOW, "Hall and study")
    assert best["right_now"] < 0.6
    assert best["right_after"] > 0.9
    assert 'l/h if the loop "Hall and study" receives too much water' in best["expected"]
    assert "flow of Hall and study" in found.summary["words"]


def test_the_reading_that_was_asked_for_tells(design):
    found = hl.diagnose(design, LODGE / "readings-covered-with-flow.csv")
    assert found.summary["verdict"] == "fault"
    assert found.explanations["kind"][0] == fault_types.LITTLE_HEAT


def test_a_site_without_fault_is_called_so(design):
    found = hl.diagnose(design, LODGE / "readings-after.csv")
    assert found.summary["verdict"] == "no fault"
    assert found.summary["probability_no_fault"] > 0.75
    assert found.summary["rooms_counted"]
    assert found.loops["flow_share"].to_numpy() == pytest.approx(1.0, abs=0.15)


def test_a_reading_is_asked_for_after_no_fault_where_a_fault_stays_plausible(design):
    """Air in one of two channels of the hall changes neither flow nor return: their surfaces show it."""
    found = hl.diagnose(design, LODGE / "readings-after.csv")
    first = found.next_readings.iloc[0]
    assert (first["reading"], first["of"]) == (r.SURFACE_TEMP, "Hall and study, channels 1 and 2, piece Study 4")


@pytest.mark.parametrize("name", ["air", "covered", "covered-with-flow", "after"])
def test_the_files_say_that_they_are_invented(name):
    assert "# Invented" in (LODGE / f"readings-{name}.csv").read_text(encoding="utf-8")


# --- one fault of each kind -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "fault",
    [
        SiteFault(fault_types.LITTLE_WATER, "Kitchen", 0.0),
        SiteFault(fault_types.LITTLE_WATER, "Living room", 0.2, arm=1),
        SiteFault(fault_types.LITTLE_HEAT, "Bedrooms", 0.45),
        SiteFault(fault_types.SWAPPED, "Hall and study"),
        SiteFault(fault_types.LITTLE_HEAD, "", 0.25),
        SiteFault(fault_types.MUCH_HEAD, "", 3.0),
        SiteFault(fault_types.TOO_COOL, "", -10.0),
        SiteFault(fault_types.TOO_WARM, "", 9.0),
    ],
    ids=lambda fault: f"{fault.kind} {fault.loop}",
)
def test_a_fault_put_in_is_found(design, model, fault):
    found = diagnose_model(model, visit(design, fault, steady=True)[0])
    place = f"{fault.loop}, arm {fault.arm}" if fault.arm else fault.loop or "source"
    assert (found.explanations["kind"][0], found.explanations["of"][0]) == (fault.kind, place)
    assert found.summary["verdict"] == "fault"


def test_two_faults_at_once_are_found(design, model):
    faults = (SiteFault(fault_types.LITTLE_WATER, "Kitchen", 0.2), SiteFault(fault_types.SWAPPED, "Bedrooms"))
    found = diagnose_model(model, visit(design, *faults)[0])
    pairs = zip(found.explanations["kind"][0].split("; "), found.explanations["of"][0].split("; "), strict=True)
    assert set(pairs) == {(fault_types.LITTLE_WATER, "Kitchen"), (fault_types.SWAPPED, "Bedrooms")}


def test_what_is_said_is_a_frozen_answer_that_goes_to_json(design, model):
    found = diagnose_model(model, visit(design)[0])
    found.explanations["probability"] = 0.0
    found.summary["verdict"] = "other"
    assert found.explanations["probability"][0] > 0.0
    assert found.summary["verdict"] == "no fault"
    assert json.loads(json.dumps(found.to_dict()))["summary"]["verdict"] == "no fault"
    for one in notices_for(["Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues"]):
        assert any(one.text in text for text in found.safety_notices)
    assert found.safety_notices[-1] == DEFERENCE
    assert found.explanations["probability"].sum() <= 1.0 + 1e-9


# --- instruments ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("bias_k", [-3.0, 3.0])
def test_the_probe_of_a_site_may_read_warm_or_cold(design, model, bias_k):
    """A bias that all surfaces share is found, and is not taken for a source too cool."""
    found = diagnose_model(model, visit(design, bias_k=bias_k, seed=4)[0])
    assert found.summary["verdict"] == "no fault"
    assert abs(found.summary["probe_bias_k"] - bias_k) < 3.0 * found.summary["probe_bias_spread_k"]


def test_a_probe_compared_with_one_in_the_water_is_known_better(design, model):
    readings, _ = visit(design, bias_k=2.0, seed=4)
    known = replace(readings, items=(*readings.items, Reading(r.PROBE_BIAS, "", 2.0, 0.3)))
    before, after = diagnose_model(model, readings).summary, diagnose_model(model, known).summary
    assert after["probe_bias_spread_k"] < before["probe_bias_spread_k"]


def test_head_at_the_pump_tells_a_weak_pump_from_a_blocked_filter(design, model):
    """Both starve all loops; with head as it should be at the pump the same kind is named, and the size stands."""
    readings, _ = visit(design, SiteFault(fault_types.LITTLE_HEAD, "", 0.25))
    expected_kpa = float(model.responses.head_pa[0]) / 1000.0
    for head_kpa in (0.25 * expected_kpa, expected_kpa):
        read = replace(readings, items=(*readings.items, Reading(r.PUMP_HEAD, "", head_kpa, 0.05 * head_kpa)))
        first = diagnose_model(model, read).explanations.iloc[0]
        assert first["kind"] == fault_types.LITTLE_HEAD
        assert 0.1 < first["size"] < 0.45
    assert "a filter or a valve" in first["distinguishing_check"]


def test_a_pump_set_low_is_believed_more_readily(design, model):
    readings, _ = visit(design, SiteFault(fault_types.LITTLE_HEAD, "", 0.6), seed=3)
    expected_kpa = float(model.responses.head_pa[0]) / 1000.0

    def chance(setting_kpa):
        items = (*readings.items, Reading(r.PUMP_SETTING, "", setting_kpa, 0.05 * setting_kpa))
        rows = diagnose_model(model, replace(readings, items=items)).explanations
        return float(rows.loc[rows["kind"] == fault_types.LITTLE_HEAD, "probability"].sum())

    assert chance(0.6 * expected_kpa) > chance(expected_kpa)


def test_meters_make_flows_known_better(design, model):
    spread = []
    for meters in (False, True):
        loops = diagnose_model(model, visit(design, loop_meters=meters)[0]).loops
        spread.append(float((loops["flow_high_l_h"] / loops["flow_low_l_h"]).mean()))
    assert spread[1] < spread[0]


# --- what is not known -----------------------------------------------------------------------------------


def test_nothing_read_is_nothing_said(design, model):
    found = diagnose_model(model, Readings("empty", (), (), True, None))
    assert found.summary["verdict"] == "not identified"
    assert "No diagnosis is possible" in found.summary["words"]
    assert found.summary["probability_no_fault"] == pytest.approx(FAULTLESS, abs=0.02)


def test_one_loop_may_be_read_alone(design, model):
    """Of the other loops nothing: their flows are assumed, and the fault of this one is found."""
    readings, _ = visit(design, SiteFault(fault_types.LITTLE_WATER, "Kitchen", 0.15), loop_meters=True)
    others = {path.loop.name for path in model.network.loops} - {"Kitchen"}
    alone = replace(readings, items=tuple(item for item in readings.items if item.of not in others))
    found = diagnose_model(model, alone)
    assert (found.explanations["kind"][0], found.explanations["of"][0]) == (fault_types.LITTLE_WATER, "Kitchen")
    assert found.explanations["probability"][0] > 0.7
    assert "Neither return nor flow was read" in found.summary["words"]


def test_a_loop_that_was_not_read_is_named(design, model):
    readings, _ = visit(design)
    kept = tuple(i for i in readings.items if not (i.quantity == r.RETURN_TEMP and i.of == "Kitchen"))
    found = diagnose_model(model, replace(readings, items=kept))
    assert found.summary["verdict"] == "not identified"
    assert "Neither return nor flow was read: Kitchen." in found.summary["words"]


def test_readings_that_nothing_explains_are_said_to_be_so(design, model):
    """A probe that slipped off three pipes: flows of some loops cold, their returns warm in no possible way."""
    readings, _ = visit(design)
    cold = {"Kitchen": 30.0, "Bedrooms": 36.0, "Hall and study": 62.0}
    items = tuple(
        replace(i, value=cold[i.of]) if i.quantity == r.FLOW_TEMP and i.of in cold else i for i in readings.items
    )
    found = diagnose_model(model, replace(readings, items=items))
    assert found.summary["verdict"] == "not identified"
    assert "misread" in found.summary["words"]
    assert found.summary["explained"] < 1e-3


def test_heads_left_on_are_brought_to_mind(design):
    readings, _ = visit(design, SiteFault(fault_types.LITTLE_WATER, "Kitchen", 0.2))
    assert (
        "Remove the thermostatic heads"
        in hl.diagnose(design, replace(readings, thermostatic_heads_removed=None)).summary["words"]
    )
    assert "Remove the thermostatic heads" not in hl.diagnose(design, readings).summary["words"]


def test_one_loop_alone_may_lack_water_for_two_reasons(mill_annexe):
    """With one loop a shut valve and a weak pump look the same but for the head: the sheet says so."""
    readings, _ = simulate_readings(
        mill_annexe.system, [SiteFault(fault_types.LITTLE_WATER, "Annexe", 0.3)], np.random.default_rng(1)
    )
    found = hl.diagnose(mill_annexe, readings)
    assert found.summary["verdict"] == "not identified"
    assert set(found.explanations["kind"][:2]) == {fault_types.LITTLE_WATER, fault_types.LITTLE_HEAD}
    assert found.next_readings["reading"][0] == r.PUMP_HEAD


def test_a_file_that_cannot_be_used_is_a_survey_error(design, tmp_path):
    path = tmp_path / "visit.csv"
    path.write_text("reading,of,value\n", encoding="utf-8")
    with pytest.raises(hl.InputError, match='no column "unit"'):
        hl.diagnose(design, path)


def test_air_that_two_temperatures_cannot_show_is_found_from_surfaces(design, model):
    """Hall and study runs one-way in two channels: with air in one the other takes its water."""
    air = SiteFault(fault_types.AIR, "Hall and study", 0.02, channel=1)
    readings, _ = visit(design, air, surface_k=0.1)
    found = diagnose_model(model, readings)
    read = found.loops.set_index("loop").loc["Hall and study"]
    assert read["return_temp_read_c"] == pytest.approx(read["return_temp_expected_c"], abs=1.0)
    assert found.summary["verdict"] == "no fault"
    assert "Air in one of several parallel channels" in found.summary["words"]
    assert "half-way along the loop (Hall and study)" in found.summary["words"]
    cold, warm = (
        Reading(r.SURFACE_TEMP, "Hall and study", value, 0.5, channel=channel, piece="Study 4")
        for channel, value in ((1, 33.0), (2, 46.0))
    )
    first = diagnose_model(model, replace(readings, items=(*readings.items, cold, warm))).explanations.iloc[0]
    assert (first["kind"], first["of"]) == (fault_types.AIR, "Hall and study, channel 1")
    assert first["probability"] > 0.9


def test_two_loops_interchanged_are_found(design, model):
    wrong = SiteFault(fault_types.INTERCHANGED, "Kitchen", other="Living room")
    first = diagnose_model(model, visit(design, wrong, loop_meters=True, surface_k=0.2)[0]).explanations.iloc[0]
    assert first["kind"] == fault_types.INTERCHANGED
    assert set(first["of"].split(" and ")) == {"Kitchen", "Living room"}


@pytest.mark.parametrize("lower_k", [0.0, 6.0])
def test_a_setting_that_was_not_read_is_no_fault_but_asked_for(design, model, lower_k):
    """The water 6 K below the design: somebody may have set it so."""
    set_c = design.survey.project.flow_temp_c - lower_k
    readings, _ = simulate_readings(
        design.system, [], np.random.default_rng(3), source_setting_c=set_c, instruments=Instruments(steady=False)
    )
    items = tuple(item for item in readings.items if item.quantity != r.SOURCE_SETTING)
    found = diagnose_model(model, replace(readings, items=items))
    assert found.summary["verdict"] != "fault"
    assert found.explanations["kind"][0] == fault_types.NO_FAULT
    assert found.summary["source_c"] == pytest.approx(set_c, abs=3.0 * found.summary["source_spread_k"])


# --- other systems ---------------------------------------------------------------------------------------


def _with_glycol(tables):
    tables["project"]["antifreeze"] = {"kind": "propylene glycol", "percent_by_volume": 30.0}


def _with_arms_without_valves(tables):
    loop = next(one for one in tables["loop"] if one["name"] == "Living room")
    del loop["arm_valves"]
    loop["valves"]["return"] = "lockshield 15"


def _with_a_bypass(tables):
    tables["bypass"] = [{"name": "between flow and return", "kv_m3_h": 0.3, "trunk": "upstairs"}]


@pytest.mark.parametrize(
    "change", [pytest.param(_with_glycol, marks=pytest.mark.long), _with_arms_without_valves, _with_a_bypass]
)
def test_other_systems_are_diagnosed_alike(change):
    tables = tomllib.loads((LODGE / "draft.toml").read_text(encoding="utf-8"))
    change(tables)
    other = hl.size(survey_of(tables, LODGE / "draft.toml"))
    ready = site_model(other.system, thermostatic_heads_removed=True)
    assert diagnose_model(ready, visit(other, seed=3, steady=True)[0]).summary["verdict"] == "no fault"
    arm = SiteFault(fault_types.LITTLE_WATER, "Living room", 0.2, arm=1)
    for fault, place in ((arm, "Living room, arm 1"), (SiteFault(fault_types.LITTLE_HEAD, "", 0.25), "source")):
        first = diagnose_model(ready, visit(other, fault, seed=3, steady=True)[0]).explanations.iloc[0]
        assert (first["kind"], first["of"]) == (fault.kind, place)


# --- mixed circuits --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def loft(harbour_loft):
    return harbour_loft


def test_a_mixing_valve_that_lets_in_too_little_is_found(loft):
    """The loop behind the valve 8 K cooler, return and all; the source's own loop as it should be."""
    readings, _ = visit(loft, bias_k=0.0, surface_k=0.2)
    cooler = {r.FLOW_TEMP: 8.0, r.RETURN_TEMP: 6.0}
    items = tuple(replace(i, value=i.value - cooler.get(i.quantity, 0.0) * (i.of == "Cabins")) for i in readings.items)
    first = hl.diagnose(loft, replace(readings, items=items)).explanations.iloc[0]
    assert (first["kind"], first["of"]) == (fault_types.TOO_COOL, "cabins")
    assert 'mixed circuit "cabins"' in first["fault"]


def test_total_flow_is_asked_about_where_it_is_not_that_of_the_loops(loft, design):
    readings, _ = visit(loft, total_meter=True)
    asked = [str(q) for q in readings_of(readings_text(readings), "visit.csv", loft.system).questions]
    assert any("the total flow is not used" in text for text in asked)
    readings, _ = visit(design, total_meter=True)
    assert not readings_of(readings_text(readings), "visit.csv", design.system).questions


# --- how often it is right --------------------------------------------------------------------------------


def minimum(count, part):
    """The fewest right ones of `count` that chance alone leaves once in a thousand where `part` are right."""
    return int(binom.ppf(1e-3, count, part))


def test_diagnoses_are_right_as_often_as_they_should_be():
    """Random systems, a third without fault and the rest with one: bounds of the binomial distribution."""
    scores = []
    for seed in range(FIRST_SEED, FIRST_SEED + SAMPLE):
        model = site_model(quick_design(seed, max_loops=4), thermostatic_heads_removed=True)
        rng = np.random.default_rng([seed, 2])
        faults = random_faults(rng, model, [SCORED[seed % len(SCORED)]]) if seed % 3 else []
        scores.append(scored("one fault" if faults else "no fault", model, random_site(rng, model, faults)))
    without = [one for one in scores if not one.truth]
    single = [one for one in scores if one.truth]
    assert len(without) == SAMPLE // 3 > 0
    assert sum(one.verdict == "no fault" for one in without) >= minimum(len(without), 0.95)
    assert sum(one.right for one in single) >= minimum(len(single), 0.85)
    assert sum(one.in_three for one in single) >= minimum(len(single), 0.97)
    wrong = [one for one in scores if one.verdict != "not identified" and not one.right]
    given = np.mean([one.said[0][1] for one in scores])
    assert np.mean([one.right for one in scores]) == pytest.approx(given, abs=3.1 * np.sqrt(0.1 * 0.9 / len(scores)))
    assert len(wrong) <= SAMPLE - minimum(SAMPLE, 0.85)
