"""Which valve balances a loop, and what it takes: by hand, and against a solve with the valves so set."""

from __future__ import annotations

import dataclasses
from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.hydraulics.analysis.water_content import contents
from heatloop.hydraulics.model import PathElement
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.sizing.balancing import STARTING_SHARE, balance_system, balancing_places
from heatloop.hydraulics.sizing.flow_iteration import LoopDuty
from heatloop.hydraulics.sizing.flows import size_loops
from heatloop.hydraulics.sizing.loop_alone import throttled_kv
from heatloop.hydraulics.sizing.trial_solution import loops_network
from heatloop.hydraulics.sizing.valve_settings import nearest_settings, valve_locations
from heatloop.physics.water import plain_water
from heatloop.survey.catalogue import Catalogue, Valve
from heatloop.survey.water_system import Bypass, Trunk
from tests.helpers.dwelling import PIPES, loop_path
from tests.helpers.random_systems import every_table, random_survey, worst_residual

PATH = loop_path("a", None, 1.0)
ARM = PATH.arms[0]


def valve(name: str, direction: str, arm: int = 0) -> PathElement:
    return replace(PATH.tail_return[0], label=name, valve=name, direction=direction, arm=arm)  # type: ignore[arg-type]


def balanced_by(
    flow: tuple[str, ...], back: tuple[str, ...], arms: tuple[tuple[str, str], ...], presettable: tuple[str, ...] = ()
) -> list[str | None]:
    tails = [[e for e in tail if e.kind == "tail"] for tail in (PATH.tail_flow, PATH.tail_return)]
    made = tuple(
        replace(
            ARM,
            flow_valve=(valve(before, "flow", number),) if before else (),
            return_valve=(valve(after, "return", number),) if after else (),
        )
        for number, (before, after) in enumerate(arms, start=1)
    )
    path = replace(
        PATH,
        tail_flow=(*tails[0], *(valve(name, "flow") for name in flow)),
        tail_return=(*(valve(name, "return") for name in back), *tails[1]),
        arms=made or (ARM,),
    )
    network = build_network([path])
    return [network.locations[place].element.valve for place in balancing_places(network, 0, presettable)]


@pytest.mark.parametrize(
    ("flow", "back", "arms", "presettable", "by"),
    [
        (("head",), ("lock",), (), (), ["lock"]),
        (("head",), ("lock",), (), ("head",), ["head"]),
        (("head",), ("lock", "second"), (), (), ["second"]),
        (("head",), (), (), (), ["head"]),
        ((), (), (), (), []),
        (("head",), (), (("", "one"), ("", "two")), (), ["one", "two"]),
        (("head",), (), (("before", "one"), ("", "two")), (), ["one", "two"]),
        (("head",), (), (("", "one"), ("", "")), (), ["head"]),
        (("head",), ("lock",), (("", "one"), ("", "two")), (), ["lock"]),
    ],
)
def test_a_loop_is_balanced_in_its_body_then_on_its_return_then_in_its_arms(
    flow: tuple[str, ...],
    back: tuple[str, ...],
    arms: tuple[tuple[str, str], ...],
    presettable: tuple[str, ...],
    by: list[str],
) -> None:
    assert balanced_by(flow, back, arms, presettable) == by


def test_a_throttled_valve_takes_what_it_took_open_and_the_surplus() -> None:
    """Drop is 1 bar at Kv: 100 kPa (q/Kv)² of water of 1000 kg/m³, heavier or lighter in proportion."""
    flow_kg_s, density, open_kv, surplus_pa = 0.02, 985.0, 0.8, 3000.0
    kv = throttled_kv(open_kv, flow_kg_s, surplus_pa, density)
    volume_m3_h = flow_kg_s / density * 3600.0

    def drop_pa(at_kv: float) -> float:
        return 1e5 * (volume_m3_h / at_kv) ** 2 * density / 1000.0

    assert drop_pa(kv) == pytest.approx(drop_pa(open_kv) + surplus_pa, rel=1e-12)
    assert throttled_kv(open_kv, flow_kg_s, 0.0, density) == pytest.approx(open_kv)


