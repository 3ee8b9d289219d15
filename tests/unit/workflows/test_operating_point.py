"""What a system does as it stands: a design given back, thermostats, weather, pumps, settings, loops shut."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.hydraulics.from_survey import fluid_from
from heatloop.survey.water_system import Antifreeze, Bypass, PumpCurve
from heatloop.workflows.operating_conditions import RequestedConditions, check_conditions, survey_at_conditions


@pytest.fixture(scope="module")
def design(alder_draft):
    return alder_draft


@pytest.fixture(scope="module")
def mixed(harbour_loft):
    """A survey with a trunk mixed to a lower temperature."""
    return harbour_loft


def as_sized(design):
    """The design at its own exact presettings and heads, thermostats still."""
    return hl.simulate(design, settings="calculated", thermostats=False, pump_head_kpa=design.summary["pump_head_kpa"])


@pytest.mark.parametrize("name", ["design", "mixed"])
def test_a_design_rated_at_its_exact_presettings_comes_back(name, request):
    design = request.getfixturevalue(name)
    rated = as_sized(design)
    assert rated.loops["flow_l_h"].to_numpy() == pytest.approx(design.loops["flow_l_h"].to_numpy(), rel=1e-6)
    assert rated.loops["flow_percent"].to_numpy() == pytest.approx(100.0, rel=1e-6)
    assert rated.loops["return_temp_c"].to_numpy() == pytest.approx(design.loops["return_temp_c"].to_numpy(), abs=1e-6)
    assert rated.rooms["heat_to_rooms_w"].to_numpy() == pytest.approx(
        design.rooms["heat_to_rooms_w"].to_numpy(), rel=1e-6
    )
    assert rated.summary["source_heat_w"] == pytest.approx(design.summary["source_heat_w"], rel=1e-6)
    assert (rated.loops["state"] == "open").all()


def test_the_design_comes_back_with_tees_lift_bypass_and_antifreeze_too(design):
    survey = design.survey
    project = replace(
        survey.project, tees=True, buoyancy=True, antifreeze=Antifreeze("propylene glycol", percent_by_volume=25.0)
    )
    trunks = (survey.trunks[0], replace(survey.trunks[1], reverse_return=True))
    bypasses = (Bypass("always open", 0.2, "upstairs"), Bypass("relief", 0.5, "ground floor", opens_at_kpa=60.0))
    other = hl.size(replace(survey, project=project, trunks=trunks, bypasses=bypasses))
    rated = as_sized(other)
    assert rated.loops["flow_l_h"].to_numpy() == pytest.approx(other.loops["flow_l_h"].to_numpy(), rel=1e-6)
    assert rated.operation.bypass_kg_s == pytest.approx(other.operation.bypass_kg_s, rel=1e-6)
    assert other.operation.bypass_kg_s[0] > 0.0
    assert other.operation.bypass_kg_s[1] == 0.0
    assert max(rated.summary[f"residual_{name}"] for name in ("mass", "head", "energy", "inlet")) < 1e-8
    assert other.summary["pump_flow_water_only_l_h"] != pytest.approx(other.summary["pump_flow_l_h"], rel=0.01)
    assert design.summary["pump_flow_water_only_l_h"] is None


def test_thermostats_give_each_sensor_room_its_loss_or_all_they_can(design):
    rated = hl.simulate(design)
    rooms, loops = rated.rooms.set_index("room"), rated.loops
    for loop in loops.to_dict("records"):
        room = rooms.loc[loop["sensor_room"]]
        if loop["state"] == "throttled":
            assert room["margin_w"] == pytest.approx(0.0, abs=1e-3)
        else:
            assert room["margin_w"] <= 1e-3
    assert set(loops["state"]) == {"open", "throttled"}
    assert rooms.loc["Kitchen-diner", "controls_loop"] == "Kitchen"
    assert not rooms.loc["Bathroom", "is_warm"], "it hangs on the nursery's valve, and goes short"
    assert rated.operation.residual_energy < 1e-8


def test_in_milder_weather_less_flows_and_less_is_lost(design):
    cold, mild = hl.simulate(design), hl.simulate(design, outdoor_c=9.0)
    assert mild.summary["heat_loss_w"] < 0.6 * cold.summary["heat_loss_w"]
    assert (mild.loops["flow_l_h"] < cold.loops["flow_l_h"]).all()
    assert mild.summary["return_temp_c"] < cold.summary["return_temp_c"]
    study = mild.rooms.set_index("room").loc["Study"]
    assert study["heat_loss_w"] == pytest.approx(395.0 * (20.0 - 9.0) / (20.0 + 3.0)), "stated, so in proportion"


def test_a_cooler_flow_leaves_rooms_cold_and_opens_their_valves(design):
    cool = hl.simulate(design, flow_temp_c=38.0)
    assert cool.loops["flow_temp_c"].between(37.5, 38.0, inclusive="neither").all(), "less what trunks lose"
    assert (cool.loops["state"] == "open").all()
    assert cool.summary["rooms_below_temperature"] == len(cool.rooms)
    assert cool.summary["heat_to_rooms_w"] < 0.75 * design.summary["heat_to_rooms_w"]


def test_rooms_kept_warmer_want_more(design):
    warm = hl.simulate(design, room_c={"Study": 24.0}, thermostats=False)
    plain = hl.simulate(design, thermostats=False)
    assert warm.rooms.set_index("room").loc["Study", "indoor_c"] == 24.0
    losses = [rating.rooms.set_index("room")["heat_loss_w"] for rating in (warm, plain)]
    assert losses[0]["Study"] > losses[1]["Study"]
    assert losses[0]["Living room"] <= losses[1]["Living room"], "its wall to the study is warmer"


def test_a_loop_shut_by_hand_gives_nothing_and_the_others_get_more(design):
    before = hl.simulate(design, thermostats=False)
    after = hl.simulate(design, thermostats=False, isolated_loops=["Kitchen"])
    one, two = before.loops.set_index("loop"), after.loops.set_index("loop")
    assert two.loc["Kitchen", "state"] == "shut"
    assert two.loc["Kitchen", "flow_l_h"] == 0.0
    assert two.loc["Kitchen", "heat_to_rooms_w"] == 0.0
    others = one.index != "Kitchen"
    assert (two["flow_l_h"][others] > one["flow_l_h"][others]).all()
    told = design.loop_isolation.set_index("isolated_loop").loc["Kitchen"]
    change = 100.0 * (
        two.loc[told["most_affected_loop"], "flow_l_h"] / one.loc[told["most_affected_loop"], "flow_l_h"] - 1.0
    )
    assert change == pytest.approx(told["flow_change_percent"], abs=0.05)


@pytest.mark.parametrize(
    ("pump", "words"),
    [
        ({"pump_speed": 0.5}, "at 50 % of full speed"),
        ({"pump_head_kpa": 15.0}, "constant, 15 kPa"),
        ({"pump_head_kpa": 15.0, "proportional_m3_h": 0.6}, "proportional, 15 kPa at 600 l/h"),
    ],
)
def test_the_duty_point_is_on_the_pump_as_it_is_set(design, pump, words):
    rated = hl.simulate(design, **pump, thermostats=False)
    row = rated.pumps.iloc[0]
    assert row["control"] == words
    flow_m3_h = row["flow_l_h"] / 1000.0
    if "pump_speed" in pump:
        curve = design.survey.source.pump
        minimum, maximum = (
            np.interp(x, curve.flow_m3_h, curve.head_kpa) for x in (flow_m3_h / 0.5 + 0.2, flow_m3_h / 0.5 - 0.2)
        )
        assert 0.25 * minimum <= row["head_kpa"] <= 0.25 * maximum
    elif "proportional_m3_h" not in pump:
        assert row["head_kpa"] == pytest.approx(15.0, rel=1e-9)
    else:
        assert row["head_kpa"] == pytest.approx(7.5 + 7.5 * flow_m3_h / 0.6, rel=1e-9)


def test_power_is_told_where_the_efficiency_is_known(design):
    curve = design.survey.source.pump
    pump = PumpCurve(curve.flow_m3_h, curve.head_kpa, efficiency=0.2)
    survey = replace(design.survey, source=replace(design.survey.source, pump=pump))
    row = hl.simulate(hl.size(survey), thermostats=False).pumps.iloc[0]
    assert row["electric_power_w"] == pytest.approx(row["flow_l_h"] / 3.6e6 * row["head_kpa"] * 1000.0 / 0.2, rel=1e-12)
    assert np.isnan(design.pumps.iloc[0]["electric_power_w"])


def test_settings_are_those_of_the_valves_named(design):
    rated = hl.simulate(
        design,
        thermostats=False,
        settings={("Bedrooms", "return"): 2, ("Living room", "return", 1): 4, "thermostatic 15": 3},
    )
    valves = rated.valves
    lockshield = valves[valves["valve"] == "lockshield 15"].set_index(["loop", "arm"])
    assert lockshield.loc[("Bedrooms", 0), "set_kv_m3_h"] == 0.25
    assert lockshield.loc[("Living room", 1), "set_kv_m3_h"] == 0.66
    assert (
        lockshield.loc[("Kitchen", 0), "calculated_setting"]
        == design.valves.query("loop == 'Kitchen' and side == 'return'")["nearest_setting"].iloc[0]
    )
    assert (valves[valves["valve"] == "thermostatic 15"]["set_kv_m3_h"] == 0.24).all()


def test_real_settings_give_the_flows_that_the_design_says_they_will(design):
    rated = hl.simulate(design, thermostats=False, pump_head_kpa=design.summary["pump_head_kpa"])
    assert rated.loops["flow_l_h"].to_numpy() == pytest.approx(design.loops["achieved_flow_l_h"].to_numpy(), rel=1e-6)
    error = 100.0 * (design.loops["achieved_flow_l_h"] / design.loops["target_flow_l_h"] - 1.0)
    assert design.loops["flow_error_percent"].to_numpy() == pytest.approx(error.to_numpy(), abs=0.01)
    valves = design.valves
    tables = {valve.name: valve.kv_m3_h for valve in design.survey.catalogue.valves}
    for row in valves.to_dict("records"):
        assert row["nearest_kv_m3_h"] == tables[row["valve"]][row["nearest_setting"] - 1]


def test_presetting_in_the_body_is_preferred_where_the_valve_has_it(design):
    catalogue = design.survey.catalogue
    valves = tuple(replace(valve, presetting=valve.kvs_m3_h is not None) for valve in catalogue.valves)
    other = hl.size(replace(design.survey, catalogue=replace(catalogue, valves=valves)))
    preset = other.valves[other.valves["is_balancing"]]
    assert set(preset["valve"]) == {"thermostatic 15"}
    assert other.loops["flow_l_h"].to_numpy() == pytest.approx(design.loops["flow_l_h"].to_numpy(), rel=1e-9)


@pytest.mark.parametrize(
    ("asked", "place", "found", "required"),
    [
        ({"isolated_loops": ["Atic"]}, "isolated_loops", '"Atic"', "the name of a loop"),
        ({"room_c": {"Atic": 20.0}}, "room_c", '"Atic"', "the name of a room"),
        (
            {"settings": {"lockshield 15": 9}},
            'settings, "lockshield 15"',
            "9",
            '1 to 6, the settings of "lockshield 15"',
        ),
        ({"settings": {("Bedrooms", "flow"): 0}}, 'settings, "Bedrooms", "flow"', "0", "1 to 6"),
        ({"settings": {"tap": 1}}, "settings", '"tap"', "a valve"),
        ({"settings": "open"}, "settings", '"open"', '"nearest"'),
        ({"pump_speed": 1.5}, "pump_speed", "1.5", "at most 1"),
        ({"pump_head_kpa": 0.0}, "pump_head_kpa", "0", "above 0 and at most 2000 kPa"),
        ({"pump_head_kpa": 1e300}, "pump_head_kpa", "1e+300", "above 0 and at most 2000 kPa"),
        ({"pump_head_kpa": 5.0, "proportional_m3_h": 1e9}, "proportional_m3_h", "1e+09", "at most 1000 m3/h"),
        ({"outdoor_c": -300.0}, "outdoor_c", "-300", "-60 to 40 °C"),
        ({"room_c": 60.0}, "room_c", "60", "0 to 40 °C"),
        ({"room_c": {"Hall": -300.0}}, 'room_c, "Hall"', "-300", "0 to 40 °C"),
        ({"room_c": 40.0, "flow_temp_c": 30.0}, "flow_temp_c", "30", "above 40, the temperature of"),
        ({"room_c": 0.0, "outdoor_c": 5.0}, "outdoor_c", "5", "below 0, the temperature of"),
        ({"pump_speed": 0.5, "pump_head_kpa": 5.0}, "pump_speed", "beside pump_head_kpa", "either pump_speed or"),
        ({"proportional_m3_h": 0.5, "pump_speed": 1.0}, "proportional_m3_h", "0.5", "the head at that flow"),
        ({"proportional_m3_h": 0.5}, "pump_speed", "nothing", "either pump_speed or pump_head_kpa"),
        ({"flow_temp_c": 140.0}, "flow_temp_c", "140", "0.1 to 110, the range of water"),
        ({"isolated_loops": "all"}, "isolated_loops", "every loop", "at least one loop"),
        ({"flow_temp_c": 10.0}, "flow_temp_c", "10", 'above 22, the temperature of "Bathroom"'),
        ({"flow_temp_c": "50"}, "flow_temp_c", '"50"', "a number in °C"),
        ({"flow_temp_c": True}, "flow_temp_c", "True", "a number in °C"),
        ({"outdoor_c": float("nan")}, "outdoor_c", "nan", "a number in °C"),
        ({"outdoor_c": 18.0}, "outdoor_c", "18", 'below 17, the temperature of "Box room"'),
        ({"room_c": "warm"}, "room_c", '"warm"', "a number in °C"),
        ({"room_c": {"Hall": None}}, 'room_c, "Hall"', "None", "a number in °C"),
        ({"pump_head_kpa": "high"}, "pump_head_kpa", '"high"', "a number, kPa"),
        ({"pump_speed": "full"}, "pump_speed", '"full"', "a share of full speed"),
        ({"settings": 5}, "settings", "5", '"nearest", "calculated", or settings by valve'),
        ({"settings": {5: 1}}, "settings", "5", "a valve, a loop and side"),
        ({"settings": {"lockshield 15": "open"}}, 'settings, "lockshield 15"', '"open"', "a number"),
        ({"isolated_loops": "Bedrooms"}, "isolated_loops", '"Bedrooms"', "a list of the names of loops"),
        ({"isolated_loops": 5}, "isolated_loops", "5", "a list of the names of loops"),
        ({"thermostats": "yes"}, "thermostats", '"yes"', "True or False"),
    ],
)
def test_what_is_not_there_is_told_in_one_line(design, asked, place, found, required):
    if asked.get("isolated_loops") == "all":
        asked = {"isolated_loops": list(design.loops["loop"])}
    with pytest.raises(hl.InputError) as caught:
        hl.simulate(design, **asked)
    (fault,) = caught.value.issues
    assert (fault.file, fault.place) == ("simulate", place)
    assert found in fault.found
    assert required in fault.required


@pytest.mark.parametrize(
    ("flow_temp_c", "outdoor_c", "room_c", "place", "required"),
    [
        (35.0, -3.0, 38.0, "room_c", "below 35, the flow temperature"),
        (35.0, -3.0, {"Study": 38.0}, 'room_c, "Study"', "below 35, the flow temperature"),
        (50.0, 5.0, 4.0, "room_c", "above 5, the outdoor temperature: a colder room requires no heating"),
        (15.0, -3.0, None, "flow_temp_c", 'above 22, the temperature of "Bathroom": cooler water heats no room'),
    ],
)
def test_the_issue_is_at_the_argument_that_was_given(design, flow_temp_c, outdoor_c, room_c, place, required):
    project = replace(design.survey.project, flow_temp_c=flow_temp_c, outdoor_c=outdoor_c)
    requested = RequestedConditions(room_c=room_c)
    survey = survey_at_conditions(replace(design.survey, project=project), requested)
    with pytest.raises(hl.InputError) as caught:
        check_conditions(survey, set(design.rooms["room"]), requested, fluid_from(survey))
    (fault,) = caught.value.issues
    assert (fault.place, fault.required) == (place, required)


def test_the_json_form_has_every_table(design):
    form = hl.simulate(design).to_dict()
    assert form["schema_version"] == 2
    assert {"loops", "rooms", "elements", "valves", "pumps", "temperature_profile", "summary"} <= set(form)
    assert form["summary"]["pump_power_w"] is None
    assert len(form["rooms"]) == 9


@pytest.mark.parametrize("ask", [hl.size, hl.simulate, hl.lowest_flow_temperature])
@pytest.mark.parametrize("given", [5, None, ["survey.toml"]])
def test_what_is_no_survey_is_told_in_one_line(ask, given):
    with pytest.raises(hl.InputError, match=r"survey: found .*; required: a Survey, or the path") as caught:
        ask(given)
    assert len(caught.value.issues) == 1


def test_a_least_flow_temperature_that_is_no_number_is_told_in_one_line(design):
    with pytest.raises(hl.InputError, match='min_flow_temp_c: found "warm"; required: a number in °C'):
        hl.lowest_flow_temperature(design.survey, min_flow_temp_c="warm")
