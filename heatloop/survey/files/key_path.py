"""Location of a value in a file, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heatloop.text.quoting import brief

Loc = tuple[str | int, ...]

ITEMS = {
    "room": "room",
    "build_up": "build-up",
    "space": "space",
    "trunk": "trunk",
    "bypass": "bypass",
    "loop": "loop",
    "profile": "profile",
    "joint": "joint",
    "end": "end",
    "pipe": "pipe",
    "valve": "valve",
    "emitter": "emitter",
    "emitters": "emitter",
    "straight_joints": "straight joint",
    "layers": "layer",
    "walls": "wall",
    "openings": "opening",
    "obstacles": "obstacle",
    "covered": "covered stretch",
    "diagonals": "diagonal",
    "channels": "channel",
    "route": "route item",
    "arms": "arm",
    "arm_valves": "arm_valves",
}

NUMBERED = {"walls", "route", "arms", "arm_valves", "layers", "channels", "emitters", "straight_joints", "diagonals"}


def location_text(data: Any, loc: Loc) -> str:
    """`loc` in words: items by their name where they have one of their own, else by number from 1.

    >>> data = {"room": [{"name": "Hall", "walls": [{"length_m": 1}]}]}
    >>> location_text(data, ("room", 0, "walls", 0, "length_m"))
    'room "Hall", wall 1, length_m'
    """
    words: list[str] = []
    node, key = data, ""
    steps = list(loc)
    while steps:
        step = steps.pop(0)
        parent, node = node, _child(node, step)
        if isinstance(step, str):
            key = step
            index = steps[0] if steps and isinstance(steps[0], int) else None
            if not (isinstance(node, list) and index is not None):
                words.append(brief(step))
        elif isinstance(node, dict) or (key == "arms" and isinstance(node, list)):
            words.append(_item(parent, key, step, node))
            key = "items" if key == "arms" else key
        else:
            words.extend((key, f"value {step + 1}"))
    return ", ".join(words)


def place_in_file(place: str, cells: Mapping[str, str]) -> str:
    """A place in words, preceded by its cell if the file is a workbook.

    `cells`: the cells by their places in words. A place without its own cell has the cell of the item that contains it.

    >>> place_in_file('room "Hall", walls', {'room "Hall"': "Rooms!A3"})
    'Rooms!A3 (room "Hall", walls)'
    """
    outer = place
    while outer not in cells and ", " in outer:
        outer = outer.rpartition(", ")[0]
    return f"{cells[outer]} ({place})" if outer in cells else place


def _child(node: Any, step: str | int) -> Any:
    if isinstance(node, dict):
        return node.get(step)
    if isinstance(node, list) and isinstance(step, int) and step < len(node):
        return node[step]
    return None


def _item(siblings: list[Any], key: str, index: int, node: Any) -> str:
    label = ITEMS.get(key, "item" if key == "items" else key)
    own_name = node.get("name") if isinstance(node, dict) and key not in NUMBERED else None
    if not isinstance(own_name, str) or not own_name.strip():
        return f"{label} {index + 1}"
    name = brief(own_name)
    same = sum(isinstance(other, dict) and other.get("name") == own_name for other in siblings)
    return f'{label} "{name}"' if same == 1 else f'{label} {index + 1} "{name}"'
