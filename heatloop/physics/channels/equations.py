"""Right-hand side of the channel equations: heat from water to wall, room and neighbouring channel.

Arrays are channel first: temperatures (C, P, M) at P points of every cell; small matrices (C, C, P, M) or (C, C, M).
Systems are small, so the calls of numpy take more time than the arithmetic. For this reason arrays are changed in
place, and all points of a cell are evaluated in one call where possible.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MIN_EXCESS_K = 1e-300
"""Replaces an excess of zero, which has no logarithm."""

NO_FILM_DROPS: Mapping[str, Array] = {}
"""Drops of the film at no set of points: the search for walls starts from the water temperatures."""

WALL_STEP_K, MAX_WALL_STEPS = 1e-8, 30
"""Newton's method squares the error of the walls: after a step below this they are exact to rounding."""


class CellProperties(Protocol):
    """Properties of cells that the equations use: see `heatloop.physics.channels.grid.ChannelRuns`."""

    @property
    def length_m(self) -> Array: ...
    @property
    def emission_w_mkn(self) -> Array: ...
    @property
    def exponent(self) -> Array: ...
    @property
    def link_w_mk(self) -> Array: ...
    @property
    def room_c(self) -> Array: ...
    @property
    def direction(self) -> tuple[int, ...]: ...
    @property
    def film_mk_w(self) -> Array | None: ...
    @property
    def loss_w_mk(self) -> Array | None: ...


def matrix_product(a: Array, b: Array) -> Array:
    """Matrix products of (C, C, ...) and (C, C, ...)."""
    product = a[:, 0, None] * b[None, 0]
    for j in range(1, a.shape[1]):
        product += a[:, j, None] * b[None, j]
    return np.asarray(product)


def matrix_vector(matrix: Array, vector: Array) -> Array:
    """Products of matrices (C, C, ...) and vectors (C, ...)."""
    product = matrix[:, 0] * vector[0]
    for j in range(1, matrix.shape[1]):
        product += matrix[:, j] * vector[j]
    return np.asarray(product)


def link_matrix(link: Array, diagonal: Array) -> Array:
    """(C, C, ...): link conduction (C - 1, M) between neighbouring channels, with `diagonal` (C, ...) added."""
    count = diagonal.shape[0]
    matrix = np.zeros((count, *diagonal.shape))
    for i in range(count):
        matrix[i, i] = diagonal[i]
    for i in range(count - 1):
        matrix[i, i] += link[i]
        matrix[i + 1, i + 1] += link[i]
        matrix[i, i + 1] = matrix[i + 1, i] = -link[i]
    return matrix


def inverse_of(a: Array) -> Array:
    """Inverses of tridiagonal (C, C, ...) matrices, in closed form up to three channels."""
    if a.shape[0] == 1:
        return np.asarray(1.0 / a)
    if a.shape[0] == 2:
        inverse = np.empty_like(a)
        inverse[0, 0], inverse[1, 1] = a[1, 1], a[0, 0]
        np.negative(a[0, 1], out=inverse[0, 1])
        np.negative(a[1, 0], out=inverse[1, 0])
        inverse /= a[0, 0] * a[1, 1] - a[0, 1] * a[1, 0]
        return inverse
    if a.shape[0] == 3:
        return _inverse_of_three(a)
    return np.asarray(np.moveaxis(np.linalg.inv(np.moveaxis(a, (0, 1), (-2, -1))), (-2, -1), (0, 1)), dtype=np.float64)


def _inverse_of_three(a: Array) -> Array:
    """Inverses of tridiagonal (3, 3, ...) matrices by their cofactors: many times faster than LAPACK for each."""
    first, middle, last = a[0, 0], a[1, 1], a[2, 2]
    inverse = np.empty_like(a)
    np.multiply(middle, last, out=inverse[0, 0])
    inverse[0, 0] -= a[1, 2] * a[2, 1]
    np.multiply(first, last, out=inverse[1, 1])
    np.multiply(first, middle, out=inverse[2, 2])
    inverse[2, 2] -= a[0, 1] * a[1, 0]
    np.multiply(a[0, 1], a[1, 2], out=inverse[0, 2])
    np.multiply(a[2, 1], a[1, 0], out=inverse[2, 0])
    for row, column, other in ((0, 1, last), (1, 0, last), (1, 2, first), (2, 1, first)):
        np.multiply(a[row, column], other, out=inverse[row, column])
        np.negative(inverse[row, column], out=inverse[row, column])
    inverse /= first * inverse[0, 0] - a[0, 1] * (a[1, 0] * last)
    return inverse


