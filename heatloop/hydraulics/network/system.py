"""Loops, trunks, bypasses and source joined to one network, as arrays for the solvers.

A circuit is that of the source, or of a trunk that is mixed to a lower temperature. Every circuit has a return node,
the zero of its pressure, and a flow node; nodes 0 and 1 are those of the source. Every trunk adds a flow and a return
node at its far end. A loop of one arm with one channel in each direction is a single link. Parallel channels, and arms
fed from the middle, are separate links between the nodes at which they divide and join.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup
from heatloop.hydraulics.heat.other_emitters import Emitters
from heatloop.hydraulics.model import ArmPath, ElementLocation, LoopPath
from heatloop.hydraulics.network.links import ElementArrays, NetworkGraph, NodeEquations
from heatloop.hydraulics.network.shared_pipework import BACK_NODE, FLOW_NODE, Circuit, SharedPipework
from heatloop.hydraulics.network.solver_index import SolverIndex
from heatloop.hydraulics.network.tee_losses import Tee
from heatloop.hydraulics.network.temperature_index import ElementTemperatures, TemperatureIndex
from heatloop.survey.water_system import Bypass, Trunk

Array = NDArray[np.float64]

Index = NDArray[np.intp]

RETURN_NODE, SUPPLY_NODE = BACK_NODE, FLOW_NODE


@dataclass(frozen=True)
class PipeNetwork:
    """The whole system as arrays.

    `locations` (E) in the order of `elements`. `channel_link[a]`: the link of each channel of arm a. `loop_link` (L): a
    link that carries the whole flow of each loop. `main_link` (K): links of `shared_pipework.links`. `bypass_link` (B):
    those of the bypasses. `loop_nodes` (L, 2): where its tails join. `loop_circuit` (L): the circuit that supplies it.
    `rise_m` (E): rise of the water at each element.

    `temperatures`: position of each temperature in the vector of all. `element_temps`: positions of those of the
    elements (E).
    """

    loops: tuple[LoopPath, ...]
    trunks: tuple[Trunk, ...]
    bypasses: tuple[Bypass, ...]
    arms: tuple[ArmPath, ...]
    arm_loop: Index
    groups: tuple[ArmGroup, ...]
    shared_pipework: SharedPipework
    graph: NetworkGraph
    node_equations: NodeEquations
    elements: ElementArrays
    locations: tuple[ElementLocation, ...]
    channel_link: tuple[Index, ...]
    loop_link: Index
    main_link: Index
    bypass_link: Index
    loop_nodes: Index
    loop_circuit: Index
    tees: tuple[Tee, ...]
    rise_m: Array
    temperatures: TemperatureIndex
    element_temps: ElementTemperatures
    emitters: Emitters
    solver_index: SolverIndex

    @property
    def circuits(self) -> tuple[Circuit, ...]:
        """The circuit of the source, then one for each mixed trunk, parents first."""
        return self.shared_pipework.circuits

    @cached_property
    def climbs(self) -> bool:
        """Whether water rises anywhere, so that buoyancy is included."""
        return bool(self.rise_m.any())

    def with_kv(self, kv_m3_h: Mapping[int, float]) -> PipeNetwork:
        """The same system with other Kv at some elements (by index); nothing else is rebuilt."""
        kv = self.elements.kv_m3_h.copy()
        for index, value in kv_m3_h.items():
            kv[index] = value
        return replace(self, elements=replace(self.elements, kv_m3_h=kv))
