"""Other emitters in series with skirting: heat, pressure drop, water content and rating, and wrong inputs."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import heatloop as hl
from heatloop.hydraulics.analysis.water_content import content_l, contents
from heatloop.hydraulics.from_survey import fluid_from
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.operating_state import state_from_solution
from heatloop.hydraulics.solver.problem import OperatingProblem
from heatloop.physics.emitters import emitter_constant_w_kn, one_way_emission_w, one_way_outlet_excess_k
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import LoopEmitter
from heatloop.workflows.size import size_valid

RADIATOR = Emitter("radiator", 900.0, 1.3, zeta=3.0, water_l=5.5, max_pressure_kpa=600.0)
RAIL = Emitter("rail", 400.0, 1.22, kv_m3_h=0.9, water_l=3.0)


def with_emitters(survey, name, *emitters, **project):
    """The survey with emitters on one of its loops."""
    loops = tuple(replace(loop, emitters=emitters) if loop.name == name else loop for loop in survey.loops)
    catalogue = replace(survey.catalogue, emitters=(RADIATOR, RAIL))
    return replace(survey, loops=loops, catalogue=catalogue, project=replace(survey.project, **project))


@pytest.fixture(scope="module")
def lodge(alder_draft):
    return alder_draft.survey


@pytest.fixture(scope="module")
def plain(alder_draft):
    return alder_draft


@pytest.fixture(scope="module")
def dressed(lodge):
    return hl.size(
        with_emitters(
            lodge,
            "Nursery and bathroom",
            LoopEmitter("rail", "Bathroom", "return"),
            LoopEmitter("radiator", "Landing", "flow"),
        )
    )


def row(design, kind="emitter"):
    return design.elements[design.elements["kind"] == kind]


# --- the closed form -----------------------------------------------------------------------------------


@pytest.mark.parametrize("capacity_w_k", [3.0, 30.0, 3000.0])
@pytest.mark.parametrize("exponent", [1.0, 1.3])
@pytest.mark.parametrize("inlet_k", [40.0, -15.0])
def test_emission_by_quadrature_is_what_the_water_gives(capacity_w_k, exponent, inlet_k):
    out = one_way_outlet_excess_k(inlet_k, 1.1, exponent, 4.0, capacity_w_k)
    emitted = one_way_emission_w(inlet_k, 1.1, exponent, 4.0, capacity_w_k)
    assert emitted == pytest.approx(capacity_w_k * (inlet_k - out), rel=1e-12)


def test_the_rating_of_an_emitter_is_reproduced():
    k = emitter_constant_w_kn(900.0, 1.3)
    assert 90.0 * (55.0 - one_way_outlet_excess_k(55.0, k, 1.3, 1.0, 90.0)) == pytest.approx(900.0, rel=1e-12)


def test_an_emitter_against_an_adaptive_integrator(dressed):
    """Its outlet and heat with heat capacity changing along it, integrated by scipy."""
    water = fluid_from(dressed.survey)
    for found, emitter, room_c in zip(row(dressed).to_dict("records"), (RADIATOR, RAIL), (18.0, 22.0), strict=True):
        k = emitter_constant_w_kn(emitter.output_w, emitter.exponent)

        def cooling(_, t, k=k, n=emitter.exponent, room_c=room_c, flow=found["mass_flow_kg_s"]):
            return -k * np.abs(t - room_c) ** n / (flow * water.heat_capacity_j_kgk(t))

        solved = solve_ivp(cooling, (0, 1), [found["inlet_temp_c"]], rtol=1e-11, atol=1e-11, method="DOP853")
        assert found["label"] == emitter.name
        # the mean heat capacity stands for one that changes along it: 1e-5 of the drop
        assert found["outlet_temp_c"] == pytest.approx(solved.y[0, -1], abs=1e-5)


# --- in a design ---------------------------------------------------------------------------------------


def test_energy_balances_with_emitters(dressed):
    assert dressed.summary["residual_energy"] <= 1e-9
    assert dressed.summary["residual_inlet"] <= 1e-9
    loop = dressed.loops.set_index("loop").loc["Nursery and bathroom"]
    assert loop["temperature_drop_k"] == pytest.approx(dressed.survey.project.delta_t_k, abs=1e-7)
    place = list(dressed.loops["loop"]).index("Nursery and bathroom")
    water = fluid_from(dressed.survey)
    flow = dressed.operation.loop_flow_kg_s[place]
    given = flow * (water.enthalpy_j_kg(loop["flow_temp_c"]) - water.enthalpy_j_kg(loop["return_temp_c"]))
    assert given == pytest.approx(loop["heat_to_rooms_w"] + loop["pipe_loss_w"], rel=1e-9)
    assert dressed.summary["source_heat_w"] == pytest.approx(
        dressed.loops[["heat_to_rooms_w", "pipe_loss_w", "downward_loss_w"]].to_numpy().sum()
        + dressed.summary["trunk_loss_w"],
        rel=1e-9,
    )


def test_the_heat_of_an_emitter_goes_to_its_room(dressed):
    rooms = dressed.rooms.set_index("room")
    radiator, rail = row(dressed)["heat_w"]
    skirting = (
        dressed.elements[dressed.elements["kind"].isin(["piece", "floor section"])].groupby("room")["heat_w"].sum()
    )
    assert rooms["heat_to_rooms_w"]["Landing"] == pytest.approx(skirting["Landing"] + radiator, rel=1e-9)
    assert rooms["heat_to_rooms_w"]["Bathroom"] == pytest.approx(skirting["Bathroom"] + rail, rel=1e-9)
    assert dressed.loops.set_index("loop")["rooms"]["Nursery and bathroom"] == "Landing, Nursery, Bathroom"


def test_emitters_stand_in_water_order(dressed):
    elements = dressed.elements[dressed.elements["loop"] == "Nursery and bathroom"]
    kinds = list(elements["kind"])
    assert kinds[:3] == ["tail", "valve", "emitter"]
    assert kinds[-3:] == ["emitter", "valve", "tail"]
    temps = elements[["inlet_temp_c", "outlet_temp_c"]].to_numpy()
    assert np.allclose(temps[1:, 0], temps[:-1, 1], atol=1e-10)
    assert (np.diff(elements["inlet_head_kpa"]) <= 0).all()


def test_the_pressure_drop_of_an_emitter_is_zeta_or_kv(dressed):
    water = fluid_from(dressed.survey)
    radiator, rail = row(dressed).to_dict("records")
    bore_m2 = np.pi / 4 * 0.0136**2
    density = water.density_kg_m3((radiator["inlet_temp_c"] + radiator["outlet_temp_c"]) / 2)
    speed = radiator["mass_flow_kg_s"] / density / bore_m2
    assert radiator["pressure_drop_pa"] == pytest.approx(3.0 * density * speed**2 / 2, rel=1e-6)
    density = water.density_kg_m3((rail["inlet_temp_c"] + rail["outlet_temp_c"]) / 2)
    volume_m3_h = rail["mass_flow_kg_s"] / density * 3600
    assert rail["pressure_drop_pa"] == pytest.approx(1e5 * (volume_m3_h / 0.9) ** 2 * density / 1000, rel=1e-6)


def test_the_water_of_emitters_counts(plain, dressed):
    grown = dressed.summary["water_content_l"] - plain.summary["water_content_l"]
    assert grown == pytest.approx(8.5, abs=1e-9)
    items = contents(dressed.survey, dressed.layout, dressed.operation.network)
    assert {c.item: c.water_content_l for c in items if c.part == "emitters"} == {"radiator": 5.5, "rail": 3.0}
    assert content_l(items) == pytest.approx(dressed.summary["water_content_l"], rel=1e-9)


def test_two_emitters_on_one_side_follow_each_other(lodge):
    both = (LoopEmitter("radiator", "Hall", "flow"), LoopEmitter("rail", "Study", "flow"))
    one, other = (hl.size(with_emitters(lodge, "Hall and study", *order)) for order in (both, both[::-1]))
    assert list(row(one)["label"]) == ["radiator", "rail"]
    first, second = row(one).to_dict("records")
    assert second["inlet_temp_c"] == pytest.approx(first["outlet_temp_c"], abs=1e-10)
    assert row(other)["heat_w"].iloc[0] > row(one)["heat_w"].iloc[1]  # the rail is hotter when it comes first
    assert max(d.summary["residual_energy"] for d in (one, other)) <= 1e-9


def test_arms_share_their_loop_as_sized_with_an_emitter_before_them(lodge):
    design = hl.size(with_emitters(lodge, "Living room", LoopEmitter("radiator", "Hall", "flow")))
    home = design.temperature_profile[
        (design.temperature_profile["loop"] == "Living room") & (design.temperature_profile["direction"] == "return")
    ]
    last = home.groupby("arm")["water_temp_c"].last()
    assert last[1] == pytest.approx(last[2], abs=1e-6)
    assert design.summary["residual_energy"] <= 1e-9


def test_sizing_by_loss_counts_what_emitters_give(lodge):
    survey = with_emitters(
        lodge, "Nursery and bathroom", LoopEmitter("rail", "Bathroom", "return"), size_by="loss", flow_temp_c=54.0
    )
    rooms = hl.size(survey).rooms.set_index("room")
    assert rooms["margin_w"][["Nursery", "Bathroom"]].min() == pytest.approx(0.0, abs=1e-3)


def test_a_room_heated_by_an_emitter_alone_is_warm_when_sizing_by_loss(lodge):
    """The landing has no skirting: its radiator hangs on the loop of the rooms beside it."""
    rooms = tuple(
        replace(room, heat_loss_w=300.0, heat_loss_source="a test") if room.name == "Landing" else room
        for room in lodge.rooms
    )
    loops = tuple(loop for loop in lodge.loops if loop.name == "Nursery and bathroom")
    survey = replace(lodge, rooms=rooms, loops=loops)
    survey = with_emitters(survey, loops[0].name, LoopEmitter("radiator", "Landing", "return"), size_by="loss")
    design = hl.size(survey)
    margins = design.rooms.set_index("room")["margin_w"][["Nursery", "Bathroom", "Landing"]]
    assert margins.min() == pytest.approx(0.0, abs=1e-3)
    assert "Landing" in set(design.checks[design.checks["check"] == "heat to the room"]["location"])


def test_a_shut_loop_leaves_its_emitters_cold(dressed):
    state = dressed.operation
    loops = len(state.loop_flow_kg_s)
    held = np.full((loops, 1), np.inf)
    shut = list(dressed.loops["loop"]).index("Nursery and bathroom")
    held[shut] = 0.0
    question = OperatingProblem(state.supply_c[:, None], state.circuit_c[:, None], (ConstantHead(state.head_pa),), held)
    water = fluid_from(dressed.survey)
    found = state_from_solution(state.network, question, solve_heat_and_flow(state.network, question, water), water)
    assert found.emitter_w == pytest.approx([0.0, 0.0], abs=0.0)
    at = state.network.emitters.place
    assert list(found.temp_out_c[at]) == [18.0, 22.0]
    assert found.residual_energy <= 1e-9


def test_a_vulnerable_room_is_warned_of_its_radiator(lodge):
    survey = with_emitters(lodge, "Kitchen", LoopEmitter("radiator", "Box room", "flow"))
    rooms = tuple(replace(room, vulnerable=room.name == "Box room") for room in survey.rooms)
    checks = hl.size(replace(survey, rooms=rooms)).checks
    touch = checks[checks["check"] == "touch temperature, vulnerable room"].set_index("location")["calculated"]
    assert touch["Box room"] == pytest.approx(49.9, abs=0.2)  # the water, before skirting


@pytest.mark.parametrize(
    "item", [LoopEmitter("stove", "Hall"), LoopEmitter("rail", "Cellar")], ids=["no such emitter", "no such room"]
)
def test_names_that_are_not_there_are_a_fault(lodge, item):
    with pytest.raises(hl.InputError, match=r'loop "Kitchen", emitter 1: found no (emitter|room) is called') as caught:
        size_valid(with_emitters(lodge, "Kitchen", item))
    assert "required: an emitter of the catalogue, a room of the survey" in str(caught.value)
