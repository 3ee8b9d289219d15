"""Comfort beside glazing: downdraught and radiant asymmetry of each pane, and the share of its loss that is covered.

One row for each opening with a colder side. Draught and asymmetry are calculated without a heat source below the pane:
an upper bound where skirting is fitted, since no published rule states its effect on the downdraught.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from heatloop.heat_loss.u_values import GlazedOpening, glazed_openings
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.layout.model import Layout, Piece
from heatloop.layout.walls import wall_parts
from heatloop.physics.comfort import (
    asymmetry_dissatisfied_percent,
    downdraught_velocity_m_s,
    draught_rate_percent,
    glass_inner_c,
    glazing_loss_w_m,
    pane_view_factor,
    radiant_asymmetry_k,
)
from heatloop.survey.building import Room
from heatloop.survey.survey import SurveyData
from heatloop.text.column import TableDescription, count_column, number_column, share_column, text_column
from heatloop.text.table_set import table_frame

SEAT_M = 1.0
"""Distance from the pane at which draught and asymmetry are calculated: edge of the occupied zone (common practice)."""

MAX_COOL_WALL_K = 15.0

DOWNDRAUGHT = "Heiselberg 1994 in Manz and Frank 2004"

GLAZING = TableDescription(
    "glazing_comfort",
    "Comfort beside glazing",
    "Each window or glazed door with a colder side. Draught and asymmetry are calculated 1 m from the pane, as "
    "if no heat "
    "source was below it; where skirting is fitted, the true values are lower.",
    (
        text_column("room", "Room"),
        count_column("wall", "Wall"),
        text_column("opening", "Opening"),
        number_column("sill_m", "Sill", "m", 2, "height of its lower edge above the floor"),
        number_column("width_m", "Width", "m", 2),
        number_column("height_m", "Height", "m", 2),
        number_column("u_w_m2k", "U-value", "W/(m² K)", 2),
        number_column("adjacent_temp_c", "Adjacent temperature", "°C", 1),
        number_column(
            "glass_temp_c",
            "Glass",
            "°C",
            1,
            "temperature of the inside surface, in the middle of the pane",
            "ISO 6946 surface resistance",
        ),
        text_column("below_opening", "Below the opening", "heat emitter at the floor below the opening"),
        number_column("covered_width_m", "Covered width", "m", 2, "part of the width of the opening with this emitter"),
        number_column("skirting_w_m", "Skirting output", "W/m", 0, "output per metre of width of the opening"),
        number_column(
            "pane_loss_w_m",
            "Pane loss",
            "W/m",
            0,
            "U-value times height times temperature difference, per metre of width; convention of this program",
        ),
        share_column("covered_share", "Loss covered", "skirting output divided by pane loss"),
        number_column("velocity_at_sill_m_s", "Air velocity at the sill", "m/s", 2, source=DOWNDRAUGHT),
        number_column("velocity_1m_m_s", "Air velocity", "m/s", 2, "at the floor, 1 m from the pane", DOWNDRAUGHT),
        number_column(
            "draught_rate_percent",
            "Draught rate",
            "%",
            0,
            "share of dissatisfied persons, for air of 20 to 26 °C",
            "ISO 7730",
        ),
        number_column(
            "asymmetry_k",
            "Asymmetry",
            "K",
            1,
            "difference of radiant temperature, 1 m in front of the middle of the pane",
            "ISO 7726",
        ),
        number_column(
            "asymmetry_dissatisfied_percent",
            "Dissatisfied by asymmetry",
            "%",
            1,
            "share of dissatisfied persons beside a cool wall, up to 15 K",
            "ISO 7730",
        ),
    ),
)

DRAUGHT_AIR_C = (20.0, 26.0)
"""ISO 7730:2005 6.2 gives the draught rate for air of these temperatures, °C."""


def glazing_table(survey: SurveyData, layout: Layout, state: SystemState) -> pd.DataFrame:
    """One row for each glazed opening with a colder side, rooms in the order of the survey."""
    return table_frame(GLAZING, glazing_rows(survey, layout, _piece_heat_w(state)))


def glazing_rows(survey: SurveyData, layout: Layout, piece_heat_w: Mapping[str, float]) -> list[tuple[Any, ...]]:
    """The rows of the table from the heat of each piece to its room in W, by the label of the piece."""
    pieces = [piece for loop in layout.loops for piece in loop.pieces]
    output_w_m = {piece.label: piece_heat_w.get(piece.label, 0.0) / piece.tape_m for piece in pieces}
    in_room: dict[str, list[Piece]] = {}
    for piece in pieces:
        in_room.setdefault(piece.room, []).append(piece)
    return [
        _row(survey.room(glazed.room), glazed, in_room.get(glazed.room, ()), output_w_m)
        for glazed in glazed_openings(survey)
    ]


def _piece_heat_w(state: SystemState) -> dict[str, float]:
    """Heat of each piece to its room, by its label."""
    heat_w: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, cell_w in zip(path.cells, heat.emitted_w.sum(axis=0) - heat.lost_w, strict=True):
            if cell.skirting:
                heat_w[cell.label] = heat_w.get(cell.label, 0.0) + float(cell_w)
    return heat_w


def _row(
    room: Room, glazed: GlazedOpening, pieces: Sequence[Piece], output_w_m: Mapping[str, float]
) -> tuple[Any, ...]:
    """The row of an opening of a room with these pieces."""
    opening = glazed.opening
    glass_c = glass_inner_c(room.indoor_c, glazed.beyond_c, glazed.u_w_m2k)
    before = _before(room, glazed, pieces)
    covered_m = sum(metres for _, metres in before)
    skirting_w_m = sum(metres * output_w_m[piece.label] for piece, metres in before) / opening.width_m
    loss_w_m = glazing_loss_w_m(glazed.u_w_m2k, opening.height_m, room.indoor_c - glazed.beyond_c)
    fall_k = room.indoor_c - glass_c
    velocity = downdraught_velocity_m_s(opening.height_m, fall_k, SEAT_M)
    factor = pane_view_factor(opening.width_m, opening.height_m, SEAT_M)
    asymmetry_k = radiant_asymmetry_k(factor, glass_c, room.indoor_c)
    cool = asymmetry_k <= MAX_COOL_WALL_K
    return (
        room.name, glazed.wall, glazed.label, opening.sill_m, opening.width_m, opening.height_m, glazed.u_w_m2k,
        glazed.beyond_c, glass_c, _words([piece for piece, _ in before]), covered_m, skirting_w_m, loss_w_m,
        skirting_w_m / loss_w_m, downdraught_velocity_m_s(opening.height_m, fall_k, 0.0), velocity,
        _draught_percent(room.indoor_c, velocity), asymmetry_k,
        asymmetry_dissatisfied_percent(asymmetry_k, "cool wall") if cool else np.nan,
    )  # fmt: skip


def _draught_percent(air_c: float, velocity_m_s: float) -> float:
    """Dissatisfied by draught, %; NaN outside the air temperatures of ISO 7730."""
    min_c, max_c = DRAUGHT_AIR_C
    return draught_rate_percent(air_c, velocity_m_s) if min_c <= air_c <= max_c else np.nan


def _before(room: Room, opening: GlazedOpening, pieces: Sequence[Piece]) -> list[tuple[Piece, float]]:
    """The pieces below an opening, each with the width of the opening that it covers, m."""
    below = []
    for piece in pieces:
        if not piece.wall:
            continue
        for wall, from_m, to_m in wall_parts(room, piece.wall, piece.from_m, piece.to_m):
            metres = min(to_m, opening.opening.end_m) - max(from_m, opening.opening.start_m)
            if wall == opening.wall and metres > 0.0:
                below.append((piece, metres))
    return below


def _words(pieces: list[Piece]) -> str:
    if not pieces:
        return "nothing"
    return "floor section" if any(piece.floor_section for piece in pieces) else "skirting"
