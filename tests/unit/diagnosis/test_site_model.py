"""The diagnosing model against the real circuit, its slopes against differences, its statistics against scipy."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest

import heatloop as hl
from heatloop.diagnosis import fault_types
from heatloop.diagnosis.fault_types import LocatedFault
from heatloop.diagnosis.inference.hypotheses import single_faults
from heatloop.diagnosis.readings import Reading, Readings
from heatloop.diagnosis.simulated_site import SiteFault
from heatloop.diagnosis.site_model.as_commissioned import SiteCase, commissioned_site, inlet_locations, solve_cases
from heatloop.diagnosis.site_model.flow_response import flow_responses
from heatloop.diagnosis.site_model.prediction import fault_free, predict, site_model
from heatloop.diagnosis.site_model.reading_conditions import surfaces_read
from heatloop.hydraulics.heat.channel_iteration import ChannelIteration
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import LoopEmitter
from tests.helpers.diagnosis.exact_site import day, exact_site
from tests.helpers.diagnosis.sites import BESIDE, quick_design


def points_of(model, today, kind, size):
    """The points of a fault of the first loop, or of the site, moved to exactly this size."""
    one = next(
        h for h in single_faults(model, today) if h.faults[0] in (LocatedFault(kind, 0), LocatedFault(kind, circuit=0))
    )
    if not one.sizes:
        return one.points
    count = np.unique(one.sizes[0]).size
    sizes, points = one.sizes[0][:count], one.points.take(slice(0, count))
    order = np.argsort(sizes)

    def at(values):
        return np.array([[np.interp(size, sizes[order], column[order]) for column in values.T]])

    arm_log = at(np.exp(points.arm_log))
    return replace(
        fault_free(model),
        arm_log=np.log(arm_log),
        output_log=np.log(at(np.exp(points.output_log))),
        head_log=np.log(at(np.exp(points.head_log))),
        supply_k=at(points.supply_k),
    )


@pytest.mark.parametrize(
    ("kind", "size"),
    [
        (fault_types.NO_FAULT, None),
        (fault_types.LITTLE_WATER, 0.3),
        (fault_types.LITTLE_WATER, 0.6),
        (fault_types.LITTLE_HEAT, 0.5),
        (fault_types.SWAPPED, None),
        (fault_types.LITTLE_HEAD, 0.35),
        (fault_types.TOO_COOL, -8.0),
    ],
)
def test_the_model_gives_what_the_real_circuit_gives(model, kind, size):
    """Well within a surface probe's 0.5 K and a meter's 5 %; furniture covers part of an arm, not all of it alike."""
    loop = model.network.loops[0].loop.name
    of_site = kind in (fault_types.LITTLE_HEAD, fault_types.TOO_COOL)
    faults = [] if kind == fault_types.NO_FAULT else [SiteFault(kind, "" if of_site else loop, size or 1.0)]
    readings, truth = exact_site(model, *faults)
    today = day(model, readings)
    if kind == fault_types.LITTLE_WATER:
        density = float(model.site.fluid.density_kg_m3(model.site.supply_c(model.site.source_c))[0])
        size = truth.flow_l_h[0] * density / 3.6e6 / model.responses.loop_kg_s[0]
    points = fault_free(model) if kind == fault_types.NO_FAULT else points_of(model, today, kind, size)
    miss = today.value - predict(model, today, points).mean[0, today.rows]
    rows = model.rows
    surfaces, flows = today.rows < rows.flow(0), (today.rows >= rows.flow(0)) & (today.rows <= rows.head)
    assert np.sqrt((miss[surfaces] ** 2).mean()) < 0.2
    assert np.abs(miss[surfaces]).max() < 0.5
    assert np.abs(miss[flows]).max() < 0.08
    gains = (today.rows >= rows.first_room) & (np.abs(miss) > 0.2)
    assert not gains.any()


def test_tables_of_arms_agree_with_the_channel_equations(model):
    """At flows, outputs and flow temperatures between the points of the tables, expected rooms."""
    site, worst = model.site, []
    for share, output, kelvin in (
        (0.1, 1.0, 0.0),
        (0.3, 0.5, -8.0),
        (0.6, 1.0, -8.0),
        (1.0, 0.5, 0.0),
        (2.0, 1.0, 0.0),
    ):
        supply = site.supply_c(site.source_c + kelvin)
        for group in site.network.groups:
            runs = replace(group.runs, emission_w_mkn=group.runs.emission_w_mkn * output)
            steps = ChannelIteration(replace(group, runs=runs), site.fluid, 1)
            flow = np.stack([model.responses.channel_kg_s[a] * share for a in group.arms], axis=1)[:, :, None]
            inlet = supply[[site.network.arm_loop[a] for a in group.arms]][:, None]
            while steps.step(flow, inlet) > 1e-8:
                pass
            for k, a in enumerate(group.arms):
                tabulated_c = model.tables.arms[a].at(np.log([share]), np.log([output]), inlet[k])[0][0]
                worst.append(tabulated_c - steps.return_c[k, 0])
    assert np.abs(worst).max() < 0.25
    assert np.sqrt(np.mean(np.square(worst))) < 0.12


def test_tables_are_exact_at_the_expected_point(model):
    base = solve_cases(model.site, [SiteCase()]).answer
    index, temp_c = model.network.temperatures, base.temp_c[:, 0]
    for a, table in enumerate(model.tables.arms):
        head_c = temp_c[index.head][model.network.arm_loop[a]]
        tabulated_c = table.at(np.zeros(1), np.zeros(1), np.array([head_c]))[0][0]
        assert tabulated_c == pytest.approx(temp_c[index.arm_return][a], abs=0.03)
        assert table.room_parts(np.zeros(1), np.zeros(1)).sum() == pytest.approx(1.0, abs=0.1)


def test_slopes_are_those_of_differences(model):
    """Against the model's own values a little to both sides; that rooms share an arm otherwise then is left out."""
    readings, _ = exact_site(model)
    today, step = day(model, readings), 1e-3
    here = fault_free(model)
    found = predict(model, today, here)
    for name, slopes, width in (
        ("arm_log", found.by_flow, len(model.network.arms)),
        ("output_log", found.by_output, len(model.network.arms)),
        ("supply_k", found.by_supply, len(model.network.loops)),
    ):
        for k in range(width):
            moved = np.zeros((1, width))
            moved[0, k] = step
            up = predict(model, today, replace(here, **{name: moved})).mean
            down = predict(model, today, replace(here, **{name: -moved})).mean
            required = (up - down)[0] / (2.0 * step)
            scale = max(float(np.abs(required).max()), 1e-6)
            assert slopes[0, :, k] == pytest.approx(required, abs=0.05 * scale), (name, k)


