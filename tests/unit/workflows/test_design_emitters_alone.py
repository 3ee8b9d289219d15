"""Loops of other emitters alone, one old radiator or one towel rail: sized, rated, ordered, reported."""

import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import heatloop as hl
from heatloop.handover.quotation import quotation_from
from heatloop.hydraulics.from_survey import fluid_from
from heatloop.physics.emitters import emitter_constant_w_kn
from heatloop.workflows.commission import commission
from heatloop.workflows.order import parts_list
from tests.helpers.emitters_alone import SURVEY, written

EMITTERS = {"Radiator": (620.0, 1.32, 20.0), "Rail": (410.0, 1.25, 22.0)}


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    return written(tmp_path_factory.mktemp("alone"))


@pytest.fixture(scope="module")
def design(file):
    return hl.size(file)


def test_each_is_sized_to_its_drop_and_balances(design):
    assert design.loops["temperature_drop_k"].to_numpy() == pytest.approx([8.0, 8.0], abs=1e-7)
    assert list(design.loops["arrangement"]) == ["no skirting", "no skirting"]
    assert list(design.loops["heated_length_m"]) == [0.0, 0.0]
    for name in ("mass", "head", "energy", "inlet"):
        assert design.summary[f"residual_{name}"] <= 1e-9
    rooms = design.rooms.set_index("room")
    assert rooms["heat_to_rooms_w"].to_dict() == pytest.approx(
        dict(zip(("Office", "Bath"), design.loops["heat_to_rooms_w"], strict=True)), rel=1e-12
    )
    assert design.summary["checks_failed"] == 0


def test_heat_is_the_characteristic_integrated_along_the_cooling_water(design):
    """A second way: scipy on dT = -K (T - room)^n / (m cp) with the heat capacity changing along it."""
    water = fluid_from(design.survey)
    for row in design.elements[design.elements["kind"] == "emitter"].to_dict("records"):
        output_w, exponent, room_c = EMITTERS[row["loop"]]
        k = emitter_constant_w_kn(output_w, exponent)

        def cooling(_, t, k=k, n=exponent, room_c=room_c, flow=row["mass_flow_kg_s"]):
            return -k * (t - room_c) ** n / (flow * water.heat_capacity_j_kgk(t))

        solved = solve_ivp(cooling, (0, 1), [row["inlet_temp_c"]], rtol=1e-11, atol=1e-11, method="DOP853")
        # the mean heat capacity stands for one that changes along it: 1e-5 of the drop
        assert row["outlet_temp_c"] == pytest.approx(
            solved.y[0, -1], abs=1e-5 * (row["inlet_temp_c"] - row["outlet_temp_c"])
        )


def test_sized_by_loss_each_gives_its_room_just_what_it_loses(tmp_path):
    by_loss = SURVEY.replace("delta_t_k = 8.0", 'size_by = "loss"\nbuoyancy = true')
    design = hl.size(written(tmp_path, by_loss))
    assert design.rooms["margin_w"].to_numpy() == pytest.approx([0.0, 0.0], abs=1e-4)
    rise = np.array([design.operation.network.rise_m[i] for i in range(len(design.operation.network.locations))])
    assert rise.max() == pytest.approx(3.0)
    assert rise.sum() == pytest.approx(0.0)


def test_rated_with_its_thermostat(design):
    rating = hl.simulate(design)
    rooms = rating.rooms.set_index("room")
    assert rooms["heat_to_rooms_w"]["Office"] == pytest.approx(300.0, rel=1e-6)
    assert rating.summary["residual_energy"] <= 1e-9
    assert rating.summary["rooms_below_temperature"] == int((~rating.rooms["is_warm"]).sum())


def test_lowest_flow_temperature_keeps_both_warm(file):
    found = hl.lowest_flow_temperature(file)
    assert found.design.rooms["margin_w"].min() >= -0.5
    assert 30.0 < found.flow_temp_c < 55.0


