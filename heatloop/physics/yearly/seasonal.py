"""Seasonal performance of a heat source: part load, bivalent point, backup and off modes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def part_load_efficiency(efficiency: ArrayLike, load_ratio: ArrayLike, degradation: float) -> Array:
    """Efficiency at part load: efficiency times CR/(Cd CR + 1 - Cd), with CR the load ratio and Cd the degradation.

    `degradation` 1: no loss at part load; 0.9 is the usual default of a heat pump that switches on and off. The load
    ratio is the heat over the capacity, above 0 and at most 1. Source: EN 14825 (2018), formula for air-to-water units.
    ValueError outside these ranges.

    >>> round(float(part_load_efficiency(4.0, 0.5, 0.9)), 4)
    3.6364
    """
    ratio = np.asarray(load_ratio, float)
    if not 0.0 <= degradation <= 1.0:
        raise ValueError(f"degradation = {degradation:g}: must be 0 to 1")
    if not ((ratio > 0.0) & (ratio <= 1.0)).all():
        raise ValueError("load_ratio: must be above 0 and at most 1")
    return np.asarray(np.asarray(efficiency, float) * ratio / (degradation * ratio + 1.0 - degradation))


@dataclass(frozen=True, eq=False)
class SeasonEnergy:
    """Heat and energy of each bin in kWh (N): heat required, heat of the source, its input, and heat it cannot give."""

    required_kwh: Array
    source_kwh: Array
    input_kwh: Array
    short_kwh: Array

    @property
    def performance(self) -> float:
        """Heat required over energy, with direct electric heat for what the source cannot give (SCOPon of EN 14825)."""
        return float(self.required_kwh.sum() / (self.input_kwh.sum() + self.short_kwh.sum()))


def season_energy(
    heat_kw: ArrayLike, hours: ArrayLike, efficiency: ArrayLike, capacity_kw: ArrayLike, degradation: float = 1.0
) -> SeasonEnergy:
    """Energy of a heat source by bins (N each): its efficiency at full load and its capacity in kW (inf: no limit).

    The source gives the heat required up to its capacity, with its efficiency at part load. Source: the bin method of
    EN 14825 (2018). ValueError for an efficiency that is not above 0.

    >>> season = season_energy([2.0, 6.0], [100.0, 50.0], [4.0, 2.5], [5.0, 5.0])
    >>> season.input_kwh.round(6).tolist(), season.short_kwh.tolist(), round(season.performance, 3)
    ([50.0, 100.0], [0.0, 50.0], 2.5)
    """
    stated = (np.asarray(values, float) for values in (heat_kw, hours, efficiency, capacity_kw))
    heat, time, own, most = np.broadcast_arrays(*stated)
    if not (own > 0.0).all():
        raise ValueError("efficiency: must be above 0")
    given = np.minimum(heat, most)
    runs = given > 0.0
    ratio = np.where(runs & np.isfinite(most), given / np.where(most > 0.0, most, 1.0), 1.0)
    input_kw = np.where(runs, given / part_load_efficiency(own, ratio, degradation), 0.0)
    return SeasonEnergy(heat * time, given * time, input_kw * time, (heat - given) * time)


def bivalent_point_c(outdoor_c: ArrayLike, heat_kw: ArrayLike, capacity_kw: ArrayLike) -> float:
    """Outdoor temperature in °C below which the capacity is less than the heat required; NaN where it is enough.

    `outdoor_c` (N) rises; linear between points. Source: definition of the bivalent temperature in EN 14825. Where the
    capacity is short at the mildest point too, that point is the result.

    >>> bivalent_point_c([-10.0, 0.0, 10.0], [8.0, 5.0, 2.0], [5.0, 6.0, 7.0])
    -2.5
    """
    at, spare = np.asarray(outdoor_c, float), np.asarray(capacity_kw, float) - np.asarray(heat_kw, float)
    short = np.flatnonzero(spare < 0.0)
    if short.size == 0:
        return float("nan")
    last = int(short[-1])
    if last == at.size - 1:
        return float(at[-1])
    share = spare[last] / (spare[last] - spare[last + 1])
    return float(at[last] + (at[last + 1] - at[last]) * share)


def off_mode_kwh(hours: ArrayLike, power_w: ArrayLike) -> float:
    """Energy in kWh of a source while it does not heat: hours times power in W of each mode.

    Source: EN 14825 (2018), electricity of the off, thermostat-off, standby and crankcase modes.

    >>> off_mode_kwh([3672.0, 179.0], [15.0, 20.0])
    58.66
    """
    return float((np.asarray(hours, float) * np.asarray(power_w, float)).sum() / 1000.0)


def seasonal_efficiency_percent(performance: float, conversion: float = 2.5, deduction_percent: float = 0.0) -> float:
    """Seasonal space heating efficiency of primary energy in %: performance/conversion times 100, less deductions.

    Source: EN 14825 (2018) and Regulation (EU) 811/2013: conversion coefficient 2.5; deductions 3 % for controls and
    5 % more for water- and brine-to-water units.

    >>> seasonal_efficiency_percent(3.5, deduction_percent=3.0)
    137.0
    """
    return 100.0 * performance / conversion - deduction_percent
