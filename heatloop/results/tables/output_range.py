"""How sure the outputs are: the same design, its flows as they are, with what nobody knows exactly read otherwise.

One thing at a time: the film in the rating test, the film at all, the link between channels, the rating itself. The
rooms' low and high output are the least and the most of these; where several go wrong the same way it is more.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from heatloop.hydraulics.analysis.fixed_flow_heat import at_same_flows
from heatloop.hydraulics.analysis.output_range import AS_DESIGNED, rating_band_percent, variants
from heatloop.hydraulics.analysis.room_output import room_output_w
from heatloop.hydraulics.from_survey import fluid_of
from heatloop.hydraulics.heat.profile_rating import TEST_ROOM_C, rating_test, reynolds_of_test
from heatloop.hydraulics.loop_paths import Laws, loop_paths, profile_laws
from heatloop.hydraulics.solver.operating_state import Operation
from heatloop.layout.model import Layout
from heatloop.physics.emitters import BRIGHT_EMISSIVITY, PAINTED_EMISSIVITY, RATED_EXCESS_K, plate_output_w_m
from heatloop.physics.water import plain_water
from heatloop.survey.survey import Survey

ALL_ROOMS = "all rooms"

COLUMNS = ("variant", "in_band", "room", "output_w", "change_w", "change_percent")

RATING_COLUMNS = (
    "profile", "output_w_m", "exponent", "k_w_mkn", "link_w_mk", "link_stated", "arrangement", "drop_k", "test_re",
    "band_percent", "plate_w_m",
)  # fmt: skip


def ratings_table(survey: Survey, laws: Laws) -> pd.DataFrame:
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
    return pd.DataFrame(rows, columns=list(RATING_COLUMNS))


def band_table(survey: Survey, layout: Layout, state: Operation) -> pd.DataFrame:
    """Output of every heated room by each variant at the design flows, rows of all rooms together last of each."""
    water = fluid_of(survey)
    base = _with_total(room_output_w(state))
    rows = _rows(AS_DESIGNED, True, base, base)
    others = variants(survey)
    laws = profile_laws(survey, layout, [variant.case for variant in others])
    cases = [loop_paths(variant.read(survey), layout, law) for variant, law in zip(others, laws, strict=True)]
    for variant, found in zip(others, at_same_flows(state, cases, water), strict=True):
        rows += _rows(variant.name, variant.in_band, _with_total(room_output_w(found)), base)
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _with_total(output_w: Mapping[str, float]) -> dict[str, float]:
    heated = {room: watts for room, watts in output_w.items() if watts != 0.0}
    return {**heated, ALL_ROOMS: sum(heated.values())}


def _rows(name: str, in_band: bool, found: Mapping[str, float], base: Mapping[str, float]) -> list[tuple[object, ...]]:
    return [
        (name, in_band, room, watts, watts - base[room], 100.0 * (watts / base[room] - 1.0))
        for room, watts in found.items()
    ]


def with_band(rooms: pd.DataFrame, band: pd.DataFrame) -> pd.DataFrame:
    """The rooms table with the least and the most output of the variants that are open for this job, each beside
    `output_w`."""
    of_room = band[band["in_band"]].groupby("room")["output_w"]
    low, high = (rooms["room"].map(ends).fillna(0.0) for ends in (of_room.min(), of_room.max()))
    place = list(rooms.columns).index("output_w") + 1
    found = rooms.copy()
    found.insert(place, "output_low_w", low)
    found.insert(place + 1, "output_high_w", high)
    return found
