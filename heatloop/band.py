"""How sure the outputs are: the same design, its flows as they are, with what nobody knows exactly read otherwise.

One thing at a time: the film in the rating test, the film at all, the link between channels, the rating itself. The
rooms' low and high output are the least and the most of these; where several go wrong the same way it is more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from heatloop.circuit.path import Case, Laws, loop_paths, profile_laws
from heatloop.circuit.rating import TEST_ROOM_C, Reading, rating_test, reynolds_of_test
from heatloop.circuit.reheat import at_same_flows
from heatloop.circuit.rooms import room_output_w
from heatloop.circuit.solve import Operation
from heatloop.layout.model import Layout
from heatloop.physics.emitter import RATED_EXCESS_K, TEST_HOUSE_PERCENT
from heatloop.physics.plate import BRIGHT_EMISSIVITY, PAINTED_EMISSIVITY, plate_output_w_m
from heatloop.physics.water import plain_water
from heatloop.plant import fluid_of
from heatloop.survey.catalogue import Profile
from heatloop.survey.model import Survey

ALL_ROOMS = "all rooms"
AS_DESIGNED = "as designed"
LINKS_W_MK = (2.0, 10.0)
COLUMNS = ("variant", "in_band", "room", "output_w", "change_w", "change_percent")


@dataclass(frozen=True)
class Variant:
    """The survey's ratings read otherwise; `in_band` whether that is open for this job, or told only to show what it
    would do. `emitters` times what other emitters are rated at."""

    name: str
    in_band: bool
    case: Case
    emitters: float = 1.0

    def read(self, survey: Survey) -> Survey:
        """The survey with its film and its other emitters so."""
        emitters = tuple(replace(one, output_w=one.output_w * self.emitters) for one in survey.catalogue.emitters)
        return replace(
            survey,
            project=replace(survey.project, water_film=self.case.film),
            catalogue=replace(survey.catalogue, emitters=emitters),
        )


def variants(survey: Survey) -> tuple[Variant, ...]:
    """What is read otherwise, one thing at a time, for the profiles of this survey."""
    return tuple(_variants(survey.profiles, survey.project.water_film))


def _variants(profiles: Sequence[Profile], film: bool) -> Iterator[Variant]:
    with_film = [p for p in profiles if p.rating.flow_exponent is None]
    if film and with_film:
        own = {p.name: Reading(least_re=0.0) for p in with_film}
        yield Variant("film in the rating test by formula", True, Case(True, own))
        yield Variant("no water film", True, Case(False))
    linked = [p for p in profiles if len(p.channels) > 1]
    for known in (False, True):
        some = [p.name for p in linked if (p.link is not None) == known]
        for link in LINKS_W_MK if some else ():
            words = f"link {link:g} W/(m K)" + (", though it is stated" if known else "")
            yield Variant(words, not known, Case(film, {name: Reading(link_w_mk=link) for name in some}))
    for words, sign in (("low", -1.0), ("high", 1.0)):
        own = {p.name: Reading(output_factor=1.0 + sign * rating_band_percent(p) / 100.0) for p in profiles}
        others = 1.0 + sign * TEST_HOUSE_PERCENT / 100.0
        yield Variant(f"rating at the {words} end of its band", True, Case(film, own), others)


def rating_band_percent(profile: Profile) -> float:
    """How far a rating may be from the truth: as its entry states, else what test houses differ by."""
    return TEST_HOUSE_PERCENT if profile.rating.band_percent is None else profile.rating.band_percent


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