def test_settings_are_the_nearest_in_ratio_and_open_where_nothing_is_required() -> None:
    network = build_network([PATH])
    places = valve_locations(network)
    assert list(places.values()) == ["valve", "valve"]
    first, second = places
    stock = Catalogue((), (), (), (), (Valve("valve", (0.1, 0.2, 0.4, 0.8)),))
    # between 0.2 and 0.4 the middle in ratio is 0.2 times the root of two
    for required, setting in ((0.2 * np.sqrt(2.0) * 0.999, 2), (0.2 * np.sqrt(2.0) * 1.001, 3), (0.05, 1), (2.0, 4)):
        found = nearest_settings(network, {first: float(required)}, stock)
        assert (found[first].setting, found[first].place) == (setting, first)
        assert found[first].kv_m3_h == (0.1, 0.2, 0.4, 0.8)[setting - 1]
        assert (found[second].setting, found[second].kv_m3_h) == (4, 0.8)


@pytest.mark.parametrize("seed", [49, 189])
def test_water_that_rises_by_itself_still_gets_a_head_to_start(seed):
    """At no head, water that stands still is a solution too: nothing would make it warm."""
    design = hl.size(random_survey(seed))
    system = design.system
    sized = np.array([one.flow_kg_s for one in system.sizing.loops])
    assert system.state.loop_flow_kg_s == pytest.approx(sized, rel=1e-6)
    heads_pa = system.balance.heads_pa[system.state.network.loop_circuit]
    assert np.all(heads_pa >= STARTING_SHARE * np.array([one.alone.head_pa for one in system.sizing.loops]))
    assert worst_residual(design) <= 1e-9
    assert every_table(design)["rooms"]["heat_to_rooms_w"].gt(0.0).all()


@pytest.mark.parametrize("bypasses", [1, 2])
def test_loops_have_their_flows_beside_bypasses(alder_lodge: hl.Design, bypasses: int) -> None:
    survey = alder_lodge.survey
    project = dataclasses.replace(survey.project, tees=True)
    kvs = (0.3, 0.15)[:bypasses]
    found = hl.size(
        dataclasses.replace(
            survey,
            project=project,
            bypasses=tuple(Bypass(f"b{i}", kv, "ground floor") for i, kv in enumerate(kvs)),
        )
    )
    sized = [loop.flow_kg_s for loop in found.system.sizing.loops]
    assert found.operation.loop_flow_kg_s == pytest.approx(sized, rel=1e-6)
    assert (found.operation.bypass_kg_s > 1e-3).all()
    assert found.system.balance.bypass_kg_s == pytest.approx(found.operation.bypass_kg_s, rel=2e-4)


def test_water_stands_in_the_parts_that_the_survey_names(mill_annexe: hl.Design) -> None:
    rows = contents(mill_annexe.survey, mill_annexe.layout, mill_annexe.operation.network)
    assert [(row.part, row.loop, row.item) for row in rows] == [
        ("profile channels", "Annexe", "three-channel 175"),
        ("tails", "Annexe", "copper 15"),
        ("crossings", "Annexe", "copper 15"),
        ("source", "", "boiler"),
    ]
    tails = rows[1]
    assert tails.channel_length_m == pytest.approx(6.5)
    assert tails.water_content_l == pytest.approx(6.5 * 0.145267, rel=1e-5)


def test_a_bypass_carries_water_as_dense_as_where_it_is() -> None:
    """At the end of a long bare trunk the water is cooler than at the source; the definition of Kv by hand."""
    trunks = (Trunk("long", "trunk 22", 60.0),)
    bypass = Bypass("open", 0.2, "long")
    path = loop_path("loop", "long", 1.0)
    network = build_network([path], PipeworkInput(trunks, PIPES, [bypass], lose_to_c=-5.0))
    water, supply_c = plain_water(), np.array([70.0])
    (sized,) = size_loops(loops_network([path]), [LoopDuty(8.0)], np.array([50.0]), water).loops
    loop = replace(sized, alone=replace(sized.alone, supply_c=70.0))  # not mixed to less: it draws all its flow
    found = balance_system(network, (loop,), supply_c, water)
    streams = np.array([loop.flow_kg_s, *found.bypass_kg_s])
    trunk_w_k = network.shared_pipework.links[0].loss_w_k
    at_end_c = -5.0 + 75.0 * np.exp(-trunk_w_k / (streams.sum() * 4187.0))
    assert 40.0 < at_end_c < 66.0
    density = float(water.density_kg_m3(at_end_c))
    flow_m3_h = 0.2 * np.sqrt(loop.alone.head_pa / 1e5 * 1000.0 / density)
    assert found.bypass_kg_s == pytest.approx([flow_m3_h * density / 3600.0], rel=2e-5)
