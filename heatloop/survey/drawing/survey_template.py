"""A survey file started from a drawing: every wall is listed, and every missing value is marked "?".

:func:`heatloop.survey.entry.read_survey` rejects a survey that still contains a "?" and lists each place.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.drawing.rooms import DrawnOpening, DrawnRoom, DrawnWall
from heatloop.survey.room_geometry import STRAIGHT_WITHIN_DEG
from heatloop.survey.rules.rooms import compass_direction
from heatloop.text.files import write_whole
from heatloop.text.quoting import single_line

UNKNOWN = "?"
"""Mark for a value that the drawing does not contain."""
DOOR_M = 2.04
"""Height of an ordinary inner door, assumed where the drawing states none (common practice)."""
OUTER_WALL, PARTITION, FLOOR, CEILING = "outer wall", "partition", "floor", "ceiling"


@dataclass(frozen=True)
class TemplateOptions:
    """Values that are known already; None leaves a value to be entered.

    `catalogue` is the path that the survey states. If its `entries` are given, its first profile, pipe and valves are
    written into the loops. `origin` says where the rooms are from; `remarks` are lines of their own below it.
    """

    project: str = "New survey"
    catalogue: str = "catalogue.toml"
    entries: Catalogue | None = None
    height_m: float | None = None
    indoor_c: float | None = None
    outdoor_c: float | None = None
    flow_temp_c: float | None = None
    floor_beyond: str | None = None
    ceiling_beyond: str | None = None
    origin: str = "from a drawing"
    remarks: tuple[str, ...] = ()


def survey_skeleton(rooms: Sequence[DrawnRoom], options: TemplateOptions | None = None) -> str:
    """Text of a survey file (TOML) of rooms as drawn, with one loop around each room as a start.

    Lengths, turns, openings and the rooms behind walls are those of the drawing. "outdoors" is written where nothing is
    drawn behind a wall. Raises ValueError without rooms.
    """
    if not rooms:
        raise ValueError("no room found; a survey requires at least one")
    options = options or TemplateOptions()
    return "\n".join((*_head(options), *_build_ups(rooms), *_rooms(rooms, options), *_system(rooms, options))) + "\n"


def write_if_absent(folder: Path, files: Mapping[str, str | bytes]) -> list[Path]:
    """Write files, by name, into a folder that does not contain them; create the folder if necessary; return the paths.

    Raises InputError, with one line and nothing written, if one of the files exists already or the folder cannot be
    written.
    """
    there = [name for name in files if _is(folder / name)]
    if there:
        found = f"{', '.join(there)} there already"
        raise InputError([InputIssue(str(folder), "", found, "a folder without them: nothing is overwritten")])
    new_folder = not _is(folder)
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            write_whole(folder / name, text, over=False)
            written.append(folder / name)
    except (OSError, ValueError) as error:
        for path in written:
            path.unlink(missing_ok=True)
        if new_folder:
            with suppress(OSError):
                folder.rmdir()
        reason = getattr(error, "strerror", None) or str(error)
        fault = InputIssue(str(folder), "", f"a place that cannot be written to ({reason})", "another folder")
        raise InputError([fault]) from None
    return written


def _is(path: Path) -> bool:
    try:
        return path.exists() or path.is_symlink()
    except (OSError, ValueError):
        return False


def _head(options: TemplateOptions) -> Iterator[str]:
    yield f"# {single_line(options.project)}: {single_line(options.origin)}, to be completed on site."
    yield from (f"# {single_line(line)}" for line in options.remarks)
    yield "#"
    yield f'# Values that the drawing does not contain are marked "{UNKNOWN}": search for them and enter'
    yield "# them; heatloop lists all that remain. Lengths are from the drawing: measure each wall before cutting."
    yield "#"
    yield "# How to read the walls: each room is walked clockwise seen from above, the wall always on the left hand."
    yield "# Facing a wall its start is on your left; start_m counts from there. turn_deg is the turn at the END of a"
    yield "# wall: 90 at an ordinary inside corner and left out then, -90 at an outside corner, 0 where one straight"
    yield "# wall is written in two parts because another room lies behind the rest of it."
    yield ""
    yield "[project]"
    yield f"name = {_quoted(options.project)}"
    yield _line(f"outdoor_c = {_number(options.outdoor_c)}", "design outdoor temperature")
    yield _line("# annual_mean_c = 10.0", "outdoors, for a floor on the ground")
    yield _line(f"flow_temp_c = {_number(options.flow_temp_c)}", "of the water from the source")
    yield "delta_t_k = 7.0"
    yield f"catalogue = {_quoted(options.catalogue)}"
    yield ""
    yield "[building]"
    yield _line("# slab_area_m2 = 72.0", "both are required where a floor lies on the ground")
    yield _line("# slab_exposed_perimeter_m = 34.8", "")
    yield _line("thermal_bridge_w_m2k = 0.10", "0.05 good detailing, 0.10 other")
    yield ""


def _build_ups(rooms: Sequence[DrawnRoom]) -> Iterator[str]:
    yield "# --- Build-ups: a U-value, or layers from inside to outside; a usual one by age may be named instead -----"
    yield ""
    walls = [wall for room in rooms for wall in room.walls]
    names = dict.fromkeys(_wall_build_up(wall) for wall in walls)
    names |= dict.fromkeys(_opening_build_up(wall, o) for wall in walls for o in wall.openings)
    for name in (*names, FLOOR, CEILING):
        yield "[[build_up]]"
        yield f"name = {_quoted(name)}"
        yield f"u_w_m2k = {_number(None)}"
    yield ""


def _rooms(rooms: Sequence[DrawnRoom], options: TemplateOptions) -> Iterator[str]:
    yield "# --- Rooms " + "-" * 95
    for room in rooms:
        yield ""
        yield "[[room]]"
        yield f"name = {_quoted(room.name)}"
        yield f"level_m = {_plain(room.level_m)}"
        yield f"indoor_c = {_number(options.indoor_c)}"
        yield f"height_m = {_number(options.height_m)}"
        yield _line("# air_changes_h = 0.5", "outdoor air, leaks included; by rule for a habitable room unless given")
        for key, beyond in ((FLOOR, options.floor_beyond), (CEILING, options.ceiling_beyond)):
            text = f"{key} = {{ beyond = {_quoted(beyond or UNKNOWN)}, build_up = {_quoted(key)} }}"
            choices = '"ground", "outdoors", a room, a space; "neighbour" with neighbour_c'
            yield text if beyond else _line(text, choices)
        yield f"first_wall_bearing_deg = {_plain(room.first_wall_bearing_deg)}"
        yield "walls = ["
        for number, wall in enumerate(room.walls, start=1):
            yield f"  # {number} {_wall_words(wall, room.walls[number - 2])}"
            yield from _wall(wall)
        yield "]"


def _wall_words(wall: DrawnWall, before: DrawnWall) -> str:
    """Comment on a wall: side, direction, room behind it, and items to check."""
    words = f"{compass_direction(wall.bearing_deg - 90.0)} wall, going {compass_direction(wall.bearing_deg)}"
    if abs(before.turn_deg) <= STRAIGHT_WITHIN_DEG:
        words += ", straight on"
    words += (
        f"; {single_line(wall.beyond)} behind it"
        if wall.beyond
        else "; CHECK the space behind it: the drawing shows none"
    )
    if wall.turn_deg < -STRAIGHT_WITHIN_DEG:
        words += "; ENDS at an outside corner"
    if any(_door(o) and o.height_m is None for o in wall.openings):
        words += "; CHECK the height of the door"
    return words


def _wall(wall: DrawnWall) -> Iterator[str]:
    parts = [f"length_m = {_metres(wall.length_m)}"]
    if wall.turn_deg != 90.0:
        parts.append(f"turn_deg = {_plain(wall.turn_deg)}")
    parts.append(f"beyond = {_quoted(wall.beyond or 'outdoors')}")
    parts.append(f"build_up = {_quoted(_wall_build_up(wall))}")
    if not wall.openings:
        yield f"  {{ {', '.join(parts)} }},"
        return
    yield f"  {{ {', '.join(parts)}, openings = ["
    openings = [_opening(wall, opening) for opening in wall.openings]
    for number, text in enumerate(openings, start=1):
        yield f"      {text}{'' if number == len(openings) else ','}"
    yield "    ] },"


def _opening(wall: DrawnWall, opening: DrawnOpening) -> str:
    height = opening.height_m if opening.height_m is not None or not _door(opening) else DOOR_M
    parts = [f"name = {_quoted(opening.name)}"] if opening.name else []
    parts += [f"kind = {_quoted(opening.kind)}", f"start_m = {_metres(opening.start_m)}"]
    parts += [f"width_m = {_metres(opening.width_m)}", f"height_m = {_number(height)}"]
    if opening.sill_m is not None or not _door(opening):
        parts.append(f"sill_m = {_number(opening.sill_m)}")
    parts.append(f"build_up = {_quoted(_opening_build_up(wall, opening))}")
    return f"{{ {', '.join(parts)} }}"


def _door(opening: DrawnOpening) -> bool:
    return "door" in opening.kind


def _wall_build_up(wall: DrawnWall) -> str:
    return PARTITION if wall.beyond else OUTER_WALL


def _opening_build_up(wall: DrawnWall, opening: DrawnOpening) -> str:
    return f"{'inner' if wall.beyond else 'outer'} {opening.kind}" if _door(opening) else opening.kind


def _system(rooms: Sequence[DrawnRoom], options: TemplateOptions) -> Iterator[str]:
    entries = options.entries or Catalogue()
    profile = next((item.name for item in entries.profiles), UNKNOWN)
    pipe = next((item.name for item in entries.pipes), UNKNOWN)
    closing = next((item.name for item in entries.valves if item.kvs_m3_h is not None), UNKNOWN)
    setting = next((item.name for item in entries.valves if item.kvs_m3_h is None), UNKNOWN)
    yield ""
    yield "# --- Source and loops " + "-" * 84
    yield ""
    yield "[source]"
    yield 'kind = "heat source"'
    yield _line("# output_kw = 6.0", "with its pump: pump = { flow_m3_h = [0.0, 1.2], head_kpa = [34, 15] }")
    yield ""
    yield "# One loop round each room to begin with: join rooms, leave out walls, add from_m and to_m as it is laid."
    for room in rooms:
        walls = ", ".join(str(number) for number in range(1, len(room.walls) + 1))
        yield ""
        yield "[[loop]]"
        yield f"name = {_quoted(room.name)}"
        yield f"profile = {_quoted(profile)}"
        yield _line('arrangement = "there-and-back"', 'or "one-way", with flow_m and return_m of the tails')
        yield _line(
            f"tails = {{ pipe = {_quoted(pipe)}, length_m = {_number(None)} }}", "one way, from the source or a trunk"
        )
        yield f"crossing = {{ pipe = {_quoted(pipe)}, depth_m = 0.15 }}"
        yield f"valves = {{ flow = {_quoted(closing)}, return = {_quoted(setting)} }}"
        yield f"sensor_room = {_quoted(room.name)}"
        yield "route = ["
        yield f"  {{ room = {_quoted(room.name)}, walls = [{walls}] }},"
        yield "]"


def _line(text: str, comment: str) -> str:
    return f"{text:<39} # {comment}" if comment else text


def _quoted(text: str) -> str:
    """A text in TOML form: its basic strings escape as in JSON, except DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _number(value: float | None) -> str:
    return _quoted(UNKNOWN) if value is None else _plain(value)


def _metres(value: float) -> str:
    """A length with two decimals, or three if it has them."""
    text = f"{value:.3f}"
    return text.removesuffix("0")


def _plain(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}"
