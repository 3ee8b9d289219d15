"""A house of twenty rooms and fourteen loops: Alder Lodge twice over, with a second bathroom and nursery added."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from pathlib import Path

from tests.helpers.paths import DATA

BLOCK = re.compile(r"(?m)^(?=\[)")
NAME = re.compile(r'(?m)^name = "([^"]+)"')
DOORWAY = re.compile(r'{ name = "([^"]+)", kind = "(?:glazed )?door"')
ADDED = ("Bathroom", "Nursery")


def large_house(folder: Path) -> Path:
    """Write the survey and its catalogue into a folder that is made, and return the path of the survey."""
    folder.mkdir(parents=True)
    shutil.copy(DATA / "alder-lodge" / "catalogue.toml", folder)
    blocks = BLOCK.split((DATA / "alder-lodge" / "survey.toml").read_text(encoding="utf-8"))
    rooms, loops = ([block for block in blocks if block.startswith(f"[[{kind}]]")] for kind in ("room", "loop"))
    rest = "".join(block for block in blocks if not block.startswith(("[[room]]", "[[loop]]")))
    every = {_name(block) for block in (*rooms, *loops)}
    doorways = Counter(name for block in rooms for name in DOORWAY.findall(block))
    doors = {name for name, count in doorways.items() if count == 2}
    added = {"room": _added(rooms), "loop": _added(loops)}
    text = "".join(
        [
            _of_a_large_house(rest),
            *rooms,
            *(_renamed(block, every | doors, "West") for block in rooms),
            *(_renamed(block, doors.union(ADDED), "Attic") for block in added["room"]),
            *loops,
            *(_renamed(block, every, "West") for block in loops),
            *(_renamed(block, set(ADDED), "Attic") for block in added["loop"]),
        ]
    )
    survey = folder / "survey.toml"
    survey.write_text(text, encoding="utf-8")
    return survey


def _name(block: str) -> str:
    found = NAME.search(block)
    return found[1] if found else ""


def _added(blocks: list[str]) -> list[str]:
    return [block for block in blocks if _name(block) in ADDED]


def _renamed(block: str, names: set[str], before: str) -> str:
    """A block with those names under others, for another part of the house."""
    return re.sub(r'"([^"]+)"', lambda one: f'"{before} {one[1]}"' if one[1] in names else one[0], block)


def _of_a_large_house(rest: str) -> str:
    """The head of the survey with a source and a pump for twice the load."""
    changes = {
        'name = "Alder Lodge"': 'name = "Alder Court"',
        "output_kw = 6.0": "output_kw = 14.0",
        "[0.0, 0.4, 0.8, 1.2], head_kpa = [34, 31, 25, 15], constant_kpa = 16.0": (
            "[0.0, 0.8, 1.6, 2.4], head_kpa = [54, 51, 45, 35], constant_kpa = 30.0"
        ),
        "volume_l = 12.0": "volume_l = 18.0",
    }
    for before, after in changes.items():
        assert before in rest, before
        rest = rest.replace(before, after)
    return rest
