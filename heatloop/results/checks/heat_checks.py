"""Limits on heat: output of rooms, surface temperatures, ratings and heat losses."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from heatloop.findings.limits import TOUCH, TOUCH_C, CheckResult, Limit, check_at_least, check_at_most
from heatloop.survey.building import Room
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

MIN_COVERAGE = 1.0

TURBULENT_TEST_RE = 4000.0

EDGE_ZONE_C, BATHROOM_ABOVE_K = 35.0, 9.0

MAX_DRAUGHT_PERCENT, MAX_COOL_WALL_K = 20.0, 10.0

UNLIKELY_U_W_M2K = 6.0

ROOM_WARM = Limit(
    "heat to the room", "-", "coverage: heat to the room over heat loss and back loss, design conditions",
    "raise the flow temperature or reduce the temperature drop, add another emitter, or reduce the room's heat loss",
)  # fmt: skip

MAX_OUTPUT_SHARE = 2.0

OVERSIZED = Limit(
    "output against heat loss", "-", "common practice: at most twice the heat loss, without back loss",
    "fit less skirting, lower the flow temperature of this loop, or fit a smaller emitter: without a valve that "
    "throttles, the room overheats", "caution",
)  # fmt: skip

UNHEATED = Limit(
    "room without heating", "W", "its heat loss at the design outdoor temperature, which no loop covers",
    "take a loop through the room, give a loop an emitter there, or confirm that another system heats it", "caution",
)  # fmt: skip

WALL_TO_SPARE = replace(ROOM_WARM, remedy=f"fit skirting on the free wall, {ROOM_WARM.remedy}")

UNLIKELY_U = Limit(
    "plausible U-value", "W/(m2 K)", "highest U-value of the room; single glazing, the highest in use, has about 5.7",
    "check the layers and their thickness, or the stated U-value", "caution",
)  # fmt: skip

EN_1264 = (
    "EN 1264-2 as quoted by others: 35 °C along outer walls, 9 K above the room in a bathroom; where people stay "
    "29 °C, as in ISO 7730"
)

UNDERFOOT = Limit(
    "surface temperature of a floor section", "degC", EN_1264,
    "lower the flow temperature of this loop, cover the floor section with a grille that people cannot stand on, or "
    "omit it", "caution",
)  # fmt: skip

UNDERFOOT_STATED = replace(
    UNDERFOOT, source="maximum surface temperature of the floor section in the profile's catalogue entry"
)

TEST_FLOW = Limit(
    "Reynolds number in the rating test", "-",
    "below about 4000 the heat transfer from the water to the metal (film) is uncertain",
    "request a test of a longer sample or at a smaller temperature drop; the output range shows the effect of the film",
    "caution",
)  # fmt: skip

LINK = Limit(
    "effect of the unknown channel coupling", "%",
    "assumed 5 W/(m K), as of an aluminium web; the value is the largest change of a room's output at 2 and 10 W/(m K)",
    "request the thickness and length of the web between the channels, or a second test at another flow; until then "
    "use the outputs at 2 and 10 W/(m K) in the output range", "caution",
)  # fmt: skip

PLATE = Limit(
    "rated output against a flat plate", "W/m",
    "radiation, and Churchill and Chu 1975 for a vertical plate of its height",
    "check the test report: output per metre or per sample, height, and whether painted or bright", "caution",
)  # fmt: skip

DRAUGHT = Limit(
    "draught from glazing", "%",
    "ISO 7730, category B; calculated as if there were no heat source below the pane; downdraught: Heiselberg 1994",
    "along the whole width of the pane, fit skirting or a floor section whose output covers the heat loss of the pane, "
    "or choose better glazing",
    "caution",
)  # fmt: skip

COLD_PANE = Limit(
    "radiant asymmetry beside glazing", "K", "ISO 7730 table A.4, cool wall, category B, from memory",
    "choose better glazing, or place seats farther away", "caution",
)  # fmt: skip


def heat_checks(survey: SurveyData, frames: Mapping[str, pd.DataFrame]) -> Iterator[CheckResult]:
    """All checks of rooms, surfaces and losses."""
    yield from _room_checks(survey, frames["rooms"], frames["temperature_profile"], frames["elements"])
    yield from floor_section_checks(survey, frames["temperature_profile"], frames["elements"])
    yield from _u_checks(frames["heat_loss_parts"])
    yield from _rating_checks(frames["profile_ratings"])
    yield from _link_checks(survey, frames["output_range"])
    yield from glazing_checks(frames["glazing_comfort"].to_dict("records"))


def _room_checks(
    survey: SurveyData, rooms: pd.DataFrame, along: pd.DataFrame, elements: pd.DataFrame
) -> Iterator[CheckResult]:
    """Heat to rooms and surface temperatures."""
    for row in rooms.to_dict("records"):
        if row["heat_loss_w"] <= 0:
            continue
        if row["room"] not in survey.heated_rooms:
            yield check_at_most(UNHEATED, row["room"], row["heat_loss_w"], 0.0)
        else:
            limit = WALL_TO_SPARE if row["free_wall_m"] > 0 else ROOM_WARM
            yield check_at_least(limit, row["room"], row["coverage"], MIN_COVERAGE)
            yield check_at_most(OVERSIZED, row["room"], row["heat_to_rooms_w"] / row["heat_loss_w"], MAX_OUTPUT_SHARE)
    hottest = hottest_surfaces_c(along, elements)
    for room in survey.rooms:
        if room.vulnerable and room.name in hottest.index:
            yield check_at_most(TOUCH, room.name, hottest[room.name], TOUCH_C)


def hottest_surfaces_c(along: pd.DataFrame, elements: pd.DataFrame) -> pd.Series:
    """Hottest surface of each room in °C; another emitter is assumed as hot as its inlet water."""
    others = elements[elements["kind"] == "emitter"].groupby("room")["inlet_temp_c"].max()
    skirting = along.groupby("room")["surface_temp_c"].max().dropna()
    hottest: pd.Series = pd.concat([skirting, others]).groupby(level=0).max()
    return hottest


def _u_checks(losses: pd.DataFrame) -> Iterator[CheckResult]:
    """The maximum U-value of each room, bridges and ground included."""
    for room, u_w_m2k in losses.groupby("room", sort=False)["u_w_m2k"].max().dropna().items():
        yield check_at_most(UNLIKELY_U, str(room), u_w_m2k, UNLIKELY_U_W_M2K)


def floor_section_checks(survey: SurveyData, along: pd.DataFrame, elements: pd.DataFrame) -> Iterator[CheckResult]:
    """Surface temperature of each floor section: between room and metal temperature, as in its rating."""
    hottest = along.groupby("label")["surface_temp_c"].max()
    sections = elements[elements["kind"] == "floor section"].drop_duplicates("label")
    for row in sections.to_dict("records"):
        profile = survey.catalogue.profile(survey.loop(row["loop"]).profile)
        yield from floor_section_check(profile, survey.room(row["room"]), row["label"], hottest[row["label"]])


def floor_section_check(profile: Profile, room: Room, label: str, hottest_c: float) -> Iterator[CheckResult]:
    """The check of one floor section of this profile, whose metal is at most at `hottest_c`."""
    rating = profile.floor_section
    if rating is None:
        return
    surface_c = room.indoor_c + rating.surface_share * (hottest_c - room.indoor_c)
    bound_c, limit = EDGE_ZONE_C, UNDERFOOT
    if room.use == "bathroom":
        bound_c = room.indoor_c + BATHROOM_ABOVE_K
    if rating.max_surface_c is not None and rating.max_surface_c <= bound_c:
        bound_c, limit = rating.max_surface_c, UNDERFOOT_STATED
    yield check_at_most(limit, label, surface_c, bound_c)


def _rating_checks(ratings: pd.DataFrame) -> Iterator[CheckResult]:
    for row in ratings.to_dict("records"):
        yield from rating_checks(row["profile"], row["test_reynolds"], row["output_w_m"], row["flat_plate_w_m"])


def rating_checks(
    profile: str, test_reynolds: float, output_w_m: float, flat_plate_w_m: float
) -> tuple[CheckResult, CheckResult]:
    """Flow in the rating test of a profile, and its rated output against that of a flat plate."""
    return (
        check_at_least(TEST_FLOW, profile, test_reynolds, TURBULENT_TEST_RE),
        check_at_least(PLATE, profile, output_w_m, flat_plate_w_m),
    )


def _link_checks(survey: SurveyData, band: pd.DataFrame) -> Iterator[CheckResult]:
    """For each profile without a stated link: the largest change of a room's output with a link of 2 and 10 W/(m K)."""
    links = band[band["assumption_varied"].str.startswith("channel coupling ") & band["counts_in_range"]]
    for profile in survey.profiles:
        if profile.link is None and len(profile.channels) > 1:
            yield check_at_most(LINK, profile.name, links["change_percent"].abs().max(), 0.0)


def glazing_checks(rows: Iterable[Mapping[Any, Any]]) -> Iterator[CheckResult]:
    """Draught, where the skirting does not cover the loss of the pane and ISO 7730 applies; asymmetry at every pane."""
    for row in rows:
        subject = f"{row['room']}, {row['opening']}"
        if row["covered_share"] < 1.0 and not math.isnan(row["draught_rate_percent"]):
            yield check_at_most(DRAUGHT, subject, row["draught_rate_percent"], MAX_DRAUGHT_PERCENT)
        yield check_at_most(COLD_PANE, subject, row["asymmetry_k"], MAX_COOL_WALL_K)
