"""Assumptions of a design where survey and catalogue state nothing, with their sources."""

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
from heatloop.text.formatting import listing, with_powers
from heatloop.text.table_set import table_frame

MODEL = (
    ("friction", "laminar to Re 2000, Colebrook from Re 4000, a cubic in between", "Colebrook 1939; Dunlop 1991"),
    (
        "emission",
        "joints do not mix the water of the channels, and emit heat only where they are marked heated",
        "EN 442-2 characteristic",
    ),
    (
        "emission",
        "back loss of the wall behind skirting, towards outdoors, ground, spaces and neighbours: U times height of the "
        "profile times (metal temperature less room temperature)",
        "EN 12831 for the loss, EN ISO 6946 for U; metal at the mean wall temperature of the channels",
    ),
    (
        "comfort",
        "downdraught of each pane as if no heat source was below it; where skirting is fitted, the true value is lower",
        "Heiselberg 1994 as quoted by Manz and Frank 2004",
    ),
    ("comfort", "draught rate 1 m from the pane, air at room temperature, turbulence 40 %", "ISO 7730:2005 6.2"),
    (
        "comfort",
        "asymmetry 1 m in front of the middle of the pane, all other surfaces at room temperature",
        "ISO 7726:1998 annex B; ISO 7730:2005 6.5, from memory",
    ),
    (
        "comfort",
        "output of skirting below glazing is compared with U H dT of the pane",
        "convention of this program; no published rule known",
    ),
)

TO_CONFIRM = "heat loss, to be confirmed"
"""Topic of cautions of the heat loss."""

ASSUMPTIONS = TableDescription(
    "assumptions",
    "Assumptions and sources",
    "Assumptions and their sources.",
    (text_column("topic", "Topic"), text_column("assumption", "Assumption"), text_column("source", "Source")),
)


def assumptions_table(
    survey: SurveyData, layout: Layout, losses: Sequence[RoomLoss], load: BuildingLoad | None = None
) -> pd.DataFrame:
    """All assumptions of a design, each once: topic, assumption, source. Cautions of the heat loss come first."""
    rows = dict.fromkeys([*_cautions(losses), *_rows(survey, layout, losses), *_load(load)])
    return table_frame(ASSUMPTIONS, [tuple(map(with_powers, row)) for row in rows])


def _cautions(losses: Sequence[RoomLoss]) -> Iterator[tuple[str, str, str]]:
    for loss in losses:
        for text in loss.cautions:
            yield TO_CONFIRM, f"{loss.room}: {text}", "figures of the survey"


def _load(load: BuildingLoad | None) -> Iterator[tuple[str, str, str]]:
    if load is None:
        return
    yield (
        "source",
        f"the source is compared with the load of the building, {load.total_w:.0f} W, and the losses outside its "
        f"rooms, not with the sum of its rooms, {load.sum_of_rooms_w:.0f} W: heat between rooms stays in the building",
        "EN 12831:2003 7.1 and 8.2",
    )
    for line in load.assumptions:
        yield "source", line.text, line.source


def _rows(survey: SurveyData, layout: Layout, losses: Sequence[RoomLoss]) -> Iterator[tuple[str, str, str]]:
    for loss in losses:
        if loss.loss_source:
            yield "heat loss", f"{loss.room}: {loss.total_w:.0f} W, as stated in the survey", loss.loss_source
        for line in loss.assumptions:
            yield "heat loss", line.text, line.source
    for room in survey.rooms:
        if room.copy_of is not None:
            yield "survey", f"{room.name} is copied from {room.copy_of} except {_differs(survey, room)}", "the survey"
    for line in layout.assumptions:
        yield "layout", line.text, line.source
    yield from _ratings(survey)
    for trunk in survey.trunks:
        if trunk.mixed_to_c is not None:
            yield (
                "mixing",
                f"trunk {trunk.name}: driven by its own pump; closely spaced tees separate it hydraulically from the "
                "source circuit, whose pump supplies only the flow that is drawn there",
                "energy and mass balance at the mixing point",
            )
    yield from _emission(survey)
    if survey.project.pipe_losses:
        yield (
            "pipework",
            "tails and crossings lose heat; the survey states the share that heats a room; where it states none, the "
            "share is 0",
            "EN ISO 12241",
        )
        yield from _trunk_losses(survey)
    else:
        yield "pipework", "trunks, tails and crossings lose no heat", "stated in the survey"
    antifreeze = survey.project.antifreeze
    if antifreeze is None:
        yield "water", "plain water at 2.5 bar absolute", "IAPWS-95 through CoolProp"
    else:
        yield "water", f"water with {antifreeze.kind}, {_strength(antifreeze)}", "Melinder through CoolProp"
    yield from _distribution(survey)
    yield from MODEL


