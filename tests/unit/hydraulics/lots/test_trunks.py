"""Trunks of many dwellings side by side: each as if it were by itself."""

import numpy as np
import pytest

from heatloop.hydraulics.from_survey import fluid_from, shared_pipework_from, supply_temp_c
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.trunk_arrays import lot_trunks
from heatloop.hydraulics.lots.trunks import TrunkPasses
from heatloop.hydraulics.network.trunk_loss import solve_trunk_temperatures
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.physics.friction import NO_CURVES
from tests.helpers.lot_systems import lot_survey

SEEDS = (302, 303, 304, 306, 307, 311, 312, 314, 316, 319, 321, 323, 329)


@pytest.fixture(scope="module")
def dwellings():
    made = [LotDwelling.of(lot_survey(seed)) for seed in SEEDS]
    return [dwelling for dwelling in made if dwelling.alone_because() is None]


def test_temperatures_and_draws_are_those_of_each_dwelling_by_itself(dwellings):
    """Mixed circuits within mixed circuits, mixed loops, reverse return, bypasses, and dwellings without trunks."""
    assert any(len(d.shared_pipework.circuits) > 1 for d in dwellings)
    assert any(not d.shared_pipework.links for d in dwellings)
    assert any(d.shared_pipework.bypasses for d in dwellings)
    rng, fluid = np.random.default_rng(2), fluid_from(lot_survey(0))
    parts = [shared_pipework_from(d.survey, d.paths) for d in dwellings]
    trunks = lot_trunks(parts, NO_CURVES)
    circuit_c = [circuit_temps_c(part, d.survey.project.flow_temp_c) for part, d in zip(parts, dwellings, strict=True)]
    max_c = [np.array([supply_temp_c(d.survey, loop) for loop in d.survey.loops], float) for d in dwellings]
    flow = [rng.uniform(0.005, 0.05, own.size) for own in max_c]
    drop = [rng.uniform(2.0, 6.0, own.size) for own in max_c]
    passes = TrunkPasses(trunks, np.concatenate([c[:, 0] for c in circuit_c]), np.concatenate(max_c), fluid)
    passes.bypass_kg_s = rng.uniform(0.005, 0.02, trunks.bypass_node.size)
    passes.supply_c(2.0 * np.concatenate(flow), np.concatenate(drop))  # from which the next solution starts
    state = passes.solve(np.concatenate(flow), np.concatenate(drop))
    first_link = first_loop = first_bypass = 0
    for part, own_c, most_c, kg_s, drop_k in zip(parts, circuit_c, max_c, flow, drop, strict=True):
        links = slice(first_link, first_link + len(part.links))
        loops = slice(first_loop, first_loop + kg_s.size)
        bypasses = slice(first_bypass, first_bypass + len(part.bypasses))
        first_link, first_loop, first_bypass = links.stop, loops.stop, bypasses.stop
        if not part.links:
            np.testing.assert_allclose(state.supply_c[loops], most_c)
            continue
        streams = np.zeros(part.on_link.shape[1])
        streams[part.loop_streams], streams[part.bypass_streams] = kg_s, passes.bypass_kg_s[bypasses]
        returns = np.zeros_like(streams)
        returns[: kg_s.size] = state.supply_c[loops] - drop_k
        alone = solve_trunk_temperatures(part, streams, returns, own_c, state.supply_c[loops], fluid)
        np.testing.assert_allclose(state.inlet_c[links], alone.inlet_c, rtol=1e-11)
        np.testing.assert_allclose(state.outlet_c[links], alone.outlet_c, rtol=1e-11)
        np.testing.assert_allclose(state.flow_kg_s[links], part.on_link @ alone.stream_kg_s, rtol=1e-11)
        joins = np.array([part.join[trunk][0] for trunk in part.stream_trunks])
        supply_c = np.minimum(most_c, alone.node_c[joins[part.loop_streams]])
        np.testing.assert_allclose(state.supply_c[loops], supply_c, rtol=1e-11)
        np.testing.assert_allclose(state.bypass_c[bypasses], alone.node_c[joins[part.bypass_streams]], rtol=1e-11)


def test_without_mixing_only_the_way_to_the_loops_is_needed():
    unmixed = [LotDwelling.of(lot_survey(seed)) for seed in (303, 310, 318, 326)]
    parts = [d.shared_pipework for d in unmixed]
    trunks = lot_trunks(parts, NO_CURVES)
    assert not trunks.mixed
    circuit_c = np.concatenate(
        [circuit_temps_c(part, d.survey.project.flow_temp_c)[:, 0] for part, d in zip(parts, unmixed, strict=True)]
    )
    max_c, flow = circuit_c[trunks.loop_circuit], np.full(trunks.loops, 0.02)
    drop_k, fluid = np.full(trunks.loops, 4.0), fluid_from(lot_survey(303))
    ahead_c = TrunkPasses(trunks, circuit_c, max_c, fluid).supply_c(flow, drop_k)
    state = TrunkPasses(trunks, circuit_c, max_c, fluid).solve(flow, drop_k)
    np.testing.assert_allclose(ahead_c, state.supply_c, rtol=1e-11)
    assert (ahead_c < max_c).any()
    counts = [len(d.paths) for d in unmixed]
    np.testing.assert_allclose(state.circuit_flow_kg_s[trunks.parent < 0], 0.02 * np.array(counts))


def test_circuits_are_numbered_through_all_dwellings():
    """A circuit draws from that of its own dwelling, also where it is mixed within a mixed circuit."""
    dwellings = [LotDwelling.of(lot_survey(seed)) for seed in (329, 303, 329)]
    parts = [dwelling.shared_pipework for dwelling in dwellings]
    trunks = lot_trunks(parts, NO_CURVES)
    names = [f"{k} {circuit.name}" for k, part in enumerate(parts) for circuit in part.circuits]
    drawn_from = ["" if place < 0 else names[place] for place in trunks.parent]
    assert drawn_from == [
        "" if circuit.parent < 0 else f"{k} {part.circuits[circuit.parent].name}"
        for k, part in enumerate(parts)
        for circuit in part.circuits
    ]
    assert drawn_from.count("2 Trunk 1") == 1
