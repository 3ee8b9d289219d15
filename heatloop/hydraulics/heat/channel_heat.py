"""Water temperatures and heat of all loops at given flows: the channel equations on water paths.

The heat capacity of a cell is its own mean: the enthalpy difference over the temperature difference. The water film is
calculated at the mean temperature of each cell. Both are found by iteration. The heat of a loop is then its flow times
the difference of enthalpies.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import MAX_STEPS, ArmGroup
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.heat.mixing import mixed_temperature_c
from heatloop.physics.channels.accuracy import MAX_CUTS, refinement_needed
from heatloop.physics.channels.equations import NO_FILM_DROPS
from heatloop.physics.channels.grid import ChannelRuns, ChannelSolution, leaving_c, refine, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.friction import reynolds
from heatloop.physics.heat_transfer import film_resistance_mk_w
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class GroupSolution(GroupTemperatures):
    """A group solved at given flows, with the heat of its cells."""

    channels: ChannelSolution

    @property
    def return_c(self) -> Array:
        """Temperature (C, R) of each channel where it leaves the arm."""
        return self.channels.return_c

    @property
    def wall_c(self) -> Array:
        """Mean wall temperature over the channels of every fine cell (M): the mean of its two ends."""
        return np.asarray(self.channels.wall_ends_c.sum(axis=1).mean(axis=0) / 2.0)

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
        )
        return GroupSolution(
            group=group,
            fine=self.fine.some(first, last),
            parts=self.parts[own],
            temp_c=channels.temp_c,
            middle_c=channels.middle_c,
            film_drop_k={slot: drop_k[:, :, fine] for slot, drop_k in self.film_drop_k.items()},
            heat_capacity_j_kgk=self.heat_capacity_j_kgk[:, fine],
            flow_kg_s=self.flow_kg_s[:, arms],
            inlet_c=self.inlet_c[arms],
            divided=self.divided[own],
            joined_c=self.joined_c[arms],
            channels=channels,
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
    initial_guess: GroupTemperatures | None = None,
    tolerance_k: float = 1e-11,
) -> GroupSolution:
    """Solve a group: flow_kg_s (C, R) in each channel, inlet_c (R).

    Repeats, with the heat capacity and the film of each cell, until the temperatures move by less than `tolerance_k`.
    `initial_guess`: an earlier solution of the same runs, with any flow, inlet and output constants. It starts all
    repetitions of its runs if the group has several.
    """
    task = _Task(group, flow_kg_s, inlet_c, fluid, tolerance_k)
    known, cells = _first_cells(task, initial_guess)
    if known is not None:
        return _with_heat(*_solve_divided(task, known, initial_guess))
    return _refined(task, cells, initial_guess)


def solve_group_temperatures(
    group: ArmGroup,
    flow_kg_s: Array,
    inlet_c: Array,
    fluid: Fluid,
    initial_guess: GroupTemperatures | None = None,
    tolerance_k: float = 1e-11,
) -> GroupTemperatures:
    """Solve a group as `solve_group` does; from a solution on the same cells, without the heat of the cells."""
    task = _Task(group, flow_kg_s, inlet_c, fluid, tolerance_k)
    known, cells = _first_cells(task, initial_guess)
    if known is not None:
        return _solve_divided(task, known, initial_guess)[0]
    return _refined(task, cells, initial_guess)


def _first_cells(task: _Task, initial_guess: GroupTemperatures | None) -> tuple[_Division | None, _Division]:
    """The cells of an earlier solution, if they are divided as these flows require, and the cells for these flows."""
    runs = runs_at_flow(task.group, task.flow_kg_s)
    cp = task.fluid.heat_capacity_j_kgk(task.inlet_c)
    fine, parts = subdivide(runs, (task.flow_kg_s * cp)[:, runs.run_of_cell], task.inlet_c)
    cells = _Division(fine, parts, parts)
    if initial_guess is None or not np.array_equal(initial_guess.divided, parts):
        return None, cells
    return _Division(_like(initial_guess, runs), initial_guess.parts, parts), cells


def _refined(task: _Task, cells: _Division, initial_guess: GroupTemperatures | None) -> GroupSolution:
    """The solution on these cells, cut where the heat requires it."""
    for _ in range(MAX_CUTS):
        solved = _with_heat(*_solve_divided(task, cells, initial_guess))
        cuts = refinement_needed(solved.channels)
        if cuts is None:
            break
        parts = np.add.reduceat(cuts, np.cumsum(cells.parts) - cells.parts)
        cells, initial_guess = _Division(refine(cells.fine, cuts), parts, cells.divided), solved
    return solved


def _with_heat(temperatures: GroupTemperatures, newton: ChannelNewtonSolver) -> GroupSolution:
    known = {field.name: getattr(temperatures, field.name) for field in fields(GroupTemperatures)}
    return GroupSolution(**known, channels=newton.result())


def _like(initial_guess: GroupTemperatures, runs: ChannelRuns) -> ChannelRuns:
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


def _solve_divided(
    task: _Task, cells: _Division, initial_guess: GroupTemperatures | None
) -> tuple[GroupTemperatures, ChannelNewtonSolver]:
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
    temp_c = np.ascontiguousarray(newton.temp)
    return_c = leaving_c(fine, temp_c)
    temperatures = GroupTemperatures(
        group=group,
        fine=newton.runs,
        parts=parts,
        temp_c=temp_c,
        middle_c=newton.middle_c,
        film_drop_k=newton.equations.film_drop_k,
        heat_capacity_j_kgk=cp_fine,
        flow_kg_s=flow_kg_s,
        inlet_c=inlet_c,
        divided=cells.divided,
        joined_c=return_temperature_c(fluid, fine.direction, flow_kg_s, return_c),
    )
    return temperatures, newton


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
    enthalpy = fluid.enthalpy_j_kg(np.array([from_c, to_c]))
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


def coarse_temperatures_c(solved: GroupTemperatures) -> tuple[Array, Array]:
    """Temperatures at the nodes (C, nodes) and means of the cells (C, M) of the original path.

    A mean is calculated by Simpson's rule, so that it does not depend on how finely a cell is divided.
    """
    temp_c, fine, runs = solved.temp_c, solved.fine, solved.group.runs
    left, first = fine.left_node, np.concatenate([[0], np.cumsum(solved.parts)])
    mean = (4.0 * solved.middle_c + temp_c[:, left] + temp_c[:, left + 1]) / 6.0
    mean = np.add.reduceat(mean * fine.length_m, first[:-1], axis=1) / runs.length_m
    index = np.arange(runs.start.size - 1)
    nodes = np.empty(runs.length_m.size + index.size, dtype=np.intp)
    nodes[runs.left_node] = first[:-1] + runs.run_of_cell
    nodes[runs.start[1:] + index] = first[runs.start[1:]] + index
    return temp_c[:, nodes], mean