def test_flows_of_two_faults_are_nearly_those_laid_one_on_the_other(model):
    system, site = model.network, model.site
    (place,) = inlet_locations(system, 0)
    first, second = SiteCase(zeta={place: 3000.0}), SiteCase(head={0: 0.5})
    both = SiteCase(zeta={place: 3000.0}, head={0: 0.5})
    flows = np.log(solve_cases(site, [SiteCase(), first, second, both]).arm_kg_s)
    laid = flows[:, 1] + flows[:, 2] - flows[:, 0]
    assert laid == pytest.approx(flows[:, 3], abs=0.12)
    assert np.abs(laid - flows[:, 3]).mean() < 0.05


def test_added_resistance_is_that_of_a_zeta_in_the_bore(model):
    """A case's zeta is laid into a Kv; the same system with the zeta itself must give the same flows: at the cells of
    the site model exactly, and nearly so as the solver of designs divides it."""
    site, (place,) = model.site, inlet_locations(model.network, 1)
    zeta = 500.0
    flows = solve_cases(site, [SiteCase(zeta={place: zeta})])
    elements = site.network.elements
    more = np.where(np.arange(elements.zeta.size) == place, zeta, 0.0)
    altered = replace(site.network, elements=replace(elements, zeta=elements.zeta + more))
    same = solve_cases(replace(site, network=altered), [SiteCase()])
    assert flows.answer.flow_kg_s == pytest.approx(same.answer.flow_kg_s, rel=1e-9)
    real = solve_state(
        altered, OperatingConditions(site.max_c(site.source_c), site.pumps, source_c=site.source_c), site.fluid
    )
    assert flows.answer.flow_kg_s[site.network.loop_link, 0] == pytest.approx(real.loop_flow_kg_s, rel=2e-4)


