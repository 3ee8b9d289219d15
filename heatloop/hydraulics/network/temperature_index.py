"""Where in the pool of temperatures each element finds its inlet, its outlet and its mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from heatloop.hydraulics.heat.arm_groups import ArmGroup
from heatloop.hydraulics.model import ArmPath

if TYPE_CHECKING:
    from heatloop.hydraulics.model import Place

Index = NDArray[np.intp]


def element_pool(
    places: Sequence[Place], loops: int, mains: int, arms: Sequence[ArmPath], groups: Sequence[ArmGroup]
) -> tuple[Index, Index, csr_matrix]:
    """(E), (E) and (E, P): inlet, outlet and weights of the mean in the pool that `Assembly` describes."""
    supply, back, head, foot, arm_return = (k * loops for k in range(5))
    main = arm_return + len(arms)
    bypass = main + 2 * mains
    emitter = bypass + 1 + max((place.bypass for place in places), default=-1)
    emitters = [i for i, place in enumerate(places) if place.element.emits is not None]
    start = emitter + 2 * len(emitters)
    first_of, last_of = _emitter_ends(places, emitters)
    node_base, mean_base, nodes_of, cells_of = {}, {}, {}, {}
    for group in groups:
        cells = group.runs.length_m.size
        nodes = cells + len(group.arms)
        for r, arm in enumerate(group.arms):
            node_base[arm] = start + group.runs.start[r] + r
            mean_base[arm] = start + group.channels * nodes + group.runs.start[r]
            nodes_of[arm], cells_of[arm] = nodes, cells
        start += group.channels * (nodes + cells)
    pool_in, pool_out = [], []
    rows, columns, weights = [], [], []
    for row, place in enumerate(places):
        element = place.element
        flow = element.direction == "flow"
        if place.main >= 0:
            a, b = main + place.main, main + mains + place.main
        elif place.bypass >= 0:
            a = b = bypass + place.bypass
        elif element.kind == "tee":
            a = b = (supply if flow else back) + place.loop
        elif element.emits is not None:
            a = emitter + emitters.index(row)
            b = a + len(emitters)
        elif place.arm < 0:
            number = (first_of if flow else last_of).get(place.loop)
            if number is None:
                a = b = (head if flow else foot) + place.loop
            else:
                a = b = emitter + number + (0 if flow else len(emitters))
            if element.kind == "tail":
                a, b = (supply + place.loop, b) if flow else (a, back + place.loop)
        elif element.channel == 0:
            a = b = head + place.loop if element in arms[place.arm].flow_valve else arm_return + place.arm
        else:
            base = node_base[place.arm] + (element.channel - 1) * nodes_of[place.arm]
            a, b = base + element.node_in, base + element.node_out
        pool_in.append(a)
        pool_out.append(b)
        low, high = sorted((element.node_in, element.node_out))
        if place.arm < 0 or element.channel == 0 or low == high:
            rows += [row, row]
            columns += [a, b]
            weights += [0.5, 0.5]
            continue
        lengths = np.array([cell.length_m for cell in arms[place.arm].cells[low:high]])
        base = mean_base[place.arm] + (element.channel - 1) * cells_of[place.arm]
        rows.extend([row] * lengths.size)
        columns.extend(range(base + low, base + high))
        weights.extend(lengths / lengths.sum())
    mean = csr_matrix((weights, (rows, columns)), shape=(len(places), start))
    return np.array(pool_in, dtype=np.intp), np.array(pool_out, dtype=np.intp), mean


def _emitter_ends(places: Sequence[Place], emitters: Sequence[int]) -> tuple[dict[int, int], dict[int, int]]:
    """By loop, of the emitters counted from 0: the first on its flow, and the last on its return."""
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for number, i in enumerate(emitters):
        if places[i].element.direction == "flow":
            first.setdefault(places[i].loop, number)
        else:
            last[places[i].loop] = number
    return first, last
