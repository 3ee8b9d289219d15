"""A sized system under its thermostats: each room of a sensor gets what it loses, and no more is let through."""

from __future__ import annotations

import heatloop as hl
from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.sizing.sized_system import SENSED


def test_thermostats_let_through_what_the_rooms_of_their_sensors_lose(
    alder_lodge: hl.Design, alder_draft: hl.Design
) -> None:
    """A room that is short even with its valve open, as one of the draft is, keeps it open."""
    short = 0
    for design in (alder_lodge, alder_draft):
        system = design.system
        controlled, required_w = system.controlled, {loss.room: loss.total_w for loss in system.room_losses}
        assert controlled is not None
        found, open_w = net_room_heat_w(controlled), net_room_heat_w(system.achieved)
        for number, loop in enumerate(design.survey.loops):
            if loop.sensor_room is None:
                continue
            lost_w = required_w[loop.sensor_room]
            if not controlled.throttled[number]:
                short += 1
                assert found[loop.sensor_room] < lost_w
                continue
            assert abs(found[loop.sensor_room] - lost_w) <= 1.01 * SENSED * lost_w
            assert found[loop.sensor_room] < open_w[loop.sensor_room]
            assert controlled.loop_flow_kg_s[number] < system.achieved.loop_flow_kg_s[number]
    assert short == 1


def test_thermostats_that_each_govern_their_own_room_alone_need_no_search(mill_annexe: hl.Design) -> None:
    assert mill_annexe.system.controlled is None
