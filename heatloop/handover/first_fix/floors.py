"""Opening for a pipe through the floor: a hole in timber, a sleeve in screed, or an opening in a floor not surveyed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import Layer, Room
from heatloop.survey.survey import SurveyData

OpeningWord = Literal["hole", "sleeve", "opening"]

INSULATING_W_MK = 0.1
"""A layer that conducts less counts as insulation."""

SOLID_W_MK = 0.4
"""A top layer of a floor that conducts at least this is screed or slab; boards and sheets conduct less."""


@dataclass(frozen=True)
class FloorAtPipes:
    """The floor of a room at its pipes.

    The name of an opening in it, its material, and the depth (m) above the structural slab in which pipe can lie. The
    depth is NaN where the floor has no slab or its layers are not stated.
    """

    word: OpeningWord
    made_of: str
    depth_m: float = math.nan


def floor_at_pipes(survey: SurveyData, room: Room) -> FloorAtPipes:
    """The floor of a room by its build-up.

    Timber over a room, a space or a void gives a hole; screed or slab gives a sleeve, set before it is cast. A floor
    that the survey does not state, or states without layers above another room, gives an opening.
    """
    floor = room.floor
    if floor is None:
        return FloorAtPipes("opening", "floor not surveyed")
    layers, suspended = _construction(survey, floor.build_up)
    words = _words(layers)
    if floor.beyond == "ground" and not suspended:
        return FloorAtPipes("sleeve", f"{words} on slab" if words else "solid ground floor", _screed_m(layers))
    if suspended:
        return FloorAtPipes("hole", words or "suspended floor")
    if not layers:
        return _by_name(floor.build_up or "")
    downwards = _downwards(layers)
    words = _words(downwards)
    if _is_solid(downwards[0]):
        return FloorAtPipes("sleeve", words, _screed_m(downwards))
    return FloorAtPipes("hole", words)


def _words(layers: Sequence[Layer]) -> str:
    """Materials with their thickness in mm."""
    return ", ".join(f"{layer.material} {layer.thickness_m * 1000.0:g}" for layer in layers)


def _by_name(name: str) -> FloorAtPipes:
    """A floor above another room whose layers are not stated: timber or concrete, if the library states which."""
    if name in usual_build_ups() and "timber" in name:
        return FloorAtPipes("hole", name)
    if name in usual_build_ups() and "concrete" in name:
        return FloorAtPipes("sleeve", name)
    return FloorAtPipes("opening", "floor without stated layers")


def _construction(survey: SurveyData, name: str | None) -> tuple[tuple[Layer, ...], bool]:
    """Layers of a build-up from inside to outside, and whether it is suspended."""
    if name is None:
        return (), False
    own = next((build_up for build_up in survey.build_ups if build_up.name == name), None)
    if own is not None:
        return own.layers, own.suspended
    usual = usual_build_ups().get(name)
    return (), usual is not None and usual.suspended


def _downwards(layers: Sequence[Layer]) -> tuple[Layer, ...]:
    """Layers from the top face of the floor; a build-up shared with the ceiling below may be listed from either face.

    The face of screed or boards is the top; plaster is not a floor finish.
    """
    ceiling = ("plaster", "skim")
    if any(word in layers[0].material.lower() for word in ceiling):
        return tuple(reversed(layers))
    return tuple(layers)


def _is_solid(layer: Layer) -> bool:
    return layer.conductivity_w_mk is not None and layer.conductivity_w_mk >= SOLID_W_MK


def _screed_m(layers: Sequence[Layer]) -> float:
    """Depth from the top of the floor to the underside of its lowest insulation.

    Without insulation: depth of the layers above the last one. NaN where no layers are stated.
    """
    if not layers:
        return math.nan
    insulating = [i for i, layer in enumerate(layers) if _insulates(layer)]
    last = insulating[-1] + 1 if insulating else len(layers) - 1
    return math.fsum(layer.thickness_m for layer in layers[:last])


def _insulates(layer: Layer) -> bool:
    if layer.cavity is not None:
        return False
    if layer.conductivity_w_mk is not None:
        return layer.conductivity_w_mk < INSULATING_W_MK
    return layer.resistance_m2k_w is not None and layer.thickness_m / layer.resistance_m2k_w < INSULATING_W_MK
