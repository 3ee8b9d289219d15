"""Parts sorted by supplier: the groups of an order and of an offer."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.handover.parts.model import ItemKind, Part

SKIRTING, VALVES, PIPES, WATER = (
    "Skirting, covers and emitters",
    "Valves and controls",
    "Pipe and insulation",
    "Water treatment products",
)

GROUPS = (SKIRTING, VALVES, PIPES, WATER)
"""In the order in which they are printed."""

OF_KIND: Mapping[ItemKind, str] = {"valve": VALVES, "pipe": PIPES, "insulation": PIPES}


def supplier_group(part: Part) -> str:
    """Group of a part by its kind; a consumable counted in litres is a water treatment product."""
    if part.kind == "consumable" and part.unit == "l":
        return WATER
    return OF_KIND.get(part.kind, SKIRTING)
