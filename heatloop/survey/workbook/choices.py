"""Names to choose from in a workbook: those of its own rooms, loops and build-ups, and those of the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import FAR_SIDES
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.fields import TextField
from heatloop.survey.workbook.sheets import Column

SPARE_ROWS = 500
"""Last row of a sheet with lists to choose from."""

NAMES: Mapping[str, str] = {
    "beyond": "far_sides",
    "build_up": "build_ups",
    "copy_of": "rooms",
    "sensor_room": "rooms",
    "room": "rooms",
    "heats": "rooms",
    "trunk": "trunks",
    "from": "trunks",
    "profile": "profiles",
    "pipe": "pipes",
    "flow": "valves",
    "return": "valves",
    "emitter": "emitters",
    "Room": "rooms",
    "Loop": "loops",
    "Build-up": "own_build_ups",
    "Profile": "own_profiles",
}
"""Names to choose from, by the last part of a heading."""


@dataclass(frozen=True)
class NameList:
    """A list of names: in cells of another sheet, by title; or written out, names of `sheets` before it."""

    sheets: tuple[str, ...] = ()
    names: tuple[str, ...] = ()


def names_for(heading: str, column: Column | None) -> str | None:
    """The list of names for a column to choose from; None where there is none."""
    if column is not None and (column.is_list or not isinstance(column.field, TextField)):
        return None
    return NAMES.get(heading.rpartition(".")[2])


def name_lists(catalogue: Catalogue | None) -> dict[str, NameList]:
    """Every list of names; those of the catalogue are constant."""
    stock = catalogue or Catalogue()
    return {
        "rooms": NameList(("Rooms",)),
        "loops": NameList(("Loops",)),
        "own_build_ups": NameList(("Build-ups",)),
        "own_profiles": NameList(("Profiles",)),
        "trunks": NameList(("Trunks",)),
        "far_sides": NameList(("Rooms", "Spaces"), FAR_SIDES),
        "build_ups": NameList(("Build-ups",), tuple(usual_build_ups())),
        "profiles": NameList((), tuple(item.name for item in stock.profiles)),
        "pipes": NameList((), tuple(item.name for item in stock.pipes)),
        "valves": NameList((), tuple(item.name for item in stock.valves)),
        "emitters": NameList((), tuple(item.name for item in stock.emitters)),
    }
