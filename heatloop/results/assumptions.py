"""What a design assumed where the survey and the catalogue were silent, and on whose word."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace

import pandas as pd

from heatloop.heat_loss.building_load import BuildingLoad
from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.heat.profile_rating import TEST_ROOM_C, UNKNOWN_LINK_W_MK
from heatloop.layout.model import Layout
from heatloop.survey.building import Room, Wall
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Antifreeze
from heatloop.text.column import TableDescription, text_column
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame

MODEL = (
    ("friction", "laminar to Re 2000, Colebrook from Re 4000, a cubic between", "fluids; Dunlop 1991"),
    ("emission", "joints do not mix channels and do not emit unless marked heated", "EN 442-2 characteristic"),
    (
        "emission",
        "behind skirting on walls towards outdoors, ground, spaces and neighbours the room loses more: U times the "
        "height of the profile times (its metal less the room)",
        "EN 12831 for the loss, EN ISO 6946 for U; the mean wall of the channels stands for the metal",
    ),
    (
        "comfort",
        "air falls from each pane as if nothing warm stood before it: an upper measure where skirting stands",
        "Heiselberg 1994 as quoted by Manz and Frank 2004",
    ),
    ("comfort", "draught rate 1 m from the pane, air as warm as the room, turbulence 40 %", "ISO 7730:2005 6.2"),
    (
        "comfort",
        "asymmetry 1 m before the middle of the pane, all other surfaces as warm as the room",
        "ISO 7726:1998 annex B; ISO 7730:2005 6.5, from memory",
    ),
    ("comfort", "skirting before glazing is held against U H dT of the pane", "a convention of our own, no rule known"),
)

ASSUMPTIONS = TableDescription(
    "assumptions",
    "Assumptions and sources",
    "What was taken as given, and where it comes from.",
    (text_column("topic", "Topic"), text_column("assumption", "Assumption"), text_column("source", "Source")),
)


def assumptions_table(
    survey: SurveyData, layout: Layout, losses: Sequence[RoomLoss], load: BuildingLoad | None = None
) -> pd.DataFrame:
    """All assumptions of a design, each once: topic, assumption, source. Cautions of the heat loss stand first."""
    rows = dict.fromkeys([*_cautions(losses), *_rows(survey, layout, losses), *_load(load)])
    return table_frame(ASSUMPTIONS, rows)


def _cautions(losses: Sequence[RoomLoss]) -> Iterator[tuple[str, str, str]]:
    for loss in losses:
        for text in loss.cautions:
            yield "caution, heat loss", f"{loss.room}: {text}", "the survey's own figures"


def _load(load: BuildingLoad | None) -> Iterator[tuple[str, str, str]]:
    if load is None:
        return
    yield (
        "source",
        f"the source is checked against the load of the building, {load.total_w:.0f} W, not against the sum of its "
        f"rooms, {load.sum_of_rooms_w:.0f} W: what rooms give each other stays in the building",
        "EN 12831:2003 7.1 and 8.2",
    )
    for line in load.assumptions:
        yield "source", line.text, line.source


def _rows(survey: SurveyData, layout: Layout, losses: Sequence[RoomLoss]) -> Iterator[tuple[str, str, str]]:
    for loss in losses:
        if loss.stated_by:
            yield "heat loss", f"{loss.room}: {loss.total_w:.0f} W as stated", loss.stated_by
        for line in loss.assumptions:
            yield "heat loss", line.text, line.source
    for room in survey.rooms:
        if room.copy_of is not None:
            yield "survey", f"{room.name} is like {room.copy_of} but for {_differs(survey, room)}", "the survey"
    for line in layout.assumptions:
        yield "layout", line.text, line.source
    yield from _ratings(survey)
    for trunk in survey.trunks:
        if trunk.mixed_to_c is not None:
            yield (
                "mixing",
                f"trunk {trunk.name}: a pump of its own carries it; an open crossing (closely spaced tees) stands "
                "between it and the source's water, so that the source's pump brings there only what is drawn",
                "energy and mass balance at the mixing point",
            )
    yield from _emission(survey)
    if survey.project.pipe_losses:
        yield (
            "pipework",
            "tails and crossings lose heat; the survey tells what share is useful, else none",
            "EN ISO 12241",
        )
        yield from _trunk_losses(survey)
    else:
        yield "pipework", "trunks, tails and crossings lose no heat", "the survey's choice"
    antifreeze = survey.project.antifreeze
    if antifreeze is None:
        yield "water", "plain water at 2.5 bar absolute", "IAPWS-95 through CoolProp"
    else:
        yield "water", f"water with {antifreeze.kind}, {_strength(antifreeze)}", "Melinder through CoolProp"
    yield from _distribution(survey)
    yield from MODEL


def _ratings(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    """How profiles were rated, and what of it is not known."""
    for profile in survey.profiles:
        name = profile.name
        rating = profile.rating
        drop = "its stated flow" if rating.drop_k is None else f"a drop of {rating.drop_k:g} K"
        text = f"{name}: rated on {rating.sample_m:g} m with {drop} round 50 K, room {TEST_ROOM_C:g} degC"
        yield "rating", text, profile.source or "EN 442-2, 75/65/20, unless the catalogue says otherwise"
        if profile.rating.arrangement == "unknown":
            yield "rating", f"{name}: arrangement of the test unknown, taken as one-way", "the cautious side"
        if profile.link is None and len(profile.channels) > 1:
            yield "rating", f"{name}: link between channels taken as {UNKNOWN_LINK_W_MK:g} W/(m K)", "common practice"
        if profile.invented:
            yield "catalogue", f"{name} is an invented profile: its output is no maker's", profile.source or "catalogue"


def _emission(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    """How skirting and other emitters give their heat."""
    bent = [profile for profile in survey.profiles if profile.rating.flow_exponent is not None]
    for profile in bent:
        power = f"{profile.rating.flow_exponent:g}"
        text = f"{profile.name}: output with flow to the power {power}, in place of a water film"
        yield "emission", text, profile.source or "the supplier's own, from the catalogue"
    if any(loop.emitters for loop in survey.loops):
        yield (
            "emission",
            "other emitters: one-way and without a film, constant from the output at 75/65/20; their room as its "
            "skirting's",
            "EN 442-2 characteristic",
        )
    filmed = len(bent) < len(survey.profiles)
    if survey.project.water_film and filmed:
        yield (
            "emission",
            "water film: laminar 4.36, turbulent by formula; in the rating test as if turbulent",
            "Gnielinski",
        )
    elif filmed:
        yield "emission", "no water film: channel walls as warm as their water", "the survey's choice"


def _differs(survey: SurveyData, room: Room) -> str:
    """The keys in which a room differs from the one it is like, in words; walls whose openings alone are named
    after their room do not."""
    other = next(item for item in survey.rooms if item.name == room.copy_of)
    keys = [
        field.name
        for field in fields(room)
        if field.name not in ("name", "copy_of")
        and _bare(getattr(room, field.name)) != _bare(getattr(other, field.name))
    ]
    return listing(keys) or "its name"


def _bare(value: object) -> object:
    """Walls without the names of their openings; any other value as it is."""
    if not (isinstance(value, tuple) and all(isinstance(item, Wall) for item in value)):
        return value
    return tuple(replace(wall, openings=tuple(replace(o, name=None) for o in wall.openings)) for wall in value)


def _trunk_losses(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    if survey.trunks:
        yield "pipework", "trunks lose heat; none of it counts for a room", "EN ISO 12241"
    unknown = [trunk.name for trunk in survey.trunks if trunk.around_c is None]
    if unknown:
        around_c = sum(room.indoor_c for room in survey.rooms) / len(survey.rooms)
        yield (
            "pipework",
            f"around the trunks {', '.join(unknown)} it is {around_c:.1f} degC, the mean of the rooms",
            "common practice; around_c of the survey tells better",
        )


def _distribution(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    if survey.project.buoyancy:
        yield "buoyancy", "warm water rises from the source's level to the rooms'; trunks lie level", "hydrostatics"
    else:
        yield "buoyancy", "no lift of warm water between storeys", "the survey's choice"
    if survey.project.tees:
        yield (
            "tees",
            "where loops join the end of a trunk one tee follows the other in the order of the survey; the next "
            "trunk, or else the last loop, goes straight on",
            "Crane TP-410 (2009) through fluids",
        )
    else:
        yield "tees", "no losses of tees where loops leave trunks, beyond the zeta of pipes", "the survey's choice"
    if any(valve.kvs_m3_h is not None for valve in survey.catalogue.valves):
        yield "valves", "design flows with thermostatic valves at their proportional band", "EN 215"
    for trunk in survey.trunks:
        if trunk.reverse_return:
            yield "trunks", f"{trunk.name}: its return runs with its flow, and home along the whole row", "the survey"


def _strength(antifreeze: Antifreeze) -> str:
    if antifreeze.mass_fraction is not None:
        return f"{100.0 * antifreeze.mass_fraction:g} % by mass"
    return f"{antifreeze.percent_by_volume:g} % by volume"