def test_every_fault_of_water_has_its_table(model):
    by_kind = {kind: [one for one in model.responses.of if one.fault.kind == kind] for kind in fault_types.KINDS}
    arms = sum(len(path.arms) for path in model.network.loops if len(path.arms) > 1)
    assert len(by_kind[fault_types.LITTLE_WATER]) == len(model.network.loops) + arms
    for one in by_kind[fault_types.LITTLE_WATER]:
        assert np.all(np.diff(one.sizes) > 0)
        assert one.sizes[0] < 0.03
        assert 0.6 < one.sizes[-1] < 0.85
    for one in by_kind[fault_types.MUCH_WATER]:
        assert np.all(np.diff(one.sizes) > 0)
        assert one.sizes[-1] >= 1.2
    assert len(by_kind[fault_types.LITTLE_HEAD]) == len(by_kind[fault_types.TOO_COOL]) == 1


def test_cases_without_an_answer_are_left_out(monkeypatch):
    """With warm water that rises a weak pump may not push every loop the right way: that case alone goes."""
    module = import_module("heatloop.diagnosis.site_model.flow_response")
    site, real = commissioned_site(quick_design(9000, 3), thermostatic_heads_removed=True), solve_cases

    def fussy(site, cases):
        if any(case.head.get(0) == 0.1 for case in cases):
            raise ArithmeticError("flow is reversed")
        return real(site, cases)

    monkeypatch.setattr(module, "solve_cases", fussy)
    (weak,) = [one for one in flow_responses(site).of if one.fault.kind == fault_types.LITTLE_HEAD]
    assert weak.sizes[0] == pytest.approx(0.16)
    assert weak.arm_log.shape[0] == weak.sizes.size == len(fault_types.KINDS[fault_types.LITTLE_HEAD].sizes) - 1


def test_other_emitters_in_a_loop_are_passed_on_the_way():
    """A radiator and a rail in series with the skirting: temperatures as the real circuit gives them."""
    radiator, rail = Emitter("radiator", 900.0, 1.3, zeta=3.0), Emitter("rail", 400.0, 1.22, kv_m3_h=0.9)
    survey = hl.read_survey(BESIDE)
    chosen = (LoopEmitter("rail", "Bathroom", "return"), LoopEmitter("radiator", "Landing", "flow"))
    loops = tuple(replace(x, emitters=chosen) if x.name == "Nursery and bathroom" else x for x in survey.loops)
    catalogue = replace(survey.catalogue, emitters=(radiator, rail))
    model = site_model(
        hl.size(replace(survey, loops=loops, catalogue=catalogue)).system, thermostatic_heads_removed=True
    )
    today = day(model, exact_site(model)[0])
    miss = today.value - predict(model, today, fault_free(model)).mean[0, today.rows]
    assert np.abs(miss[today.rows < model.rows.flow(0)]).max() < 0.3
    balanced = {model.rows.name(int(row), model.network)[1] for row in today.rows if row >= model.rows.first_room}
    assert "Study" in balanced
    assert not balanced & {"Bathroom", "Landing"}
    with pytest.raises(ValueError, match="without other emitters"):
        exact_site(model, SiteFault(fault_types.SWAPPED, "Nursery and bathroom"))


@pytest.mark.parametrize(("channel", "piece"), [(0, "far end"), (9, "far end"), (1, "no such piece")])
def test_a_surface_that_the_design_does_not_have_is_refused(model, channel, piece):
    loop = model.network.loops[0].loop.name
    reading = Reading("surface temperature", loop, 40.0, 0.5, channel=channel, piece=piece)
    with pytest.raises(ValueError, match="required: a place of the design"):
        surfaces_read(model.network, Readings("visit", (reading,)))
