"""Operating problem and solution of the coupled solver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup, CellChanges
from heatloop.hydraulics.heat.channel_heat import GroupSolution
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.network.links import ElementArrays
from heatloop.hydraulics.pumps import PumpCharacteristic

Array = NDArray[np.float64]

CLOSED_KG_S = 1e-6
"""A loop with less flow than this, 4 ml/h, counts as closed until it has twice this flow. Its output would be about
0.1 W."""


@dataclass(frozen=True)
class OperatingProblem:
    """Conditions of S scenarios of a network.

    supply_c (L, S): temperature where the tails of the loops join. circuit_c (P, S): flow temperature of each circuit.
    Both are lower where trunks lose heat on the way. drives: one for each circuit, a characteristic of its head or its
    flow in kg/s (S). held_kg_s (L, S): maximum flow of a loop; its thermostatic valve takes the remaining pressure
    (inf: open, 0: closed). `elements` with Kv and lengths (E, S), and `changes` of the cells by group, where
    they differ from those of the network.
    `cell_number`: if given, cells are divided by it and not checked, for many scenarios (see
    heatloop.physics.channels.grid).
    """

    supply_c: Array
    circuit_c: Array
    pumps: tuple[PumpCharacteristic | Array, ...]
    held_kg_s: Array | None = None
    elements: ElementArrays | None = None
    changes: tuple[CellChanges, ...] | None = None
    cell_number: float | None = None

    @property
    def scenarios(self) -> int:
        return int(self.supply_c.shape[1])

    @property
    def source_c(self) -> Array:
        """Temperature of the warmest circuit (S), which is that of the source."""
        return np.asarray(self.circuit_c.max(axis=0))


@dataclass(frozen=True, eq=False)
class InitialTemperatures:
    """Estimated temperatures from which a solution starts; they do not affect the solution.

    All temperatures in the vector of the network, (T); and the groups of arms, solved in one scenario.
    """

    temp_c: Array
    heats: tuple[GroupTemperatures, ...]


@dataclass(frozen=True)
class OperatingSolution:
    """The solved scenarios; they are read together with the network.

    Flows of links (links, S); pressures (nodes, S); the vector of temperatures (T, S) with the density and viscosity of
    each element (E, S); streams (N, S); residuals and iterations. circuit_c (P, S): flow temperature of each circuit.
    loop_draw_share (L, S): of the flow of each loop.

    `held` (L, S): whether the thermostatic valve of a loop throttles. `shut` (L, S): whether a loop counts as closed.
    """

    flow_kg_s: Array
    pressure_pa: Array
    link_drop_pa: Array
    tee_drop_pa: Array | None
    temp_c: Array
    density_kg_m3: Array
    viscosity_pa_s: Array
    stream_kg_s: Array
    loop_draw_share: Array
    circuit_c: Array
    circuit_return_c: Array
    circuit_flow_kg_s: Array
    heats: tuple[GroupSolution, ...]
    checks_w: tuple[Array | None, ...]
    held: NDArray[np.bool_]
    shut: NDArray[np.bool_]
    residual_mass: Array
    residual_head: Array
    moved: Array
    rounds: int

    def scenario(self, groups: Sequence[ArmGroup], number: int) -> OperatingSolution:
        """One scenario by itself; `groups` of arms as in the network."""
        names = (
            *("flow_kg_s", "pressure_pa", "link_drop_pa", "temp_c", "density_kg_m3", "viscosity_pa_s", "stream_kg_s"),
            *("loop_draw_share", "circuit_c", "circuit_return_c", "circuit_flow_kg_s", "held", "shut"),
            *("residual_mass", "residual_head", "moved"),
        )
        heats = zip(groups, self.heats, strict=True)
        checks = zip(groups, self.heats, self.checks_w, strict=True)
        return replace(
            self,
            **{name: getattr(self, name)[..., number : number + 1] for name in names},
            tee_drop_pa=None if self.tee_drop_pa is None else self.tee_drop_pa[:, number : number + 1],
            heats=tuple(heat.scenario(group, number) for group, heat in heats),
            checks_w=tuple(
                None if check_w is None else check_w[heat.fine_cells(group, number)] for group, heat, check_w in checks
            ),
        )
