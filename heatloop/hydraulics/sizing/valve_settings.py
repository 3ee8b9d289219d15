"""Valves at their nearest whole settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.physics.valves import nearest_setting, setting_for_kv
from heatloop.survey.catalogue import Catalogue, Valve


@dataclass(frozen=True)
class ValveSetting:
    """A valve, by its element, at a whole setting of its table."""

    place: int
    setting: int
    kv_m3_h: float


def valve_locations(network: PipeNetwork) -> dict[int, str]:
    """Elements of all valves of loops and arms, and their names in the catalogue."""
    return {
        i: place.element.valve
        for i, place in enumerate(network.locations)
        if place.element.kind == "valve" and place.element.valve is not None
    }


def nearest_settings(
    network: PipeNetwork, kv_m3_h: Mapping[int, float], catalogue: Catalogue
) -> dict[int, ValveSetting]:
    """Every valve at the setting with the nearest Kv, as a ratio, to the required one; open where none is required."""
    presets = {}
    for place, name in valve_locations(network).items():
        table = catalogue.valve(name).kv_m3_h
        required = kv_m3_h.get(place, table[-1])
        presets[place] = ValveSetting(place, *nearest_setting(required, table))
    return presets


def thermostatic(catalogue: Catalogue, name: str | None) -> bool:
    """Whether a valve is thermostatic: its entry states a Kv fully open and one at its proportional band."""
    return name is not None and catalogue.valve(name).kvs_m3_h is not None


def calculated_setting(kv_m3_h: float, valve: Valve) -> float:
    """Setting with its fraction; NaN where the required Kv is below the lowest of the valve."""
    return setting_for_kv(kv_m3_h, valve.kv_m3_h) if kv_m3_h >= valve.kv_m3_h[0] else float(np.nan)
