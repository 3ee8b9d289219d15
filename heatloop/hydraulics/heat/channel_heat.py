"""Water temperatures and heat of all loops at given flows: the channel equations on water paths.

The heat capacity of a cell is its own mean: the enthalpy difference over the temperature difference. The water film is
calculated at the mean temperature of each cell. Both are found by iteration. The heat of a loop is then its flow times
the difference of enthalpies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import MAX_STEPS, ArmGroup, ArmHeatOutput, repeat_runs
from heatloop.hydraulics.heat.mixing import mixed_temperature_c
from heatloop.physics.channels.accuracy import MAX_CUTS, emission_by_cell_w, refinement_needed
from heatloop.physics.channels.equations import NO_FILM_DROPS
from heatloop.physics.channels.grid import ChannelRuns, ChannelSolution, interpolated_c, refine, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.friction import reynolds
from heatloop.physics.heat_transfer import film_resistance_mk_w
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class GroupSolution:
    """A group solved at given flows, with the data from which the next solution starts.

    `divided`: the parts of each cell before any were cut for accuracy. `parts`: the parts with which it was solved.
    `joined_c` (R): mixed temperature of the water that leaves each arm, by enthalpy.
    """

    group: ArmGroup
    fine: ChannelRuns
    parts: NDArray[np.intp]
    channels: ChannelSolution
    heat_capacity_j_kgk: Array
    flow_kg_s: Array
    inlet_c: Array
    divided: NDArray[np.intp]
    joined_c: Array

    @property
    def return_c(self) -> Array:
        """Temperature (C, R) of each channel where it leaves the arm."""
        return self.channels.return_c

    @property
    def wall_c(self) -> Array:
        """Mean wall temperature over the channels of every fine cell (M): the mean of its two ends."""
        return np.asarray(self.channels.wall_ends_c.sum(axis=1).mean(axis=0) / 2.0)

    def on_cells(self, times: int, fine: ChannelRuns, parts: NDArray[np.intp]) -> tuple[Array, Mapping[str, Array]]:
        """Temperatures at the nodes of `fine` (C, nodes): the same runs `times` times, in cells of so many parts.

        Also the drops of the film, by set of points; in other cells, those of the nearest cell.
        """
        temp_c, drop_k = self.channels.temp_c, self.channels.film_drop_k
        if times > 1:
            temp_c = np.tile(temp_c, times)
            drop_k = {slot: np.tile(drop, times) for slot, drop in drop_k.items()}
        if np.array_equal(np.tile(self.parts, times), parts):
            return temp_c, drop_k
        runs = repeat_runs(self.fine, times)
        nearest = np.searchsorted(np.cumsum(runs.length_m), np.cumsum(fine.length_m) - 0.5 * fine.length_m)
        nearest = np.minimum(nearest, runs.length_m.size - 1)
        return interpolated_c(temp_c, runs, fine), {slot: drop[:, :, nearest] for slot, drop in drop_k.items()}

    def scenario(self, group: ArmGroup, number: int) -> GroupSolution:
        """One scenario of a group that was solved for several scenarios; `group` is the group in each of them."""
        runs, cells = len(group.arms), group.runs.length_m.size
        first, last = number * runs, (number + 1) * runs
        fine, arms = self.fine_cells(group, number), slice(first, last)
        nodes, own = slice(fine.start + first, fine.stop + last), slice(number * cells, (number + 1) * cells)
        solved = self.channels
        channels = replace(
            solved,
            runs=solved.runs.some(first, last),
            temp_c=solved.temp_c[:, nodes],
            middle_c=solved.middle_c[:, fine],
            surface_c=solved.surface_c[:, nodes],
            wall_ends_c=solved.wall_ends_c[:, :, fine],
            emitted_w=solved.emitted_w[:, fine],
            lost_w=solved.lost_w[:, fine],
            given_w=solved.given_w[:, fine],
            film_drop_k={slot: drop_k[:, :, fine] for slot, drop_k in solved.film_drop_k.items()},
        )
        return GroupSolution(
            group=group,
            fine=self.fine.some(first, last),
            parts=self.parts[own],
            channels=channels,
            heat_capacity_j_kgk=self.heat_capacity_j_kgk[:, fine],
            flow_kg_s=self.flow_kg_s[:, arms],
            inlet_c=self.inlet_c[arms],
            divided=self.divided[own],
            joined_c=self.joined_c[arms],
        )

    def fine_cells(self, group: ArmGroup, number: int) -> slice:
        """The fine cells of one of several scenarios."""
        runs = len(group.arms)
        return slice(int(self.fine.start[number * runs]), int(self.fine.start[(number + 1) * runs]))


def solve_group(
    group: ArmGroup,
    flow_kg_s: Array,
    inlet_c: Array,
    fluid: Fluid,
    initial_guess: GroupSolution | None = None,
    tolerance_k: float = 1e-11,
) -> GroupSolution:
    """Solve a group: flow_kg_s (C, R) in each channel, inlet_c (R).

    Repeats, with the heat capacity and the film of each cell, until the temperatures move by less than `tolerance_k`.
    `initial_guess`: an earlier solution of the same runs, with any flow, inlet and output constants. It starts all
    repetitions of its runs if the group has several.
    """
    task = _Task(group, flow_kg_s, inlet_c, fluid, tolerance_k)
    runs = runs_at_flow(group, flow_kg_s)
    flow_by_cell = flow_kg_s[:, runs.run_of_cell]
    cp = fluid.heat_capacity_j_kgk(inlet_c)[runs.run_of_cell]
    fine, parts = subdivide(runs, flow_by_cell * cp, inlet_c)
    if initial_guess is not None and np.array_equal(initial_guess.divided, parts):
        return _solve_divided(task, _Division(_like(initial_guess, runs), initial_guess.parts, parts), initial_guess)
    divided = parts
    for _ in range(MAX_CUTS):
        solved = _solve_divided(task, _Division(fine, parts, divided), initial_guess)
        cuts = refinement_needed(solved.channels)
        if cuts is None:
            break
        fine, parts, initial_guess = refine(fine, cuts), np.add.reduceat(cuts, np.cumsum(parts) - parts), solved
    return solved


def _like(initial_guess: GroupSolution, runs: ChannelRuns) -> ChannelRuns:
    """These runs, divided into the cells of an earlier solution."""
    spread = np.repeat(np.arange(initial_guess.parts.size), initial_guess.parts)
    emission_w_mkn, fine = runs.emission_w_mkn[:, spread], initial_guess.fine
    if np.array_equal(emission_w_mkn, fine.emission_w_mkn):
        return fine
    return replace(fine, emission_w_mkn=emission_w_mkn)


def runs_at_flow(group: ArmGroup, flow_kg_s: Array) -> ChannelRuns:
    """The runs of the group, with the output reduced for this flow where the catalogue gives a flow exponent."""
    runs = group.runs
    if not group.flow_exponent.any():
        return runs
    arm_flow = flow_kg_s[np.asarray(runs.direction) > 0].sum(axis=0)[runs.run_of_cell]
    less = (arm_flow / group.test_flow_kg_s) ** group.flow_exponent
    return replace(runs, emission_w_mkn=runs.emission_w_mkn * less)


@dataclass(frozen=True, eq=False)
class _Task:
    """Arguments of `solve_group`."""

    group: ArmGroup
    flow_kg_s: Array
    inlet_c: Array
    fluid: Fluid
    tolerance_k: float


@dataclass(frozen=True, eq=False)
class _Division:
    """Cells of a solution: parts of each path cell, and parts before any were cut for accuracy."""

    fine: ChannelRuns
    parts: NDArray[np.intp]
    divided: NDArray[np.intp]


def _solve_divided(task: _Task, cells: _Division, initial_guess: GroupSolution | None = None) -> GroupSolution:
    """Solve the group on given cells, starting from an earlier solution if there is one."""
    group, flow_kg_s, inlet_c, fluid = task.group, task.flow_kg_s, task.inlet_c, task.fluid
    fine, parts = cells.fine, cells.parts
    run_of_fine = fine.run_of_cell
    spread = np.repeat(np.arange(parts.size), parts)
    flow_fine = flow_kg_s[:, run_of_fine]
    initial_temp_c: Array | None = None
    film_drop_k = NO_FILM_DROPS
    if initial_guess is None:
        cp_fine = np.broadcast_to(fluid.heat_capacity_j_kgk(inlet_c)[run_of_fine], flow_fine.shape)
        temp_c = np.broadcast_to(inlet_c[run_of_fine], flow_fine.shape)
    else:
        initial_temp_c, film_drop_k = initial_guess.on_cells(
            len(group.arms) // len(initial_guess.group.arms), fine, parts
        )
        temp_c = 0.5 * (initial_temp_c[:, fine.left_node] + initial_temp_c[:, fine.left_node + 1])
        same_cells = initial_guess.heat_capacity_j_kgk.shape == temp_c.shape
        cp_fine = initial_guess.heat_capacity_j_kgk if same_cells else fluid.heat_capacity_j_kgk(temp_c)
    has_film = bool(group.film.any())
    film = film_resistances(group, flow_fine, temp_c, spread, fluid) if has_film else None
    newton = ChannelNewtonSolver(fine, flow_fine * cp_fine, inlet_c, initial_temp_c, film, film_drop_k)
    if initial_guess is not None:  # one step may be enough, so even the first mixes by enthalpy
        newton.change(flow_fine * cp_fine, film, far_end_capacity_w_k(newton, flow_kg_s, fluid))
    for _ in range(MAX_STEPS):
        newton.step()
        if newton.left_k < task.tolerance_k:
            break
        cp_fine, middle_c = current_cell_properties(newton, fluid)
        film = film_resistances(group, flow_fine, middle_c, spread, fluid) if has_film else None
        newton.change(flow_fine * cp_fine, film, far_end_capacity_w_k(newton, flow_kg_s, fluid))
    else:
        raise ArithmeticError("the channel temperatures did not converge: a length or flow is not finite")
    solved = newton.result()
    joined_c = return_temperature_c(fluid, fine.direction, flow_kg_s, solved.return_c)
    return GroupSolution(group, newton.runs, parts, solved, cp_fine, flow_kg_s, inlet_c, cells.divided, joined_c)


def current_cell_properties(newton: ChannelNewtonSolver, fluid: Fluid) -> tuple[Array, Array]:
    """Mean heat capacity of the water of every cell and mean temperature, (C, M) each.

    The mean heat capacity is the difference of enthalpies over the difference of temperatures.
    """
    temp = newton.vector.take(newton.ends)
    enthalpy = fluid.enthalpy_j_kg(newton.vector).take(newton.ends)
    drop = temp[:, 1] - temp[:, 0]
    close = np.abs(drop) < 1e-6
    alike = close.any()
    if alike:
        drop[close] = 1.0
    heat_capacity = (enthalpy[:, 1] - enthalpy[:, 0]) / drop
    if alike:
        heat_capacity[close] = fluid.heat_capacity_j_kgk(temp[:, 0][close])
    return heat_capacity, 0.5 * (temp[:, 0] + temp[:, 1])


def film_resistances(group: ArmGroup, flow: Array, temp_c: Array, spread: NDArray[np.intp], fluid: Fluid) -> Array:
    """Resistance of the film in every cell and channel in m K/W; 0 where the film is not included."""
    _, cp, viscosity, conductivity, _ = fluid.properties(temp_c)
    area_m2, d_h_m = group.area_m2[:, spread], group.hydraulic_diameter_m[:, spread]
    re = np.abs(reynolds(flow, d_h_m, area_m2, viscosity))
    if group.min_film_re is not None:
        re = np.maximum(re, group.min_film_re[spread])
    resistance = film_resistance_mk_w(re, cp * viscosity / conductivity, conductivity, area_m2, d_h_m)
    return np.where(group.film[spread], resistance, 0.0)


def mean_heat_capacity(fluid: Fluid, from_c: Array, to_c: Array) -> Array:
    """Enthalpy difference over temperature difference in J/(kg K); for equal temperatures, the heat capacity."""
    drop = to_c - from_c
    close = np.abs(drop) < 1e-6
    enthalpy = fluid.enthalpy_j_kg(np.stack([from_c, to_c]))
    if not close.any():
        return np.asarray((enthalpy[1] - enthalpy[0]) / drop)
    known = fluid.heat_capacity_j_kgk((from_c + to_c) / 2)
    return np.where(close, known, (enthalpy[1] - enthalpy[0]) / np.where(close, 1.0, drop))


def far_end_capacity_w_k(newton: ChannelNewtonSolver, flow_kg_s: Array, fluid: Fluid) -> Array | None:
    """Heat capacity rates (O, R) by which outward channels mix at the far end; None where no channels mix.

    Each is the flow of a channel times the mean heat capacity between its own temperature and that of the returning
    water. flow_kg_s (C, R).
    """
    if not newton.mixes:
        return None
    out_c, back_c = newton.far_end_c
    return np.asarray(flow_kg_s[newton.out] * mean_heat_capacity(fluid, out_c, np.broadcast_to(back_c, out_c.shape)))


def return_temperature_c(fluid: Fluid, direction: tuple[int, ...], flow_kg_s: Array, return_c: Array) -> Array:
    """Mixed temperature of the water that leaves each arm (R), by enthalpy.

    flow_kg_s and return_c (C, R): flow and temperature of all channels where they leave the arm.
    """
    signs = np.asarray(direction)
    leaving = signs < 0 if np.any(signs < 0) else signs > 0
    if leaving.sum() == 1:
        return np.asarray(return_c[leaving][0])
    flow, temp = flow_kg_s[leaving], return_c[leaving]
    return np.asarray(mixed_temperature_c(fluid, np.ones((1, flow.shape[0])), flow, temp)[0])


def coarse_temperatures_c(solved: GroupSolution) -> tuple[Array, Array]:
    """Temperatures at the nodes (C, nodes) and means of the cells (C, M) of the original path.

    A mean is calculated by Simpson's rule, so that it does not depend on how finely a cell is divided.
    """
    channels, fine, runs = solved.channels, solved.fine, solved.group.runs
    left, first = fine.left_node, np.concatenate([[0], np.cumsum(solved.parts)])
    mean = (4.0 * channels.middle_c + channels.temp_c[:, left] + channels.temp_c[:, left + 1]) / 6.0
    mean = np.add.reduceat(mean * fine.length_m, first[:-1], axis=1) / runs.length_m
    index = np.arange(runs.start.size - 1)
    nodes = np.empty(runs.length_m.size + index.size, dtype=np.intp)
    nodes[runs.left_node] = first[:-1] + runs.run_of_cell
    nodes[runs.start[1:] + index] = first[runs.start[1:]] + index
    return channels.temp_c[:, nodes], mean


@dataclass(frozen=True, eq=False)
class GroupArmResults:
    """The arms of a solved group on the cells of the original path; each is built when it is requested.

    `check_w`: the emission of every fine cell, integrated independently.
    """

    solved: GroupSolution
    check_w: Array

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """Index of the first fine cell of every cell (M), then the number of all fine cells."""
        return np.concatenate([[0], np.cumsum(self.solved.parts)])

    @cached_property
    def _run_first(self) -> NDArray[np.intp]:
        return self.first[self.solved.group.runs.start[:-1]]

    @cached_property
    def arm_check_w(self) -> Array:
        """Emission of each arm (R), integrated independently."""
        return np.add.reduceat(self.check_w, self._run_first)

    @cached_property
    def _by_cell(self) -> tuple[Array, Array, Array, Array]:
        """Mean temperature and emission (C, M), loss and wall temperature (M) of the cells."""
        solved, channels, first = self.solved, self.solved.channels, self.first[:-1]
        lengths, whole_m = solved.fine.length_m, solved.group.runs.length_m
        return (
            np.add.reduceat(channels.middle_c * lengths, first, axis=1) / whole_m,
            np.add.reduceat(channels.emitted_w, first, axis=1),
            np.add.reduceat(channels.lost_w.sum(axis=0), first),
            np.add.reduceat(solved.wall_c * lengths, first) / whole_m,
        )

    @cached_property
    def _by_arm(self) -> tuple[Array, Array]:
        """Mixed return temperature and heat given by the water, (R) each."""
        run_heat_w = np.add.reduceat(self.solved.channels.given_w.sum(axis=0), self._run_first)
        return self.solved.joined_c, run_heat_w

    def arm(self, r: int) -> ArmHeatOutput:
        """The arm of this number in the group."""
        channels, start = self.solved.channels, self.solved.group.runs.start
        mean_c, emitted_w, lost_w, wall_c = self._by_cell
        mixed, heat_w = self._by_arm
        cells = slice(start[r], start[r + 1])
        bounds = self.first[start[r] : start[r + 1] + 1]
        nodes = slice(bounds[0] + r, bounds[-1] + r + 1)
        surface_c = self._surface_c(cells, bounds)
        along = np.concatenate([[0.0], np.cumsum(self.solved.fine.length_m[bounds[0] : bounds[-1]])])
        return ArmHeatOutput(
            node_c=channels.temp_c[:, bounds + r],
            surface_c=surface_c[:, bounds - bounds[0]],
            mean_c=mean_c[:, cells],
            emitted_w=emitted_w[:, cells],
            lost_w=lost_w[cells],
            wall_c=wall_c[cells],
            return_c=float(mixed[r]),
            given_w=float(heat_w[r]),
            check_w=float(self.arm_check_w[r]),
            residual_k=channels.residual_k,
            fine_x_m=along,
            fine_c=channels.temp_c[:, nodes],
            fine_surface_c=surface_c,
        )

    def _surface_c(self, cells: slice, bounds: NDArray[np.intp]) -> Array:
        """Wall temperature at the nodes of one arm, (C, nodes).

        A node has the value of the cell that ends there; where skirting begins after plain pipe, that of the skirting.
        """
        ends_c = self.solved.channels.wall_ends_c[:, :, bounds[0] : bounds[-1]]
        surface_c = np.concatenate([ends_c[:, 0, :1], ends_c[:, 1]], axis=1)
        skirting = self.solved.group.skirting[cells]
        begins = bounds[1:-1][~skirting[:-1] & skirting[1:]] - bounds[0]
        surface_c[:, begins] = ends_c[:, 0, begins]
        return surface_c


def arm_results(solved: GroupSolution) -> list[ArmHeatOutput]:
    """The arms of the group one by one, on the cells of the original path."""
    arms = GroupArmResults(solved, emission_by_cell_w(solved.channels))
    return [arms.arm(r) for r in range(len(solved.group.arms))]
