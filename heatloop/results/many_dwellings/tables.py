"""Descriptions of the tables of many dwellings, and their rows from a sized lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.limits import is_at_least
from heatloop.hydraulics.lots.lot_state import LotState
from heatloop.hydraulics.lots.room_heat import RoomStates
from heatloop.hydraulics.sizing.valve_settings import calculated_setting
from heatloop.results.tables.loops_and_rooms import LOOPS, ROOMS
from heatloop.text.column import (
    CHECK_COLUMNS,
    TableDescription,
    count_column,
    number_column,
    text_column,
)

Array = NDArray[np.float64]
Columns = dict[str, Any]
"""Columns of a table by name, lists or arrays of one length."""

DWELLING = text_column("dwelling", "Dwelling")

DWELLINGS = TableDescription(
    "dwellings",
    "Dwellings",
    "One row for each dwelling, also for one that cannot be sized: its figures are then empty.",
    (
        DWELLING,
        text_column(
            "sizing",
            "Sizing",
            "in a lot; by itself, and the reason; or not sized, with the errors in their own table",
        ),
        text_column(
            "verdict",
            "Checks made",
            "all met, caution or fail: the worst outcome of the checks that are made. Others are made only by size, "
            "which gives the verdict of a dwelling",
        ),
        count_column("checks_failed", "Failed checks"),
        count_column("checks_caution", "Cautions"),
        count_column("rooms", "Rooms"),
        count_column("short_rooms", "Rooms short of heat", "rooms that receive less than heat loss and back loss"),
        count_column("loops", "Loops"),
        number_column("outdoor_c", "Outdoor design temperature", "°C", 1),
        number_column("flow_temp_c", "Flow temperature at the source", "°C", 1),
        number_column("return_temp_c", "Return temperature at the source", "°C", 1),
        number_column("heat_loss_w", "Heat loss of all rooms", "W", 0),
        number_column("back_loss_w", "Back loss through walls behind skirting", "W", 0),
        number_column("heat_to_rooms_w", "Heat to rooms", "W", 0),
        number_column("source_heat_w", "Heat from the source", "W", 0, "heat to rooms and all losses of pipes"),
        number_column("pump_flow_l_h", "Pump flow", "l/h", 0, "pump at the heat source"),
        number_column("pump_head_kpa", "Pump head required", "kPa", 2, "pump at the heat source"),
        text_column("index_loop", "Index loop", "the loop that determines the head of the pump at the heat source"),
    ),
)

LOT_ROOMS = replace(
    ROOMS,
    about="One row for each room of each dwelling at the outdoor design temperature.",
    columns=(
        DWELLING,
        *(
            ROOMS.column(name)
            for name in (
                "room", "indoor_c", "heat_loss_w", "back_loss_w", "downward_loss_w", "heat_to_rooms_w", "margin_w",
                "coverage",
            )
        ),
    ),
)  # fmt: skip

LOT_LOOPS = replace(
    LOOPS,
    about="One row for each loop of each dwelling at design conditions.",
    columns=(
        DWELLING,
        *(
            LOOPS.column(name)
            for name in (
                "loop", "flow_l_h", "flow_temp_c", "return_temp_c", "temperature_drop_k", "pressure_drop_kpa",
                "available_pressure_kpa", "max_velocity_m_s", "valve_setting", "valve_kv_m3_h",
                "valve_pressure_drop_kpa", "is_index_loop",
            )
        ),
    ),
)  # fmt: skip

UNMET = TableDescription(
    "unmet_checks",
    "Checks that are not met",
    "Failed checks and cautions of all dwellings, of those checks that require only the sized state.",
    (DWELLING, *(column for column in CHECK_COLUMNS if column.name not in ("source", "recommendation"))),
)

FAULTS = TableDescription(
    "faults",
    "Errors",
    "One row for each error of a dwelling that cannot be sized.",
    (DWELLING, text_column("fault", "Error", "location, what was found and what is required")),
)


def room_columns(state: LotState, rooms: RoomStates, names: Sequence[str]) -> Columns:
    """The columns of the rooms; `names` of the dwellings."""
    losses = [loss for dwelling in state.dwellings for loss in dwelling.room_losses]
    loss_w = np.array([loss.total_w for loss in losses], float)
    need_w = loss_w + rooms.back_loss_w
    known = need_w > 0.0
    coverage = np.divide(rooms.to_rooms_w, need_w, out=np.full(need_w.size, np.nan), where=known)
    return {
        "dwelling": [names[k] for k in rooms.dwelling.tolist()],
        "room": [loss.room for loss in losses],
        "indoor_c": np.array([loss.indoor_c for loss in losses], float),
        "heat_loss_w": loss_w,
        "back_loss_w": rooms.back_loss_w,
        "downward_loss_w": rooms.downward_loss_w,
        "heat_to_rooms_w": rooms.to_rooms_w,
        "margin_w": rooms.to_rooms_w - need_w,
        "coverage": coverage,
    }


def loop_columns(state: LotState, names: Sequence[str]) -> Columns:
    """The columns of the loops; `names` of the dwellings."""
    loops, elements, first = state.loops, state.elements, state.first_element
    count = loops.flow_kg_s.size
    setting, kv, valve_drop = np.full((3, count), np.nan)
    for i in reversed(np.flatnonzero(elements.balancing).tolist()):  # of two arms, the valve of the first
        place = state.network.locations[i]
        catalogue = state.dwellings[loops.dwelling[place.loop]].survey.catalogue
        kv[place.loop], valve_drop[place.loop] = elements.kv_m3_h[i], elements.drop_pa[i] / 1000.0
        setting[place.loop] = calculated_setting(float(elements.kv_m3_h[i]), catalogue.valve(place.element.valve or ""))
    return {
        "dwelling": [names[k] for k in loops.dwelling.tolist()],
        "loop": [loop.name for dwelling in state.dwellings for loop in dwelling.survey.loops],
        "flow_l_h": elements.flow_kg_s[first] / elements.density_kg_m3[first] * 3.6e6,
        "flow_temp_c": loops.supply_c,
        "return_temp_c": loops.return_c,
        "temperature_drop_k": loops.supply_c - loops.return_c,
        "pressure_drop_kpa": loops.open_head_pa / 1000.0,
        "available_pressure_kpa": loops.available_pa / 1000.0,
        "max_velocity_m_s": max_velocity_m_s(state),
        "valve_setting": setting,
        "valve_kv_m3_h": kv,
        "valve_pressure_drop_kpa": valve_drop,
        "is_index_loop": loops.is_index,
    }


def max_velocity_m_s(state: LotState) -> Array:
    """Velocity of each loop in its narrowest channel or pipe, (L)."""
    elements, owned = state.elements, np.flatnonzero(state.element_loop >= 0)
    pipes = owned[state.network.elements.length_m[owned] > 0.0]
    velocity = elements.flow_kg_s / (elements.density_kg_m3 * state.network.elements.area_m2)
    fastest = np.zeros(state.loops.flow_kg_s.size)
    np.maximum.at(fastest, state.element_loop[pipes], velocity[pipes])
    return fastest


def dwelling_columns(state: LotState, rooms: Columns, names: Sequence[str]) -> Columns:
    """The columns of the dwellings that need no checks."""
    sources, count = state.sources, state.count
    surveys = [dwelling.survey for dwelling in state.dwellings]
    owner = np.repeat(np.arange(count), [len(dwelling.room_losses) for dwelling in state.dwellings])
    sums = {name: np.bincount(owner, rooms[name], count) for name in ("heat_loss_w", "back_loss_w", "heat_to_rooms_w")}
    loops = [loop.name for survey in surveys for loop in survey.loops]
    short = (rooms["margin_w"] < 0.0) & ~is_at_least(rooms["coverage"], 1.0)
    return {
        "dwelling": list(names),
        "rooms": [len(survey.rooms) for survey in surveys],
        "short_rooms": np.bincount(owner, short, count).astype(int),
        "loops": [len(survey.loops) for survey in surveys],
        "outdoor_c": [survey.project.outdoor_c for survey in surveys],
        "flow_temp_c": [survey.project.flow_temp_c for survey in surveys],
        "return_temp_c": sources.return_c,
        **sums,
        "source_heat_w": sources.heat_w,
        "pump_flow_l_h": pump_flow_l_h(state),
        "pump_head_kpa": sources.head_pa / 1000.0,
        "index_loop": [loops[i] for i in sources.index_loop],
    }


def pump_flow_l_h(state: LotState) -> Array:
    """Volume flow of each source (K) at its flow temperature."""
    return np.asarray(state.sources.flow_kg_s / state.sources.density_kg_m3 * 3.6e6)
