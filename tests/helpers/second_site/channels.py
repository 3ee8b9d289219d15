"""Heat of one arm by finite volumes: water and metal of every channel in short stretches, one banded system.

Along a stretch the metal has one temperature, so its water approaches it exponentially. Water gives its heat to the
metal through a film, the metal to the room by a power of its excess temperature and to the neighbouring channel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_banded

from tests.helpers.second_site import water

STRETCH_M = 0.3
"""Longest stretch."""

NO_FILM_W_MK = 3000.0
LAMINAR_NUSSELT = 4.0
"""Between constant wall temperature (3.66) and constant heat flux (4.36)."""


@dataclass
class Arm:
    """One arm: N stretches, c channels.

    direction (c): +1 away from the tails. length_m, emission (W/(m K^n) of all channels), exponent, link_w_mk,
    back_w_mk (N); film (N) bool; useful (N): share of the heat that the room receives; cell (N): cell of the design;
    room: names. area_m2, perimeter_m (c).
    """

    direction: np.ndarray
    area_m2: np.ndarray
    perimeter_m: np.ndarray
    length_m: np.ndarray
    emission: np.ndarray
    exponent: np.ndarray
    link_w_mk: np.ndarray
    back_w_mk: np.ndarray
    film: np.ndarray
    useful: np.ndarray
    cell: np.ndarray
    room: tuple


@dataclass(frozen=True)
class ArmHeat:
    """Solved arm: outlet in degC, water_c and metal_c (N, c) at the end of each stretch, heat_w to the rooms (N),
    given_w by the water (N)."""

    outlet_c: float
    water_c: np.ndarray
    metal_c: np.ndarray
    heat_w: np.ndarray
    given_w: np.ndarray


def film_w_mk(flow_kg_s, area_m2, perimeter_m, temp_c):
    """Conductance of the water film per metre of channel, W/(m K): constant Nusselt number if laminar, Dittus and
    Boelter 1930 above Reynolds 4000, in between a straight line."""
    mu, k = water.viscosity_pa_s(temp_c), water.conductivity_w_mk(temp_c)
    diameter = 4.0 * area_m2 / perimeter_m
    reynolds = np.abs(flow_kg_s) * diameter / (area_m2 * mu)
    prandtl = mu * water.HEAT_CAPACITY_J_KGK / k
    turbulent = 0.023 * np.maximum(reynolds, 4000.0) ** 0.8 * prandtl**0.3
    mixed = np.clip((reynolds - 2300.0) / 1700.0, 0.0, 1.0)
    return (LAMINAR_NUSSELT + mixed * (turbulent - LAMINAR_NUSSELT)) * k / diameter * perimeter_m


def solve_arm(arm, flow_kg_s, inlet_c, room_c, start=None):
    """The arm at these flows (c), all above zero, water entering at `inlet_c`, rooms at room_c (N)."""
    n, c = arm.length_m.size, arm.direction.size
    capacity = np.maximum(flow_kg_s, 1e-7) * water.HEAT_CAPACITY_J_KGK
    metal = np.full((n, c), 0.6 * inlet_c) + 0.4 * room_c[:, None] if start is None else start.metal_c
    wet = np.full(c, inlet_c) if start is None else start.water_c.mean(axis=0)
    for _ in range(30):
        film = np.where(arm.film[:, None], film_w_mk(flow_kg_s, arm.area_m2, arm.perimeter_m, wet), NO_FILM_W_MK)
        kept = np.exp(-film * arm.length_m[:, None] / capacity)
        solved = solve_banded((3 * c, 2 * c), *_equations(arm, capacity, kept, inlet_c, room_c, metal))
        solved = solved.reshape(n, 2, c)
        moved = np.abs(solved[:, 1] - metal).max()
        metal, wet = solved[:, 1], solved[:, 0].mean(axis=0)
        if moved < 1e-4:
            break
    water_c = solved[:, 0]
    excess = metal - room_c[:, None]
    heat = (arm.emission / c * arm.length_m)[:, None] * np.abs(excess) ** arm.exponent[:, None] * np.sign(excess)
    given = capacity * (_upstream(arm, capacity, water_c, inlet_c) - water_c)
    out = arm.direction > 0
    last = water_c[-1] if out.all() else water_c[0]
    leaving = np.ones(c, bool) if out.all() else ~out
    outlet = float(np.average(last[leaving], weights=capacity[leaving]))
    return ArmHeat(outlet, water_c, metal, heat.sum(axis=1), given.sum(axis=1))


def _upstream(arm, capacity, water_c, inlet_c):
    """Temperature of the water that enters each stretch of each channel, (N, c)."""
    out = arm.direction > 0
    far = float(np.average(water_c[-1][out], weights=capacity[out]))
    before = np.vstack([np.full(out.size, inlet_c), water_c[:-1]])
    after = np.vstack([water_c[1:], np.full(out.size, far)])
    return np.where(out, before, after)


def _equations(arm, capacity, kept, inlet_c, room_c, metal):
    """Banded matrix and right side for water and metal of all stretches; emission linearised about `metal`."""
    n, c = metal.shape
    size, upper = 2 * c * n, 2 * c
    band, right = np.zeros((5 * c + 1, size)), np.zeros((n, 2, c))
    block = 2 * c * np.arange(n)

    def put(row, column, value):
        band[upper + row - column, column] += value

    excess = metal - room_c[:, None]
    power = arm.exponent[:, None]
    strength = (arm.emission / c * arm.length_m)[:, None]
    size_k = np.maximum(np.abs(excess), 0.05)
    slope = strength * power * size_k ** (power - 1.0)
    heat = strength * np.sign(excess) * np.abs(excess) ** power
    back = (arm.back_w_mk * arm.length_m / c)[:, None]
    link = arm.link_w_mk * arm.length_m
    given = capacity * (1.0 - kept)
    right[:, 1] = slope * metal - heat + back * room_c[:, None]
    out = arm.direction > 0
    shares = capacity[out] / capacity[out].sum()
    for i in range(c):
        wet, dry = block + i, block + c + i
        put(wet, wet, 1.0)
        put(wet, dry, -(1.0 - kept[:, i]))
        put(dry, dry, given[:, i] + slope[:, i] + back[:, 0])
        for j in (i - 1, i + 1):
            if 0 <= j < c:
                put(dry, dry, link)
                put(dry, block + c + j, -link)
        if out[i]:
            put(wet[1:], wet[:-1], -kept[1:, i])
            put(dry[1:], wet[:-1], -given[1:, i])
            right[0, 0, i] += kept[0, i] * inlet_c
            right[0, 1, i] += given[0, i] * inlet_c
            continue
        put(wet[:-1], wet[1:], -kept[:-1, i])
        put(dry[:-1], wet[1:], -given[:-1, i])
        for share, j in zip(shares, np.flatnonzero(out), strict=True):
            put(wet[-1], block[-1] + j, -kept[-1, i] * share)
            put(dry[-1], block[-1] + j, -given[-1, i] * share)
    return band, right.reshape(size)
