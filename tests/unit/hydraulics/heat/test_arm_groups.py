"""Groups of arms: one group repeated has its arms one after the other."""

from __future__ import annotations

import numpy as np

from heatloop.hydraulics.heat.arm_groups import group_similar_arms, repeat_group
from tests.helpers.back_loss_loops import PATHS


def test_a_group_over_and_over_has_its_arms_one_after_the_other() -> None:
    (group,) = group_similar_arms([PATHS[0].arms[0]])
    cells = group.runs.length_m.size
    twice = repeat_group(group, 2)
    assert twice.runs.start.tolist() == [0, cells, 2 * cells]
    for name in ("length_m", "exponent", "room_c"):
        assert getattr(twice.runs, name).tolist() == getattr(group.runs, name).tolist() * 2
    for name in ("emission_w_mkn", "link_w_mk"):
        assert getattr(twice.runs, name).shape[1] == 2 * cells
    assert repeat_group(group, 1) is group
    rooms = np.stack([np.full(cells, 19.0), np.full(cells, 23.0)])
    other = repeat_group(group, 2, rooms)
    assert other.runs.room_c.tolist() == [19.0] * cells + [23.0] * cells
