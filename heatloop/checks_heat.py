"""The limits on heat: rooms that are warm, surfaces that can be touched, ratings and losses that are likely."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import pandas as pd

from heatloop.check import Check, Limit, least, most
from heatloop.survey.model import Survey

LEAST_COVERAGE = 1.0
UNLIKELY_U_W_M2K = 6.0
TOUCH_C = 43.0

ROOM_WARM = Limit(
    "room warm enough", "-", "design heat loss at the design outdoor temperature",
    "raise the flow temperature or lessen the drop, add another emitter, or cut the room's heat loss",
)  # fmt: skip
WALL_TO_SPARE = replace(ROOM_WARM, remedy=f"lay skirting on the spare wall, {ROOM_WARM.remedy}")
UNLIKELY_U = Limit(
    "U-value likely", "W/(m2 K)", "single glazing, the worst that is built, is about 5.7: common practice",
    "check the layers and their thickness, or the stated U-value", "caution",
)  # fmt: skip
TOUCH = Limit(
    "touch temperature, vulnerable room", "degC",
    "43 degC: UK health and safety guidance on hot surfaces, as quoted by others; local rules come first",
    "guard the skirting, or lower the flow temperature of this loop", "caution",
)  # fmt: skip


def heat_checks(survey: Survey, frames: Mapping[str, pd.DataFrame]) -> Iterator[Check]:
    """All checks of rooms, surfaces and losses."""
    yield from _room_checks(survey, frames["rooms"], frames["along"], frames["elements"])
    yield from _u_checks(frames["losses"])


def _room_checks(
    survey: Survey, rooms: pd.DataFrame, along: pd.DataFrame, elements: pd.DataFrame
) -> Iterator[Check]:
    """Warmth and touch. Another emitter is as hot as the water that enters it."""
    others = elements[elements["kind"] == "emitter"].groupby("room")["temp_in_c"].max()
    for row in rooms.to_dict("records"):
        if (row["heated_length_m"] > 0 or row["room"] in others.index) and row["heat_loss_w"] > 0:
            limit = WALL_TO_SPARE if row["spare_wall_m"] > 0 else ROOM_WARM
            yield least(limit, row["room"], row["coverage"], LEAST_COVERAGE)
    skirting = along.groupby("room")["surface_c"].max()
    hottest = pd.concat([skirting, others]).groupby(level=0).max()
    for room in survey.rooms:
        if room.vulnerable and room.name in hottest.index:
            yield most(TOUCH, room.name, hottest[room.name], TOUCH_C)


def _u_checks(losses: pd.DataFrame) -> Iterator[Check]:
    """The worst U-value of each room, bridges and ground included."""
    for room, u_w_m2k in losses.groupby("room", sort=False)["u_w_m2k"].max().dropna().items():
        yield most(UNLIKELY_U, str(room), u_w_m2k, UNLIKELY_U_W_M2K)
