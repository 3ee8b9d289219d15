"""The diagnosing model against the real circuit, its slopes against differences, its statistics against scipy."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

import heatloop as hl
from heatloop.diagnosis import fault_types
from heatloop.diagnosis.fault_types import LocatedFault
from heatloop.diagnosis.inference.hypotheses import single_faults, two_faults
from heatloop.diagnosis.inference.likelihood import LinearisedModel, linearise, solve_least_squares
from heatloop.diagnosis.inference.next_reading import probability_of_correct_ranking
from heatloop.diagnosis.simulate import simulate_readings
from heatloop.diagnosis.simulated_site import Instruments, SiteDeviations, SiteFault
from heatloop.diagnosis.site_model.as_commissioned import SiteCase, commissioned_site, inlet_locations, solve_cases
from heatloop.diagnosis.site_model.flow_response import flow_responses
from heatloop.diagnosis.site_model.prediction import fault_free, predict, site_model
from heatloop.diagnosis.site_model.reading_conditions import reading_conditions
from heatloop.hydraulics.heat.channel_iteration import ChannelIteration
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import LoopEmitter
from tests.helpers.diagnosis.sites import BESIDE, quick_design

EXACT = Instruments(
    surface_k=1e-6, bias_k=0.0, room_k=1e-6, outdoor_k=1e-6, setting_k=1e-6, flow_share=1e-6,
    loop_meters=True, total_meter=True, head_gauge=True,
)  # fmt: skip
TRUE = SiteDeviations(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
ONE_WAY, FROM_MIDDLE = 9007, 9003


@pytest.fixture(scope="module", params=[9000, ONE_WAY, FROM_MIDDLE])
def model(request):
    return site_model(quick_design(request.param, 4), thermostatic_heads_removed=True)


def day(model, readings):
    return reading_conditions(model.site, model.responses.loop_kg_s, float(model.responses.head_pa[0]), readings)


def exact_site(model, *faults):
    """Readings without error of a site that is as designed but for these faults, and the truth behind them."""
    return simulate_readings(model.site.system, faults, np.random.default_rng(1), instruments=EXACT, deviations=TRUE)


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
    gains = (today.rows >= rows.total_flow + 4) & (np.abs(miss) > 0.2)
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
                tabulated_c = model.tables[a].at(np.log([share]), np.log([output]), inlet[k])[0][0]
                worst.append(tabulated_c - steps.return_c[k, 0])
    assert np.abs(worst).max() < 0.25
    assert np.sqrt(np.mean(np.square(worst))) < 0.12


def test_tables_are_exact_at_the_expected_point(model):
    base = solve_cases(model.site, [SiteCase()]).answer
    index, temp_c = model.network.temperatures, base.temp_c[:, 0]
    for a, table in enumerate(model.tables):
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


# --- statistics ----------------------------------------------------------------------------------------


def test_likelihood_and_unknowns_are_those_of_the_normal_distribution(model):
    readings, _ = simulate_readings(model.site.system, [], np.random.default_rng(2))
    today = day(model, readings)
    points = single_faults(model, today)[1].points.take(slice(3, 4))
    straight = linearise(model, today, points, (), today.rows)
    solved = solve_least_squares(straight, today)
    j, prior = straight.slope[0], np.diag(straight.spread[0] ** 2)
    covariance = j @ prior @ j.T + np.diag(today.error**2 + straight.more[0])
    required = multivariate_normal(straight.mean[0], covariance).logpdf(today.value)
    constant = -0.5 * today.rows.size * np.log(2.0 * np.pi)
    assert solved.log_likelihood[0] + constant == pytest.approx(required, rel=1e-9)
    # the unknowns by penalised least squares on the stacked system
    noise = np.sqrt(today.error**2 + straight.more[0])
    stacked = np.vstack([j / noise[:, None], np.diag(1.0 / straight.spread[0])])
    right = np.concatenate([(today.value - straight.mean[0]) / noise, np.zeros(j.shape[1])])
    fitted = np.linalg.lstsq(stacked, right, rcond=None)[0]
    assert solved.unknown[0] == pytest.approx(fitted, abs=1e-6)
    assert isinstance(straight, LinearisedModel)


def test_priors_and_weights_add_up(model):
    readings, _ = exact_site(model)
    singles = single_faults(model, day(model, readings))
    assert sum(one.prior for one in singles) == pytest.approx(0.6 + 0.4 * 0.85)
    for one in singles:
        assert one.weight.sum() == pytest.approx(1.0)
        assert one.points.count == one.weight.size
    pairs = two_faults(singles, singles[1:])
    assert sum(one.prior for one in pairs) < 0.4 * 0.15
    for one in pairs[:20]:
        assert one.weight.sum() == pytest.approx(1.0)
        assert len(one.faults) == 2
    assert len({frozenset(one.faults) for one in pairs}) == len(pairs)


def test_no_two_faults_that_cannot_stand_together(model):
    readings, _ = exact_site(model)
    singles = single_faults(model, day(model, readings))
    for one in two_faults(singles, singles[1:]):
        found = {fault.kind for fault in one.faults}
        same_loop = len({fault.loop for fault in one.faults}) == 1
        assert found != {fault_types.LITTLE_HEAD, fault_types.MUCH_HEAD}
        assert found != {fault_types.TOO_COOL, fault_types.TOO_WARM}
        if same_loop and one.faults[0].loop >= 0 and all(fault.arm < 0 for fault in one.faults):
            assert found != {fault_types.LITTLE_WATER, fault_types.MUCH_WATER}


@pytest.mark.parametrize("apart", [0.5, 1.0, 2.0, 4.0])
def test_how_often_the_right_one_of_two_stands_first(apart):
    """Two alike but for a reading `apart` spreads apart: the right one first with Phi(apart / 2)."""
    probability = probability_of_correct_ranking(
        np.array([0.5, 0.5]), np.array([10.0, 10.0 + 2.0 * apart]), np.array([2.0, 2.0])
    )
    assert probability == pytest.approx(norm.cdf(apart / 2.0), abs=1e-4)


def test_a_reading_that_tells_nothing_leaves_the_chance_as_it_was():
    assert probability_of_correct_ranking(np.array([0.3, 0.7]), np.zeros(2), np.ones(2)) == pytest.approx(0.7, abs=1e-4)


# --- the simulated site --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [fault_types.NO_FAULT, fault_types.SWAPPED, fault_types.LITTLE_WATER])
def test_steady_rooms_lose_what_they_get(model, kind):
    loop = model.network.loops[0].loop.name
    faults = [] if kind == fault_types.NO_FAULT else [SiteFault(kind, loop, 0.0)]
    module = import_module("heatloop.diagnosis.simulated_site")
    system = model.site.system
    site = module.SimulatedSite(
        system, faults, np.random.default_rng(3), SiteDeviations(), system.survey.project.flow_temp_c, 2.0
    )
    answer = site.solve_steady()
    given = site.room_w(answer)
    for room, heat_w in given.items():
        lost = site.loss_w_k[room] * (site.room_c[room] - 2.0)
        assert heat_w + site.gain_w[room] == pytest.approx(lost, abs=0.02 * max(lost, 50.0))
    if kind == fault_types.LITTLE_WATER:
        assert site.loop_kg_s(answer)[0] == 0.0


@pytest.mark.parametrize("seed", [ONE_WAY, FROM_MIDDLE, 9012])
def test_a_swapped_loop_still_gives_the_heat_its_water_loses(seed):
    module = import_module("heatloop.diagnosis.simulated_site")
    design = quick_design(seed, 4)
    water = commissioned_site(design, thermostatic_heads_removed=True).fluid
    for path in design.state.network.loops:
        faults = [SiteFault(fault_types.SWAPPED, path.loop.name)]
        site = module.SimulatedSite(design, faults, np.random.default_rng(1), TRUE, 50.0, 2.0)
        answer = site._solve()
        index = site.network.temperatures
        head, foot = answer.temp_c[index.head, 0], answer.temp_c[index.foot, 0]
        lost = float((site.loop_kg_s(answer) * (water.enthalpy_j_kg(head) - water.enthalpy_j_kg(foot))).sum())
        emitted = sum(float(heat.channels.emitted_w.sum()) for heat in answer.heats)
        assert emitted == pytest.approx(lost, rel=1e-3)


def test_a_fault_that_cannot_be_put_in_is_not_passed_over(model):
    with pytest.raises(ValueError, match="is not in list"):
        exact_site(model, SiteFault(fault_types.LITTLE_WATER, "Ballroom", 0.5))


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
    balanced = {model.rows.name(int(row), model.network)[1] for row in today.rows if row >= model.rows.total_flow + 4}
    assert "Study" in balanced
    assert not balanced & {"Bathroom", "Landing"}
    with pytest.raises(ValueError, match="without other emitters"):
        exact_site(model, SiteFault(fault_types.SWAPPED, "Nursery and bathroom"))
