"""How sure the outputs are: the same design, its flows as they are, with what nobody knows exactly read otherwise.

One thing at a time: the film in the rating test, the film at all, the link between channels, the rating itself. The
rooms' low and high output are the least and the most of these; where several go wrong the same way it is more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from heatloop.hydraulics.analysis.output_range import VariantOutput, rating_band_percent
from heatloop.hydraulics.heat.profile_rating import TEST_ROOM_C, rating_test, reynolds_of_test
from heatloop.hydraulics.loop_paths import Laws
from heatloop.physics.emitters import BRIGHT_EMISSIVITY, PAINTED_EMISSIVITY, RATED_EXCESS_K, plate_output_w_m
from heatloop.physics.water import plain_water
from heatloop.survey.survey import SurveyData
from heatloop.text.column import TableDescription, change_column, flag_column, number_column, text_column
from heatloop.text.table_set import table_frame

ALL_ROOMS = "all rooms"

RATINGS = TableDescription(
    "profile_ratings",
    "Ratings of the profiles",
    "What the catalogue states and what was identified from it.",
    (
        text_column("profile", "Profile"),
        number_column("output_w_m", "Rated output", "W/m", 0, "at 50 K, a heating effect divided out", "EN 442-2"),
        number_column("exponent", "Exponent", "", 2, "of the characteristic", "EN 442-2"),
        number_column("constant_w_mkn", "Constant", "W/(m Kⁿ)", 4, "with which the channel equations give the rating"),
        number_column(
            "coupling_w_mk", "Channel coupling", "W/(m K)", 1, "between neighbouring channels, through the metal"
        ),
        flag_column("coupling_stated", "Coupling stated", "in the catalogue"),
        text_column("arrangement", "Tested", "how water ran through the sample; unknown is taken as one-way"),
        number_column("test_temperature_drop_k", "Temperature drop in the test", "K", 1),
        number_column(
            "test_reynolds", "Reynolds number in the test", "", 0, "below 4000 the film of the test is known badly"
        ),
        number_column("tolerance_percent", "Tolerance", "%", 0, "as the entry states, else what test houses differ by"),
        number_column(
            "flat_plate_w_m", "Flat plate", "W/m", 0, "what one side of a flat plate of its height gives at 50 K"
        ),
    ),
)

BAND = TableDescription(
    "output_range",
    "Output range",
    "The same design at the same flows, recalculated with each uncertain input varied in turn.",
    (
        text_column("assumption_varied", "Assumption varied"),
        flag_column("counts_in_range", "Counts in the range", "open for this job; otherwise shown for comparison"),
        text_column("room", "Room"),
        number_column("output_w", "Output", "W", 0),
        change_column("change_w", "Change", "W", 0),
        change_column("change_percent", "Change", "%", 1),
    ),
)


def ratings_table(survey: SurveyData, laws: Laws) -> pd.DataFrame:
    """One row a profile of the survey: its rating at 50 K without heating effect, what was identified from it, how
    water ran in the test, and what one side of a bare plate of its height would give."""
    rows = []
    for profile in survey.profiles:
        name, law = profile.name, laws[profile.name][False]
        test = rating_test(profile, plain_water())
        emissivity = PAINTED_EMISSIVITY if profile.painted else BRIGHT_EMISSIVITY
        plate_w_m = plate_output_w_m(profile.height_mm / 1000.0, RATED_EXCESS_K, TEST_ROOM_C, emissivity)
        rows.append(
            (name, test.output_w_m, law.exponent, law.k_w_mkn, law.link_w_mk, profile.link is not None,
             profile.rating.arrangement, test.drop_k, reynolds_of_test(test, plain_water()),
             rating_band_percent(profile), plate_w_m)
        )  # fmt: skip
    return table_frame(RATINGS, rows)


def band_table(outputs: Sequence[VariantOutput]) -> pd.DataFrame:
    """Output of every heated room by each variant, as designed first, rows of all rooms together last of each."""
    totals = [_with_total(one.room_output_w) for one in outputs]
    rows = [
        row
        for one, found in zip(outputs, totals, strict=True)
        for row in _rows(one.name, one.in_band, found, totals[0])
    ]
    return table_frame(BAND, rows)


def _with_total(output_w: Mapping[str, float]) -> dict[str, float]:
    heated = {room: watts for room, watts in output_w.items() if watts != 0.0}
    return {**heated, ALL_ROOMS: sum(heated.values())}


def _rows(name: str, in_band: bool, found: Mapping[str, float], base: Mapping[str, float]) -> list[tuple[object, ...]]:
    return [
        (name, in_band, room, watts, watts - base[room], 100.0 * (watts / base[room] - 1.0))
        for room, watts in found.items()
    ]


def add_output_range(rooms: pd.DataFrame, band: pd.DataFrame) -> pd.DataFrame:
    """The rooms table with the least and the most output of the variants that are open for this job, each beside
    `heat_to_rooms_w`."""
    of_room = band[band["counts_in_range"]].groupby("room")["output_w"]
    low, high = (rooms["room"].map(ends).fillna(0.0) for ends in (of_room.min(), of_room.max()))
    place = list(rooms.columns).index("heat_to_rooms_w") + 1
    found = rooms.copy()
    found.insert(place, "output_min_w", low)
    found.insert(place + 1, "output_max_w", high)
    return found
