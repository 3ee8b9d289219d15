"""Heat of rooms by unit, and shortfalls, as arrays: the same as room by room."""

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.from_survey import fluid_from, supply_temp_c
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.sizing.searched_flows import slowest_kg_s
from heatloop.hydraulics.sizing.trial_solution import TrialSolution, loops_network
from heatloop.hydraulics.sizing.unit_rooms import RoomNeeds
from tests.helpers.lot_systems import lot_survey


@pytest.fixture(scope="module", params=[302, 308, 320])
def solved(request):
    """Loops of a survey at trial flows: two arms, other emitters alone and in series, rooms of two loops."""
    survey = lot_survey(request.param)
    dwelling = LotDwelling.of(survey)
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops], float)
    trial = TrialSolution(loops_network(dwelling.paths), supply_c, fluid_from(survey))
    flows = 20.0 * slowest_kg_s(trial)
    trial.share_again(flows)
    return trial, flows


def test_heat_of_rooms_is_that_of_their_cells_and_emitters(solved):
    """Summed cell by cell; other emitters by their enthalpy drop, a unit with its part of the flow."""
    trial, flows = solved
    rooms = trial.room_w(flows)
    expected = [dict.fromkeys(own, 0.0) for own in rooms]
    for heat in trial.heat(flows):
        first = np.concatenate([[0], np.cumsum(heat.parts)])
        cells = [(trial.unit_of_arm[a], cell) for a in heat.group.arms for cell in trial.network.arms[a].cells]
        for (unit, cell), start, end in zip(cells, first[:-1], first[1:], strict=True):
            part = slice(start, end)
            given = float((heat.channels.emitted_w - heat.channels.lost_w)[:, part].sum())
            wall_c = np.average(heat.wall_c[part], weights=heat.fine.length_m[part])
            expected[unit][cell.room] += given * cell.useful - cell.back_w_mk * cell.length_m * (wall_c - cell.room_c)
    skirting_w = sum(sum(own.values()) for own in expected)
    emitters = trial.network.emitters
    total_w = sum(sum(own.values()) for own in rooms)
    if not emitters.count:
        assert rooms == [pytest.approx(own, rel=1e-8) for own in expected]
    else:
        assert total_w > skirting_w
    drop_k, heat_w = trial.drop_and_room_heat(flows)
    np.testing.assert_allclose(drop_k, trial.drop_k(flows), atol=1e-8)
    assert float(heat_w.sum()) == pytest.approx(total_w, rel=1e-8)


def test_the_shortfall_is_that_of_the_room_that_is_shortest(solved):
    trial, flows = solved
    rooms = trial.room_w(flows)
    owed = [({room: heat_w + 10.0 * n for n, (room, heat_w) in enumerate(own.items())}, {}) for own in rooms]
    owed[-1] = ({}, {})
    _, heat_w = trial.drop_and_room_heat(flows)
    short = RoomNeeds.of(trial.rooms, owed).shortfall_w(heat_w, trial.part)
    assert short[:-1] == pytest.approx([10.0 * (len(own) - 1) for own in rooms[:-1]], abs=1e-5)
    assert np.isneginf(short[-1])


def test_heat_owed_by_other_emitters_is_shared_by_the_units_of_a_loop(solved):
    trial, flows = solved
    rooms = trial.room_w(flows)
    owed = [({}, dict.fromkeys(own, 1000.0)) for own in rooms]
    _, heat_w = trial.drop_and_room_heat(flows)
    short = RoomNeeds.of(trial.rooms, owed).shortfall_w(heat_w, trial.part)
    assert short == pytest.approx(
        [1000.0 * part - min(own.values()) for part, own in zip(trial.part, rooms, strict=True)]
    )
    only = replace(RoomNeeds.of(trial.rooms, owed), by_part_w=np.zeros(sum(map(len, rooms))))
    assert (only.shortfall_w(heat_w, trial.part) < short).all()
