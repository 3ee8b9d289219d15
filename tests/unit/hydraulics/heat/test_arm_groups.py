"""Groups of arms: one group repeated has its arms one after the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.heat.arm_groups import CellChanges, group_similar_arms, repeat_group
from heatloop.hydraulics.model import ArmPath, Cell
from tests.helpers.back_loss_loops import PATHS
from tests.helpers.dwelling import loop_path


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
    other = repeat_group(group, 2, CellChanges(rooms))
    assert other.runs.room_c.tolist() == [19.0] * cells + [23.0] * cells


def with_cells(arm: ArmPath, **changes: object) -> ArmPath:
    cells: tuple[Cell, ...] = tuple(replace(cell, **changes) for cell in arm.cells)  # type: ignore[arg-type]
    return replace(arm, cells=cells)


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({}, True),
        ({"factor": 0.7}, True),
        ({"room_c": 21.0}, False),
        ({"length_m": 0.9}, False),
        ({"downward_loss_w_mk": 0.4}, False),
    ],
    ids=lambda one: "-".join(one) or "nothing" if isinstance(one, dict) else None,
)
def test_groups_have_the_same_cells_whatever_their_output(change: dict[str, float], same: bool) -> None:
    """Beside the output constant all counts: length, room, and what is lost downwards."""
    arm = loop_path("a", None, 1.0).arms[0]
    (own,), (other,) = group_similar_arms([arm]), group_similar_arms([with_cells(arm, **change)])
    assert own.has_cells_of(other) is same
    assert other.has_cells_of(own) is same


def test_groups_of_other_directions_and_other_losses_have_other_cells() -> None:
    arm, one_way = (loop_path("a", None, 1.0, one_way=way).arms[0] for way in (False, True))
    (own,), (other,) = group_similar_arms([arm]), group_similar_arms([one_way])
    assert own.has_cells_of(other) is False
    lost, more = (group_similar_arms([with_cells(arm, downward_loss_w_mk=w)])[0] for w in (0.4, 0.5))
    assert lost.has_cells_of(more) is False
    assert lost.has_cells_of(lost) is True