class ChannelEquations:
    """Right-hand side h f(T) of the cells, and its Jacobian.

    h dT/dx is the cooling of the water over the length of the cell at the rate of one point. With a film, the drop of
    temperature from water to wall is kept between steps for each set of points (`slot`), in `film_drop_k`. Newton's
    method on the water then also solves for the walls, with one evaluation for each point and step.
    `initial_film_drop_k`: the drops of an earlier solution.
    """

    def __init__(
        self, cells: CellProperties, capacity_w_k: Array, initial_film_drop_k: Mapping[str, Array] = NO_FILM_DROPS
    ) -> None:
        self.room, self.exponent, self.power = cells.room_c, cells.exponent, cells.exponent - 1.0
        self.length, self.link, self.linked = cells.length_m, cells.link_w_mk, bool(cells.link_w_mk.any())
        self.set_emission(cells.emission_w_mkn)
        self.set_film(cells.film_mk_w)
        self.loss = None if cells.loss_w_mk is None else cells.loss_w_mk[:, None]
        self.over_flow = np.array([-1.0 if sign > 0 else 1.0 for sign in cells.direction])[:, None] * self.length
        self.film_drop_k = dict(initial_film_drop_k)
        self.wall_moved_k = 0.0
        self.set_capacity(capacity_w_k)

    def set_capacity(self, capacity_w_k: Array) -> None:
        """Use other heat capacity rates, (C, M), from now on."""
        self.scale = (self.over_flow / capacity_w_k)[:, None]

    def set_emission(self, emission_w_mkn: Array) -> None:
        """Use other constants of the characteristic, (C, M), from now on."""
        self.emission_w_mkn = emission_w_mkn[:, None]

    def set_film(self, film_mk_w: Array | None) -> None:
        """Use another resistance of the film, (C, M), from now on."""
        self.film = None if film_mk_w is None else film_mk_w[:, None]

    def wall(self, temp: Array, initial_drop_k: Array | None = None) -> Array:
        """Wall temperatures (C, P, M) at these water temperatures, solved to rounding.

        `initial_drop_k`: drops from water to wall, (C, P, M), from which the search starts.
        """
        if self.film is None:
            return temp
        surface = temp if initial_drop_k is None else temp - initial_drop_k
        for _ in range(MAX_WALL_STEPS):
            step = self._wall_step(temp, surface)[0]
            surface = surface + step
            if np.abs(step).max(initial=0.0) < WALL_STEP_K:
                break
        return surface

    def emission(self, surface: Array) -> Array:
        """Emission of walls at these temperatures in W/m, (C, P, M), with the part that the room does not receive."""
        return self._characteristic(surface)[0]

    def rate(self, surface: Array) -> tuple[Array, Array]:
        """Return h dT/dx (C, P, M), with the walls at these temperatures, and their emission in W/m."""
        emission = self._characteristic(surface)[0]
        heat = emission.copy() if self.linked else emission
        self._conduct(surface, heat)
        return heat * self.scale, emission

    def rate_into(self, out: Array, temp: Array, slot: str) -> None:
        """Write h dT/dx (C, P, M) of water at these temperatures into `out`."""
        if self.film is None:
            heat = self._characteristic(temp)[0]
            self._conduct(temp, heat)
        else:
            heat = self._carried(temp, slot)[0]
        np.multiply(heat, self.scale, out=out)

    def rate_and_jacobian(self, out: Array, temp: Array, slot: str) -> Array:
        """Return h dT/dx, as `rate_into`, and the Jacobian (C, C, P, M)."""
        if self.film is None:
            heat, power = self._characteristic(temp)
            self._conduct(temp, heat)
            jacobian = link_matrix(self.link, self._slope(power))
        else:
            heat, surface_slopes, inverse = self._carried(temp, slot)
            jacobian = matrix_product(surface_slopes, inverse)
        np.multiply(heat, self.scale, out=out)
        jacobian *= self.scale[:, None]
        return jacobian

    def _carried(self, temp: Array, slot: str) -> tuple[Array, Array, Array]:
        """One Newton step of the walls in a slot: heat, its slopes by the wall, and the wall's slopes by the water."""
        drop_k = self.film_drop_k.get(slot)
        surface = temp if drop_k is None else temp - drop_k
        step, heat, by_wall, inverse = self._wall_step(temp, surface)
        self.film_drop_k[slot] = temp - surface - step
        self.wall_moved_k = max(self.wall_moved_k, float(np.abs(step).max(initial=0.0)))
        return heat, by_wall, inverse

    def _wall_step(self, temp: Array, surface: Array) -> tuple[Array, Array, Array, Array]:
        """One Newton step of the wall equation S + r q(S) = T: heat to first order, dq/dS and dS/dT."""
        assert self.film is not None
        heat, power = self._characteristic(surface)
        self._conduct(surface, heat)
        by_wall = link_matrix(self.link, self._slope(power))
        matrix = self.film[:, None] * by_wall
        for i in range(temp.shape[0]):
            matrix[i, i] += 1.0
        inverse = inverse_of(matrix)
        step = matrix_vector(inverse, temp - surface - self.film * heat)
        heat += matrix_vector(by_wall, step)
        return step, heat, by_wall, inverse

    def _characteristic(self, surface: Array) -> tuple[Array, Array]:
        """Emission of walls in W/m, and e |S - T_r|^(n - 1), both (C, P, M)."""
        excess = surface - self.room
        power = np.abs(excess)
        np.maximum(power, MIN_EXCESS_K, out=power)
        # by logarithm: numpy's own power takes half as long again on processors without wide vectors
        np.log(power, out=power)
        power *= self.power
        np.exp(power, out=power)
        power *= self.emission_w_mkn
        if self.loss is None:
            excess *= power
        else:
            excess *= power + self.loss
        return excess, power

    def _slope(self, power: Array) -> Array:
        """Slope of the emission by the wall temperature; overwrites `power`."""
        power *= self.exponent
        if self.loss is not None:
            power += self.loss
        return power

    def _conduct(self, surface: Array, heat: Array) -> None:
        """Add to `heat` the heat in W/m that the wall of each channel conducts to its neighbours."""
        if not self.linked:
            return
        for i in range(self.link.shape[0]):
            passed = surface[i] - surface[i + 1]
            passed *= self.link[i]
            heat[i] += passed
            heat[i + 1] -= passed
