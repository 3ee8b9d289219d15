"""Output range: the same design and flows, recalculated with each uncertain input varied in turn.

Varied inputs: water-side heat transfer in the rating test and in the loop, channel coupling, and the rating itself.
The range of a room is the minimum and maximum of these; combined deviations in one direction exceed it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from heatloop.hydraulics.analysis.output_range import VariantOutput, rating_band_percent
from heatloop.hydraulics.heat.profile_rating import TEST_ROOM_C, rating_test, reynolds_of_test
from heatloop.hydraulics.loop_paths import ProfileCharacteristics
from heatloop.physics.emitters import BRIGHT_EMISSIVITY, PAINTED_EMISSIVITY, RATED_EXCESS_K, plate_output_w_m
from heatloop.physics.water import plain_water
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData
from heatloop.text.column import TableDescription, change_column, flag_column, number_column, text_column
from heatloop.text.table_set import table_frame

ALL_ROOMS = "all rooms"

RATINGS = TableDescription(
    "profile_ratings",
    "Ratings of the profiles",
    "Rating of each profile in the catalogue, and the constants that follow from it.",
    (
        text_column("profile", "Profile"),
        number_column(
            "output_w_m",
            "Rated output",
            "W/m",
            0,
            "at an excess temperature of 50 K, without an addition for installation close to the floor",
            "EN 442-2",
        ),
        number_column("exponent", "Exponent", "", 2, "exponent of the characteristic", "EN 442-2"),
        number_column(
            "constant_w_mkn",
            "Constant",
            "W/(m Kⁿ)",
            4,
            "applies to the temperature of each channel: constant × 50ⁿ is not the rated output",
        ),
        number_column(
            "coupling_w_mk", "Channel coupling", "W/(m K)", 1, "between neighbouring channels, through the metal"
        ),
        flag_column("coupling_stated", "Coupling stated", "the catalogue states the coupling"),
        text_column(
            "arrangement",
            "Arrangement in the test",
            "path of the water through the sample; if it is unknown, one-way is assumed",
        ),
        number_column("test_temperature_drop_k", "Temperature drop in the test", "K", 1),
        number_column(
            "test_reynolds",
            "Reynolds number in the test",
            "",
            0,
            "below 4000 the heat transfer from water to metal is uncertain",
        ),
        number_column(
            "tolerance_percent",
            "Tolerance",
            "%",
            0,
            "as the catalogue states it; otherwise 2 %, the usual difference between laboratories",
        ),
        number_column(
            "flat_plate_w_m", "Flat plate", "W/m", 0, "output of one side of a flat plate of the same height at 50 K"
        ),
    ),
)

OUTPUT_RANGE = TableDescription(
    "output_range",
    "Output range",
    "The design is calculated again at the same flows with the uncertain inputs changed, one at a time; changes are "
    "those of the figures before rounding.",
    (
        text_column(
            "assumption_varied",
            "Assumption varied",
            '"design" is this design; "metal as warm as the water": no resistance to heat transfer between water and '
            "metal, neither in the rating test nor in the design",
        ),
        flag_column(
            "counts_in_range",
            "Counts in the range",
            "the input is uncertain in this design; otherwise the row is for comparison only",
        ),
        text_column("room", "Room"),
        number_column("output_w", "Output", "W", 0),
        change_column("change_w", "Change", "W", 0),
        change_column("change_percent", "Change", "%", 1),
    ),
)


def ratings_table(survey: SurveyData, characteristics: ProfileCharacteristics) -> pd.DataFrame:
    """One row for each profile: rating at 50 K without heating effect, identified constants, test conditions, and the
    output of one side of a flat plate of its height."""
    rows = []
    for profile in survey.profiles:
        name, characteristic = profile.name, characteristics[profile.name][False]
        tested = rated_output(profile)
        rows.append(
            (name, tested.output_w_m, characteristic.exponent, characteristic.k_w_mkn, characteristic.link_w_mk,
             profile.link is not None, profile.rating.arrangement, tested.drop_k, tested.test_reynolds,
             rating_band_percent(profile), tested.flat_plate_w_m)
        )  # fmt: skip
    return table_frame(RATINGS, rows)


@dataclass(frozen=True)
class RatedOutput:
    """Rated output of a profile in W/m, drop and Reynolds number of its test, and the output of a flat plate in W/m."""

    output_w_m: float
    drop_k: float
    test_reynolds: float
    flat_plate_w_m: float


def rated_output(profile: Profile) -> RatedOutput:
    """The rating of a profile at 50 K without heating effect, and one side of a flat plate of its height."""
    test = rating_test(profile, plain_water())
    emissivity = PAINTED_EMISSIVITY if profile.painted else BRIGHT_EMISSIVITY
    plate_w_m = plate_output_w_m(profile.height_mm / 1000.0, RATED_EXCESS_K, TEST_ROOM_C, emissivity)
    return RatedOutput(test.output_w_m, test.drop_k, reynolds_of_test(test, plain_water()), plate_w_m)


def output_range_table(outputs: Sequence[VariantOutput]) -> pd.DataFrame:
    """Output of each heated room by variant, the design first; the last row of a variant is the sum of all rooms."""
    totals = [_with_total(output.room_output_w) for output in outputs]
    rows = [
        row
        for output, total_w in zip(outputs, totals, strict=True)
        for row in _rows(output.name, output.counts_in_range, total_w, totals[0])
    ]
    return table_frame(OUTPUT_RANGE, rows)


def _with_total(output_w: Mapping[str, float]) -> dict[str, float]:
    heated = {room: heat_w for room, heat_w in output_w.items() if heat_w != 0.0}
    return {**heated, ALL_ROOMS: sum(heated.values())}


def _rows(
    name: str, counts_in_range: bool, output_w: Mapping[str, float], base: Mapping[str, float]
) -> list[tuple[object, ...]]:
    return [
        (name, counts_in_range, room, heat_w, heat_w - base[room], 100.0 * (heat_w / base[room] - 1.0))
        for room, heat_w in output_w.items()
    ]


def add_output_range(rooms: pd.DataFrame, band: pd.DataFrame) -> pd.DataFrame:
    """The rooms table with minimum and maximum output of the variants that count, after `heat_to_rooms_w`."""
    of_room = band[band["counts_in_range"]].groupby("room")["output_w"]
    low, high = (rooms["room"].map(ends).fillna(0.0) for ends in (of_room.min(), of_room.max()))
    place = list(rooms.columns).index("heat_to_rooms_w") + 1
    table = rooms.copy()
    table.insert(place, "output_min_w", low)
    table.insert(place + 1, "output_max_w", high)
    return table