def _ratings(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    """Rating conditions of the profiles, and assumptions for what is not stated."""
    for profile in survey.profiles:
        name = profile.name
        rating = profile.rating
        drop = "its stated flow" if rating.drop_k is None else f"a temperature drop of {rating.drop_k:g} K"
        text = f"{name}: rated on a sample of {rating.sample_m:g} m with {drop}, "
        text += f"excess temperature 50 K, room {TEST_ROOM_C:g} °C"
        yield "rating", text, profile.source or "EN 442-2, 75/65/20, unless the catalogue states otherwise"
        if profile.rating.arrangement == "unknown":
            yield "rating", f"{name}: arrangement of the test unknown, assumed one-way", "cautious assumption"
        if profile.link is None and len(profile.channels) > 1:
            text = f"{name}: channel coupling (heat through the metal) assumed {UNKNOWN_LINK_W_MK:g} W/(m K)"
            yield "rating", text, "common practice"
        if profile.invented:
            yield "catalogue", f"{name} is an invented profile, not a product", profile.source or "catalogue"


def _emission(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    """Assumptions on the heat output of skirting and other emitters."""
    bent = [profile for profile in survey.profiles if profile.rating.flow_exponent is not None]
    for profile in bent:
        power = f"{profile.rating.flow_exponent:g}"
        text = (
            f"{profile.name}: output varies with flow to the power {power}; no separate heat transfer on the water side"
        )
        yield "emission", text, profile.source or "supplier's figure from the catalogue"
    if any(loop.emitters for loop in survey.loops):
        yield (
            "emission",
            "other emitters: water passes once (one-way), without a resistance between water and metal; the constant "
            "of each reproduces its output at 75/65/20; the same room temperature as for the skirting of the room",
            "EN 442-2 characteristic",
        )
    filmed = len(bent) < len(survey.profiles)
    if survey.project.water_film and filmed:
        yield (
            "emission",
            "heat transfer from water to metal (film): Nusselt number 4.36 for laminar flow, by formula for turbulent "
            "flow; assumed turbulent in the rating test",
            "Gnielinski",
        )
    elif filmed:
        yield "emission", "metal at the temperature of its water (no film)", "stated in the survey"


def _differs(survey: SurveyData, room: Room) -> str:
    """Keys in which a room differs from the one from which it is copied, in words, without names of openings."""
    other = next(item for item in survey.rooms if item.name == room.copy_of)
    keys = [
        field.name
        for field in fields(room)
        if field.name not in ("name", "copy_of")
        and _bare(getattr(room, field.name)) != _bare(getattr(other, field.name))
    ]
    return listing(keys) or "its name"


def _bare(value: object) -> object:
    """Walls without the names of their openings; any other value unchanged."""
    if not (isinstance(value, tuple) and all(isinstance(item, Wall) for item in value)):
        return value
    return tuple(replace(wall, openings=tuple(replace(o, name=None) for o in wall.openings)) for wall in value)


def _trunk_losses(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    if survey.trunks:
        yield "pipework", "trunks lose heat, which is not counted as heat to any room", "EN ISO 12241"
    unknown = [trunk.name for trunk in survey.trunks if trunk.around_c is None]
    if unknown:
        around_c = sum(room.indoor_c for room in survey.rooms) / len(survey.rooms)
        yield (
            "pipework",
            f"surroundings of the trunks {', '.join(unknown)} at {around_c:.1f} °C, the mean of the rooms",
            "common practice; if it is known, enter around_c in the survey",
        )


def _distribution(survey: SurveyData) -> Iterator[tuple[str, str, str]]:
    if survey.project.buoyancy:
        yield "buoyancy", "buoyancy acts between the levels of source and rooms; trunks are level", "hydrostatics"
    else:
        yield "buoyancy", "buoyancy between storeys is not included", "stated in the survey"
    if survey.project.tees:
        yield (
            "tees",
            "loops at the end of a trunk branch off one after the other, in the order of the survey; the next trunk, "
            "or else the last loop, is the straight run of the last tee",
            "Crane TP-410 (2009) through fluids",
        )
    else:
        yield "tees", "pressure loss of tees is not included, except in the zeta of pipes", "stated in the survey"
    if any(valve.kvs_m3_h is not None for valve in survey.catalogue.valves):
        yield "valves", "design flows with thermostatic valves at their proportional band", "EN 215"
    for trunk in survey.trunks:
        if trunk.reverse_return:
            yield "trunks", f"{trunk.name}: reverse return", "the survey"


def _strength(antifreeze: Antifreeze) -> str:
    if antifreeze.mass_fraction is not None:
        return f"{100.0 * antifreeze.mass_fraction:g} % by mass"
    return f"{antifreeze.percent_by_volume:g} % by volume"