def test_only_what_is_not_there_already_is_ordered_and_priced(design, tmp_path):
    handover = parts_list(design)
    parts = handover.parts.set_index("item")
    assert parts["net_quantity"]["towel rail"] == 1
    assert parts["kind"]["towel rail"] == "emitter"
    assert parts["note"]["towel rail"] == "in Bath"
    assert "old radiator" not in parts.index
    assert parts["net_quantity"]["lockshield 15"] == 2
    assert not set(handover.parts["kind"]) & {"profile", "joint", "end"}
    stays = handover.parts_notes.set_index("topic")["note"]["emitters"]
    assert stays == "old radiator in Office: existing, not included in the order or the price"
    prices = tmp_path / "prices.csv"
    prices.write_text("# currency: EUR\nitem,price,per,discount_percent,labour_min\ntowel rail,200.00,piece,0,45\n")
    line = quotation_from(handover, prices).table.set_index("item").loc["towel rail"]
    assert (line["order_cost"], line["labour_min"]) == (200.0, 45.0)


def test_they_are_filled_and_vented_at_themselves(design):
    steps = commission(design).frames["fill_and_vent"]
    told = steps[["stage", "action"]].to_records(index=False).tolist()
    filled = [text for stage, text in told if stage == "fill" and text.startswith('Open loop "Rail" alone')]
    assert len(filled) == 1
    assert "Then vent at towel rail, Bath" in filled[0]
    assert ("vent", 'Vent at old radiator, Office (loop "Radiator") until only water comes out.') in told


def test_rating_band_moves_other_emitters_too(design):
    band = design.output_range[design.output_range["room"] == "all rooms"].set_index("assumption_varied")[
        "change_percent"
    ]
    assert -2.0 < band["rating at the low end of its tolerance"] < -1.0
    assert 1.0 < band["rating at the high end of its tolerance"] < 2.0


def test_the_summary_says_where_the_heat_goes_in_watts_that_add_up(design):
    words = (
        r"source \(source output 8.0 kW\) with all thermostatic valves open: (\d+) W, "
        r"of which (\d+) W to the rooms and (\d+) W lost from pipes\."
    )
    text = " ".join(str(design.summary_block()).split())
    given, used, lost = (int(figure) for figure in re.search(words, text).groups())
    assert given == used + lost == round(design.summary["source_heat_w"])


def test_where_the_heat_goes_adds_up(design):
    heat = design.source_heat_balance.set_index("destination")["heat_w"]
    assert heat.iloc[:-1].sum() == pytest.approx(design.summary["source_heat_w"], rel=1e-12)
    assert heat["other emitters to their rooms"] == pytest.approx(design.rooms["heat_to_rooms_w"].sum(), rel=1e-12)
    assert "skirting to its rooms" not in heat.index


@pytest.mark.parametrize(
    ("change", "place", "found", "required"),
    [
        (('name = "Rail"', 'name = "Rail"\nprofile = "duo 130"'), "route", "nothing", "the walls it follows"),
        (('name = "Rail"', 'name = "Rail"\ncover = "grille"'), "cover", '"grille" without a route', "a route"),
        (('emitter = "towel rail"', 'emitter = "towel rial"'), "emitter 1, emitter", '"towel rial"', "towel rail"),
        (('emitters = [{ emitter = "towel rail", room = "Bath" }]', ""), "profile", "nothing", "the name of a profile"),
    ],
    ids=["profile without a route", "cover without a route", "misspelt", "neither skirting nor emitters"],
)
def test_what_does_not_go_together_is_told(tmp_path, change, place, found, required):
    with pytest.raises(hl.InputError) as caught:
        hl.read_survey(written(tmp_path, SURVEY.replace(*change)))
    lines = [str(fault) for fault in caught.value.issues]
    assert any(f'loop "Rail", {place}: found {found}' in line and required in line for line in lines), lines
