"""The right-hand side of the channel equations: heat from water to wall, room and neighbouring channel.

Arrays are channel first, (C, M) over cells; small matrices are (C, C, M).
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NOTHING: Array = np.zeros(())


class CellValues(Protocol):
    """What the law reads of the cells: see heatloop.physics.channels.Runs."""

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


def product(a: Array, b: Array) -> Array:
    """Matrix products over the last axis: (C, C, M) times (C, C, M)."""
    return np.asarray((a[:, :, None, :] * b[None, :, :, :]).sum(axis=1))


def link_matrix(link: Array, diagonal: Array) -> Array:
    """(C, C, M): link conduction between neighbouring channels, with `diagonal` (C, M) added."""
    matrix = np.zeros((diagonal.shape[0], *diagonal.shape))
    for i in range(diagonal.shape[0]):
        matrix[i, i] = diagonal[i]
    for i in range(link.shape[0]):
        matrix[i, i] += link[i]
        matrix[i + 1, i + 1] += link[i]
        matrix[i, i + 1] -= link[i]
        matrix[i + 1, i] -= link[i]
    return matrix


def inverse_of(a: Array) -> Array:
    """Inverses of (C, C, M) matrices."""
    if a.shape[0] == 1:
        return np.asarray(1.0 / a)
    if a.shape[0] == 2:
        flipped = np.array([[a[1, 1], -a[0, 1]], [-a[1, 0], a[0, 0]]])
        return np.asarray(flipped / (a[0, 0] * a[1, 1] - a[0, 1] * a[1, 0]))
    return np.asarray(np.moveaxis(np.linalg.inv(np.moveaxis(a, -1, 0)), 0, -1), dtype=np.float64)


class Law:
    """The right-hand side dT/dx = f(T) of the cells and its Jacobian.

    With a film the wall temperatures at each point of a cell (`slot`) are carried from step to step, so that
    Newton's method on the water solves for the walls as well, at one evaluation a point and step.
    """

    def __init__(self, cells: CellValues, capacity_w_k: Array) -> None:
        self.room, self.exponent, self.power = cells.room_c, cells.exponent, cells.exponent - 1.0
        self.emission_w_mkn, self.film = cells.emission_w_mkn, cells.film_mk_w
        self.loss = cells.loss_w_mk
        self.direction = np.asarray(cells.direction, float)[:, None]
        self.links = link_matrix(cells.link_w_mk, np.zeros((len(cells.direction), cells.room_c.size)))
        self.linked = bool(np.any(cells.link_w_mk))
        self.walls: dict[str, Array] = {}
        self.wall_moved_k = 0.0
        self.set_capacity(capacity_w_k)

    def set_capacity(self, capacity_w_k: Array) -> None:
        self.scale = -1.0 / (self.direction * capacity_w_k)

    def wall(self, temp: Array, slot: str = "") -> Array:
        """Wall temperatures (C, M) that belong to these water temperatures, solved to rounding.

        The search starts from the walls carried in `slot` where there are any.
        """
        if self.film is None:
            return temp
        surface = self.walls.get(slot, temp)
        for _ in range(30):
            step, _, _ = self._wall_step(temp, surface)
            surface = surface + step
            if np.abs(step).max(initial=0.0) < 1e-12:
                break
        return surface

    def emission(self, temp: Array) -> Array:
        """Emission of each channel's wall, (C, M) W/m, what is lost elsewhere than to the room included."""
        return self._characteristic(self.wall(temp))[0]

    def lost(self, temp: Array) -> Array:
        """Of the emission, what is lost elsewhere than to the room, (C, M) W/m."""
        return np.zeros_like(temp) if self.loss is None else self.loss * (self.wall(temp) - self.room)

    def rate(self, temp: Array, slot: str = "") -> tuple[Array, Array]:
        """dT/dx (C, M) at these temperatures, and the emission (C, M) in W/m; `slot` as of `wall`."""
        surface = self.wall(temp, slot)
        emission = self._characteristic(surface)[0]
        return (emission + self._conduction(surface)) * self.scale, emission

    def rate_and_jacobian(self, temp: Array, slot: str, with_jacobian: bool = True) -> tuple[Array, Array]:
        """dT/dx (C, M) and its Jacobian (C, C, M), or zero where it is not wanted."""
        if self.film is None:
            emission, slope = self._characteristic(temp)
            rate = (emission + self._conduction(temp)) * self.scale
            if not with_jacobian:
                return rate, NOTHING
            jacobian = self._with_links(slope)
            return rate, jacobian * self.scale[:, None, :]
        surface = self.walls.get(slot, temp)
        step, heat, jacobian = self._wall_step(temp, surface)
        self.walls[slot] = surface + step
        self.wall_moved_k = max(self.wall_moved_k, float(np.abs(step).max(initial=0.0)))
        return heat * self.scale, jacobian * self.scale[:, None, :]

    def _wall_step(self, temp: Array, surface: Array) -> tuple[Array, Array, Array]:
        """A Newton step of the walls S + r q(S) = T, the heat q there to first order, and dq/dT."""
        emission, slope = self._characteristic(surface)
        heat = emission + self._conduction(surface)
        by_wall = self._with_links(slope)
        film = np.zeros_like(temp) if self.film is None else self.film
        matrix = film[:, None, :] * by_wall
        for i in range(temp.shape[0]):
            matrix[i, i] += 1.0
        inverse = inverse_of(matrix)
        step = -apply(inverse, surface - temp + film * heat)
        return step, heat + apply(by_wall, step), product(by_wall, inverse)

    def _characteristic(self, surface: Array) -> tuple[Array, Array]:
        excess = surface - self.room
        power = self.emission_w_mkn * np.abs(excess) ** self.power
        if self.loss is None:
            return excess * power, self.exponent * power
        return excess * (power + self.loss), self.exponent * power + self.loss

    def _with_links(self, slope: Array) -> Array:
        """(C, C, M): the links between channels, with `slope` (C, M) on the diagonal."""
        matrix = self.links.copy()
        count = slope.shape[0]
        matrix.reshape(count * count, -1)[:: count + 1] += slope
        return matrix

    def _conduction(self, surface: Array) -> Array | float:
        """Heat that each channel's wall passes to its neighbours, (C, M) W/m."""
        return apply(self.links, surface) if self.linked else 0.0


def apply(matrix: Array, vector: Array) -> Array:
    """Products over the last axis: (C, C, M) times (C, M)."""
    return np.asarray((matrix * vector[None]).sum(axis=1))
