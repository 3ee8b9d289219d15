"""What a design assumed where the survey and the catalogue were silent, and on whose word."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pandas as pd

from heatloop.circuit.rating import UNKNOWN_LINK_W_MK
from heatloop.heat_loss import RoomLoss
from heatloop.layout.model import Layout
from heatloop.survey.model import Survey

MODEL = (
    ("water", "plain water at 2.5 bar absolute", "IAPWS-95 through CoolProp"),
    ("friction", "laminar to Re 2000, Colebrook from Re 4000, a cubic between", "fluids; Dunlop 1991"),
    ("emission", "joints do not mix channels and do not emit unless marked heated", "EN 442-2 characteristic"),
    ("pipework", "trunks lose no heat", "model"),
)


def table(survey: Survey, layout: Layout, losses: Sequence[RoomLoss]) -> pd.DataFrame:
    """All assumptions of a design, each once: topic, assumption, source."""
    rows = dict.fromkeys(_rows(survey, layout, losses))
    return pd.DataFrame(list(rows), columns=["topic", "assumption", "source"])


def _rows(survey: Survey, layout: Layout, losses: Sequence[RoomLoss]) -> Iterator[tuple[str, str, str]]:
    for loss in losses:
        if loss.stated_by:
            yield "heat loss", f"{loss.room}: {loss.total_w:.0f} W as stated", loss.stated_by
        for text in loss.assumptions:
            yield "heat loss", text, "see text"
    for text in layout.assumptions:
        yield "layout", text, "see text"
    for name in dict.fromkeys(loop.profile for loop in survey.loops):
        profile = survey.catalogue.profile(name)
        if profile.rating.arrangement == "unknown":
            yield "rating", f"{name}: arrangement of the test unknown, taken as one-way", "the cautious side"
        if profile.link is None:
            yield "rating", f"{name}: link between channels taken as {UNKNOWN_LINK_W_MK:g} W/(m K)", "common practice"
        if profile.invented:
            yield "catalogue", f"{name} is an invented profile: its output is no maker's", profile.source or "catalogue"
    for trunk in survey.trunks:
        if trunk.mixed_to_c is not None:
            yield "mixing", f"trunk {trunk.name}: its pressure drop counts in full at the pump", "model"
    if survey.project.water_film:
        yield (
            "emission",
            "water film: laminar 4.36, turbulent by formula; in the rating test as if turbulent",
            "Gnielinski",
        )
    else:
        yield "emission", "no water film: channel walls as warm as their water", "the survey's choice"
    if survey.project.pipe_losses:
        yield (
            "pipework",
            "tails and crossings lose heat; the survey tells what share is useful, else none",
            "EN ISO 12241",
        )
    else:
        yield "pipework", "tails and crossings lose no heat", "the survey's choice"
    yield from MODEL
