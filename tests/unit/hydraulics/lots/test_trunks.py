"""Trunks of many dwellings side by side: each as if it were by itself."""

import numpy as np
import pytest

from heatloop.hydraulics.from_survey import fluid_from, shared_pipework_from, supply_temp_c
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.trunk_arrays import lot_trunks
from heatloop.hydraulics.network.trunk_loss import solve_trunk_temperatures
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.physics.friction import NO_CURVES
from tests.helpers.lot_systems import lot_survey

SEEDS = (303, 304, 306, 307, 311, 312, 314, 319, 321, 323, 329)


@pytest.fixture(scope="module")
def dwellings():
    made = [LotDwelling.of(lot_survey(seed)) for seed in SEEDS]
    return [dwelling for dwelling in made if dwelling.alone_because() is None]


def test_temperatures_and_draws_are_those_of_each_dwelling_by_itself(dwellings):
    """Mixed circuits within mixed circuits, mixed loops, reverse return, and dwellings without trunks."""
    assert any(len(d.shared_pipework.circuits) > 1 for d in dwellings)
    assert any(not d.shared_pipework.links for d in dwellings)
    rng, fluid = np.random.default_rng(2), fluid_from(lot_survey(0))
    parts = [shared_pipework_from(d.survey, d.paths) for d in dwellings]
    trunks = lot_trunks(parts, NO_CURVES)
    circuit_c = [circuit_temps_c(part, d.survey.project.flow_temp_c) for part, d in zip(parts, dwellings, strict=True)]
    max_c = [np.array([supply_temp_c(d.survey, loop) for loop in d.survey.loops], float) for d in dwellings]
    flow = [rng.uniform(0.005, 0.05, own.size) for own in max_c]
    back = [own - rng.uniform(2.0, 6.0, own.size) for own in max_c]
    state = trunks.solve(*map(np.concatenate, (flow, back, [c[:, 0] for c in circuit_c], max_c)), fluid)
    first_link = first_loop = 0
    for part, own_c, most_c, kg_s, back_c in zip(parts, circuit_c, max_c, flow, back, strict=True):
        links = slice(first_link, first_link + len(part.links))
        loops = slice(first_loop, first_loop + kg_s.size)
        first_link, first_loop = links.stop, loops.stop
        if not part.links:
            np.testing.assert_allclose(state.supply_c[loops], most_c)
            continue
        streams = np.zeros(part.on_link.shape[1])
        streams[: kg_s.size] = kg_s
        returns = np.zeros_like(streams)
        returns[: kg_s.size] = back_c
        alone = solve_trunk_temperatures(part, streams, returns, own_c, state.supply_c[loops], fluid)
        np.testing.assert_allclose(state.inlet_c[links], alone.inlet_c, rtol=1e-11)
        np.testing.assert_allclose(state.outlet_c[links], alone.outlet_c, rtol=1e-11)
        np.testing.assert_allclose(state.flow_kg_s[links], part.on_link @ alone.stream_kg_s, rtol=1e-11)
        joins = [part.join[trunk][0] for trunk in part.stream_trunks]
        np.testing.assert_allclose(state.supply_c[loops], np.minimum(most_c, alone.node_c[joins]), rtol=1e-11)


def test_the_source_circulates_what_its_loops_and_circuits_draw(dwellings):
    fluid = fluid_from(lot_survey(0))
    trunks = lot_trunks([d.shared_pipework for d in dwellings], NO_CURVES)
    shares = trunks.no_shares()
    loop_kg_s = np.full(trunks.loops, 0.02)
    streams = trunks.streams_kg_s(loop_kg_s, shares)
    roots = np.flatnonzero(trunks.parent < 0)
    counts = [len(d.paths) for d in dwellings]
    np.testing.assert_allclose((trunks.of_circuit @ streams)[roots], 0.02 * np.array(counts))
    assert fluid.density_kg_m3(50.0) < 1000.0
