"""Surveys begun from a drawing: outlines, doors, faults with coordinates, the skeleton, and the started folder."""

from __future__ import annotations

import json
import math
import random
import re
import sys
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

from heatloop.__main__ import main
from heatloop.findings.input_errors import InputError
from heatloop.survey.drawing.options import DrawingOptions
from heatloop.survey.drawing.outlines import Outline, closed_outline, joined_lines
from heatloop.survey.drawing.read_dxf import read_drawing
from heatloop.survey.drawing.rooms import DrawnRoom, traverse_turns_deg
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton
from heatloop.survey.entry import read_survey
from heatloop.survey.read import read_catalogue
from heatloop.survey.room_geometry import room_geometry
from heatloop.survey.starter_files import start_files
from tests.helpers.paths import DATA

ezdxf = pytest.importorskip("ezdxf")
display = pytest.importorskip("IPython.display").display

UNITS = {"mm": (4, 1000.0), "cm": (5, 100.0), "m": (6, 1.0), "in": (1, 1.0 / 0.0254), "ft": (2, 1.0 / 0.3048)}
L_SHAPE = [(0, 0), (0, 5), (2, 5), (2, 3), (6, 3), (6, 0)]


class Sheet:
    """A drawing made in metres and written in other units."""

    def __init__(self, unit: str = "mm") -> None:
        code, self.scale = UNITS[unit]
        self.document = ezdxf.new()
        self.document.header["$INSUNITS"] = code
        self.space = self.document.modelspace()

    def at(self, point):
        return point[0] * self.scale, point[1] * self.scale

    def room(self, points, layer="ROOMS", close=True, **more):
        points = [self.at(p) for p in points]
        return self.space.add_lwpolyline(points, close=close, dxfattribs={"layer": layer}, **more)

    def lines(self, *pairs, layer="ROOMS"):
        for a, b in pairs:
            self.space.add_line(self.at(a), self.at(b), dxfattribs={"layer": layer})

    def text(self, words, point, height=0.2):
        self.space.add_text(words, height=height * self.scale).set_placement(self.at(point))

    def door(self, point, rotation=0.0, width=0.84, name="DOOR", layer="0", mirrored=False):
        """A leaf and its swing, hinged at the insertion point."""
        if name not in self.document.blocks:
            block = self.document.blocks.new(name)
            w = width * self.scale
            block.add_line((0, 0), (0, w))
            block.add_arc((0, 0), w, 0, 90)
            block.add_line((0, 0), (w, 0))
        more = {"layer": layer, "rotation": rotation, "xscale": -1.0 if mirrored else 1.0}
        return self.space.add_blockref(name, self.at(point), dxfattribs=more)

    def tagged(self, point, name="WINDOW", layer="0", **tags):
        """A block without lines, its measures in attributes."""
        if name not in self.document.blocks:
            self.document.blocks.new(name)
        reference = self.space.add_blockref(name, self.at(point), dxfattribs={"layer": layer})
        for tag, value in tags.items():
            text = f"{value * self.scale:g}" if isinstance(value, float) else value
            reference.add_attrib(tag, text, self.at(point))
        return reference

    def save(self, folder: Path) -> Path:
        path = folder / "plan.dxf"
        self.document.saveas(path)
        return path


def _lengths(room: DrawnRoom) -> list[float]:
    return [wall.length_m for wall in room.walls]


def _turns(room: DrawnRoom) -> list[float]:
    return [wall.turn_deg for wall in room.walls]


def _faults(path: Path, layer: str = "ROOMS", options: DrawingOptions | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_drawing(path, layer, options)
    return [str(fault).removeprefix(f"{path}: ") for fault in caught.value.issues]


# --- Outlines -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("turned", [False, True])
def test_a_closed_polyline_is_a_clockwise_traverse(tmp_path: Path, unit: str, turned: bool) -> None:
    sheet = Sheet(unit)
    sheet.room(L_SHAPE[::-1] if turned else L_SHAPE)
    sheet.text("Kitchen", (1, 1))
    (room,) = read_drawing(sheet.save(tmp_path), "rooms")
    assert room.name == "Kitchen"
    assert _lengths(room) == [5.0, 2.0, 2.0, 4.0, 3.0, 6.0]
    assert _turns(room) == [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]
    assert room.first_wall_bearing_deg == 0.0
    assert room.drawn_area_m2 == pytest.approx(5 * 2 + 3 * 4)


def test_units_asked_for_come_before_those_of_the_drawing(tmp_path: Path) -> None:
    sheet = Sheet("mm")
    sheet.document.header["$INSUNITS"] = 6  # says metres, is millimetres
    sheet.room(L_SHAPE)
    path = sheet.save(tmp_path)
    (line,) = _faults(path)
    assert "at (0, 0): found a wall of 6000 m, the drawing being in m" in line
    (room,) = read_drawing(path, "ROOMS", DrawingOptions(units="mm"))
    assert room.walls[0].length_m == 5.0


def test_old_polylines_and_separate_lines_serve_too(tmp_path: Path) -> None:
    sheet = Sheet("m")
    sheet.space.add_polyline2d([(0, 0), (0, 3), (4, 3), (4, 0)], close=True, dxfattribs={"layer": "ROOMS"})
    square = [(5, 0), (5, 3), (8, 3), (8, 0)]
    sheet.lines(*zip(square, [*square[1:], square[0]], strict=True))
    sheet.lines(((5, 0), (5, 3)))  # drawn twice
    rooms = read_drawing(sheet.save(tmp_path), "ROOMS")
    assert [_lengths(room) for room in rooms] == [[3.0, 4.0, 3.0, 4.0], [3.0, 3.0, 3.0, 3.0]]
    assert [room.name for room in rooms] == ["Room 1", "Room 2"]


def test_small_slips_of_the_draughtsman_are_set_square() -> None:
    assert traverse_turns_deg([(0, 0), (0.004, 3.0), (4.0, 2.997), (4.0, 0)], 1.0) == (90.0,) * 4
    # a wall out of square by more keeps its angle: atan(0.2/3) = 3.81 degrees
    turns = traverse_turns_deg([(0, 0), (0.2, 3.0), (4.0, 3.0), (4.0, 0)], 1.0)
    assert turns == pytest.approx((86.19, 90.0, 90.0, 93.81), abs=0.005)
    # a long wall 0.9 degrees off would leave the room open by 90 mm if squared: it is not
    far = 6.0 * math.tan(math.radians(0.9))
    skew = traverse_turns_deg([(0, 0), (far, 6.0), (4.0, 6.0), (4.0, 0)], 1.0)
    assert skew[0] == pytest.approx(89.1, abs=0.01)


def test_a_bay_and_points_along_a_wall(tmp_path: Path) -> None:
    sheet = Sheet()
    bay = [(0, 0), (0, 2), (0, 4), (5, 4), (5, 3), (5.6, 2.4), (5.6, 1.4), (5, 0.8), (5, 0)]
    sheet.room(bay)
    (room,) = read_drawing(sheet.save(tmp_path), "ROOMS")
    assert _turns(room) == [90.0, 90.0, -45.0, 45.0, 45.0, -45.0, 90.0, 90.0]
    assert _lengths(room)[0] == 4.0  # the point at 2 m along is no corner
    assert _lengths(room)[3] == pytest.approx(math.hypot(0.6, 0.6), abs=5e-4)


def test_names_are_the_largest_text_inside_that_is_no_measure(tmp_path: Path) -> None:
    sheet = Sheet()
    for x in (0, 5, 10):
        sheet.room([(x, 0), (x, 3), (x + 4, 3), (x + 4, 0)])
    sheet.text("12.0 m2", (1, 2), 0.4)
    sheet.text("socket", (1, 1), 0.1)
    sheet.space.add_mtext("Bed\\Proom", dxfattribs={"char_height": 200}).set_location(sheet.at((6, 2)))
    sheet.text("Store", (2, 2), 0.2)
    sheet.text("Store", (11, 2), 0.2)
    sheet.text("outside", (20, 2), 0.9)
    names = [room.name for room in read_drawing(sheet.save(tmp_path), "ROOMS")]
    assert names == ["Store", "Bed", "Store 2"]


# --- Doors ----------------------------------------------------------------------------------------------------


def _two_rooms(sheet: Sheet, gap: bool = False) -> None:
    """A hall to the west, 3 m square, a room to the east of it behind a wall 0.1 m thick."""
    if gap:
        sheet.lines(
            ((3, 1.2), (3, 0)), ((3, 0), (0, 0)), ((0, 0), (0, 3)), ((0, 3), (3, 3)), ((3, 3), (3, 2.1)),
        )  # fmt: skip
    else:
        sheet.room([(0, 0), (0, 3), (3, 3), (3, 0)])
    sheet.room([(3.1, 0), (3.1, 3), (7.1, 3), (7.1, 0)])
    sheet.text("Hall", (1, 1))
    sheet.text("Study", (5, 1))


def _both_sides(rooms: tuple[DrawnRoom, ...]) -> list[tuple]:
    by_name = {room.name: room for room in rooms}
    return [
        (name, wall, o.name, o.start_m, o.width_m)
        for name in ("Hall", "Study")
        for wall, w in enumerate(by_name[name].walls, start=1)
        for o in w.openings
    ]


@pytest.mark.parametrize("how", ["block", "mirrored", "gap", "attribute", "block and gap"])
def test_a_doorway_is_one_opening_with_two_sides(tmp_path: Path, how: str) -> None:
    # from 1.2 to 2.1 m along the hall's east wall as drawn (y), whatever draws it
    sheet = Sheet()
    _two_rooms(sheet, "gap" in how)
    if "block" in how:
        sheet.door((3.05, 1.2), 90.0, 0.9)
    if how == "mirrored":
        sheet.door((3.05, 2.1), 90.0, 0.9, mirrored=True)
    if how == "attribute":
        sheet.tagged((3.05, 1.65), "DOOR", WIDTH=0.9)
    sides = _both_sides(read_drawing(sheet.save(tmp_path), "ROOMS"))
    name = sides[0][2]
    assert name in ("Hall to Study", "Study to Hall")
    # the hall's wall 3 goes south from y = 3, the study's wall 1 goes north from y = 0
    assert sides == [
        ("Hall", 3, name, pytest.approx(0.9, abs=1.1e-3), pytest.approx(0.9, abs=1.1e-3)),
        ("Study", 1, name, pytest.approx(1.2, abs=1.1e-3), pytest.approx(0.9, abs=1.1e-3)),
    ]


def test_a_window_of_one_room_with_its_measures(tmp_path: Path) -> None:
    sheet = Sheet()
    _two_rooms(sheet)
    sheet.tagged((5.0, 3.2), WIDTH=1.2, SILL=0.9, HEIGHT=1.1)
    sheet.tagged((1.0, 0.0), "GLAZED DOORS", WIDTH=1.4, NAME="garden doors")
    rooms = {room.name: room for room in read_drawing(sheet.save(tmp_path), "ROOMS")}
    (window,) = rooms["Study"].walls[1].openings
    assert (window.kind, window.name, window.height_m, window.sill_m) == ("window", "", 1.1, 0.9)
    assert (window.start_m, window.width_m) == (1.3, 1.2)  # 5.0 - 3.1 - 0.6
    (doors,) = rooms["Hall"].walls[3].openings
    assert (doors.kind, doors.name, doors.start_m) == ("glazed door", "garden doors", 1.3)  # 3.0 - 1.0 - 0.7


def test_layers_of_doors_and_windows_leave_furniture_alone(tmp_path: Path) -> None:
    sheet = Sheet()
    _two_rooms(sheet)
    sheet.door((3.05, 1.2), 90.0, 0.9, name="D-17", layer="OPENINGS")
    sheet.door((1.0, 1.5), 0.0, 0.9, name="CUPBOARD DOOR", layer="FURNITURE")
    path = sheet.save(tmp_path)
    options = DrawingOptions(door_layers=("openings",))
    assert [side[:2] for side in _both_sides(read_drawing(path, "ROOMS", options))] == [("Hall", 3), ("Study", 1)]
    (line,) = _faults(path)  # by its name the cupboard is a door, and stands on no wall
    assert "at (1000, 1500): found a door 0.90 m wide on no wall of a room" in line


def test_a_door_in_a_corner_is_in_the_wall_it_is_turned_to(tmp_path: Path) -> None:
    sheet = Sheet()
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)])
    sheet.door((0.02, 0.0), 0.0, 0.8)
    (room,) = read_drawing(sheet.save(tmp_path), "ROOMS")
    assert [(w, o.start_m) for w, wall in enumerate(room.walls, 1) for o in wall.openings] == [
        (4, pytest.approx(3.18, abs=1e-3))
    ]


def test_a_wall_is_written_in_as_many_parts_as_it_has_rooms_behind_it(tmp_path: Path) -> None:
    sheet = Sheet()
    sheet.room([(0, 0), (0, 3), (6.1, 3), (6.1, 0)])
    sheet.room([(0, 3.1), (0, 6), (2, 6), (2, 3.1)])
    sheet.room([(2.1, 3.1), (2.1, 6), (4.1, 6), (4.1, 3.1)])
    for name, x, y in (("South", 3, 1), ("West", 1, 5), ("East", 3, 5)):
        sheet.text(name, (x, y))
    sheet.door((3.9, 3.05), 180.0, 0.8)
    rooms = {room.name: room for room in read_drawing(sheet.save(tmp_path), "ROOMS")}
    north = rooms["South"].walls[1:4]
    assert [(w.length_m, w.turn_deg, w.beyond) for w in north] == [
        (2.05, 0.0, "West"), (2.05, 0.0, "East"), (2.0, 90.0, None),
    ]  # fmt: skip
    assert [(o.name, o.start_m) for o in north[1].openings] == [("South to East", pytest.approx(1.05, abs=1e-3))]
    assert rooms["West"].walls[2].beyond == "East"
    assert rooms["West"].walls[0].beyond is None


# --- Faults -----------------------------------------------------------------------------------------------------


def test_every_fault_of_the_outlines_is_told_at_once_with_its_place(tmp_path: Path) -> None:
    sheet = Sheet("mm")
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)], close=False)  # the last side left out
    sheet.room([(10, 0), (14, 3), (14, 0), (10, 3)])  # crosses itself
    sheet.space.add_lwpolyline(
        [(20000, 0, 0), (20000, 3000, 0.5), (24000, 3000, 0), (24000, 0, 0)], format="xyb", close=True,
        dxfattribs={"layer": "ROOMS"},
    )  # fmt: skip
    sheet.room([(30, 0), (30, 0.2), (30.4, 0.2), (30.4, 0)])
    sheet.lines(((40, 0), (40, 3)), ((40, 3), (44, 3)), ((44, 3), (44, 0)), ((44, 0), (40, 0)), ((44, 0), (46, 0)))
    sheet.space.add_circle((50000, 1000), 300, dxfattribs={"layer": "ROOMS"})
    lines = _faults(sheet.save(tmp_path))
    required = [
        'layer "ROOMS", at (0, 0) and (4000, 0): found an outline open by 4.000 m; required: a closed outline',
        'layer "ROOMS", at (12000, 1500): found two sides of an outline that cross or touch',
        'layer "ROOMS", at (20000, 3000): found a curved side; required: straight sides',
        'layer "ROOMS", at (30000, 0): found an outline of 0.08 m2; required: a room of at least 0.3 m2',
        'layer "ROOMS", at (44000, 0): found 3 lines that meet in one point',
        'layer "ROOMS", at (50000, 1000): found a circle',
    ]
    for start in required:
        assert any(line.startswith(start) for line in lines), start
    assert len(lines) == len(required)


def test_a_gap_that_no_wall_runs_towards_is_no_doorway(tmp_path: Path) -> None:
    sheet = Sheet("m")
    # the ends are 0.9 m apart, one wall short of the corner and the other going away from it
    sheet.lines(((0, 0), (0, 3)), ((0, 3), (3, 3)), ((3, 3), (3, 0.9)), ((2.6, 0), (0, 0)))
    (line,) = _faults(sheet.save(tmp_path))
    assert line.startswith('layer "ROOMS", at (3, 0.9) and (2.6, 0): found an outline open by 0.985 m')


def test_a_doorway_beside_a_corner(tmp_path: Path) -> None:
    sheet = Sheet("m")
    sheet.lines(((0, 0), (0, 3)), ((0, 3), (3, 3)), ((3, 3), (3, 0)), ((2.1, 0), (0, 0)))
    (room,) = read_drawing(sheet.save(tmp_path), "ROOMS")
    assert _lengths(room) == [3.0, 3.0, 3.0, 3.0]
    (door,) = room.walls[3].openings
    assert (door.start_m, door.width_m) == (0.0, pytest.approx(0.9))


def test_outlines_over_each_other_are_told(tmp_path: Path) -> None:
    sheet = Sheet("m")
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)])
    sheet.room([(-0.4, -0.4), (-0.4, 3.4), (4.4, 3.4), (4.4, -0.4)])  # the building's outer face
    (line,) = _faults(sheet.save(tmp_path))
    assert "found outlines of 12.0 m2 and 18.2 m2 that lie over each other" in line


def test_a_layer_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    sheet = Sheet()
    sheet.room(L_SHAPE, layer="A-ROOM")
    sheet.lines(((0, 0), (1, 0)), ((2, 0), (3, 0)), layer="GRID")
    sheet.document.layers.add("EMPTY")
    path = sheet.save(tmp_path)
    (line,) = _faults(path, "ROOM")
    assert line == (
        'found layer "ROOM", which is not in the drawing; required: a layer with room outlines; the nearest is '
        '"A-ROOM"; lines are on "GRID" (2), "A-ROOM" (1)'
    )
    assert "which holds no lines" in _faults(path, "empty")[0]


def test_no_units_and_a_crossed_outline_are_told_together(tmp_path: Path) -> None:
    sheet = Sheet()
    sheet.document.header["$INSUNITS"] = 0
    sheet.room([(10, 0), (14, 3), (14, 0), (10, 3)])
    sheet.lines(((0, 0), (0, 3)))
    path = sheet.save(tmp_path)
    units, crossed = _faults(path)
    assert units.startswith("found no units in the drawing ($INSUNITS is 0); required: the unit of the drawing")
    assert "at (12000, 1500)" in crossed
    sheet.document.header["$INSUNITS"] = 3
    assert "units of code 3 ($INSUNITS)" in _faults(sheet.save(tmp_path))[0]
    assert (
        'units: found "furlong"; required: one of mm, cm' in _faults(path, options=DrawingOptions(units="furlong"))[0]
    )


def test_doors_on_no_wall_and_without_width(tmp_path: Path) -> None:
    sheet = Sheet()
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)])
    sheet.door((2, 1.5))
    sheet.tagged((1, 3), "WINDOW")
    sheet.door((0.0, -0.1), 90.0, 3.5, name="WIDE DOOR")
    lines = _faults(sheet.save(tmp_path))
    assert len(lines) == 3
    assert 'at (1000, 3000): found the block "WINDOW", a window without lines and without width' in lines[0]
    assert "at (2000, 1500): found a door 0.84 m wide on no wall" in lines[1]
    assert "at (0, -100): found a door 3.50 m wide on no wall" in lines[2]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "no such file"),
        (b"not a drawing\n", "what is not a DXF drawing"),
        (b"", "what is not a DXF drawing"),
        (b"AC1032\x00\x00binary", "a DWG drawing; required: the same saved as DXF"),
    ],
)
def test_files_that_are_no_drawing(tmp_path: Path, content: bytes | None, words: str) -> None:
    path = tmp_path / "plan.dxf"
    if content is not None:
        path.write_bytes(content)
    (line,) = _faults(path)
    assert words in line
    (line,) = _faults(tmp_path)
    assert "a folder" in line


def test_what_to_install_where_the_library_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf.filemanagement", None)
    (line,) = _faults(tmp_path / "plan.dxf")
    assert 'pip install "heatloop[drawing]"' in line


def test_a_damaged_drawing_is_never_a_traceback(tmp_path: Path) -> None:
    sheet = Sheet()
    _two_rooms(sheet, gap=True)
    sheet.door((3.05, 1.2), 90.0, 0.9)
    path = sheet.save(tmp_path)
    text = path.read_text()
    start = text.index("ENTITIES")
    shuffled = random.Random(4)
    outcomes = []
    for _ in range(60):
        at = shuffled.randrange(start, len(text) - 20)
        path.write_text(text[:at] + shuffled.choice(["", "x", "-1", "\n", "1e9"]) + text[at + shuffled.randrange(8) :])
        try:
            read_drawing(path, "ROOMS")
            outcomes.append(0)
        except InputError as error:
            outcomes.append(len(error.issues))
    assert 0 in outcomes, "some damage is harmless"
    assert max(outcomes) > 0, "some is refused, with its issues"


# --- Geometry by itself ------------------------------------------------------------------------------------------


def _staircase(seed: int) -> list[tuple[float, float]]:
    """A room with random steps, its corners clockwise."""
    shuffled = random.Random(seed)
    x, y = 0.0, 3.0
    points = [(0.0, 0.0), (0.0, 3.0)]
    for _ in range(shuffled.randrange(1, 5)):
        x += round(shuffled.uniform(0.5, 2.0), 3)
        points.append((x, y))
        y += round(shuffled.choice([-1, 1]) * shuffled.uniform(0.3, 0.6), 3)
        points.append((x, y))
    return [*points, (x + 1.0, y), (x + 1.0, 0.0)]


@pytest.mark.parametrize("seed", range(12))
def test_any_room_comes_back_as_it_was_drawn(seed: int) -> None:
    points = _staircase(seed)
    shuffled = random.Random(seed)
    angle = shuffled.uniform(0, 360)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turned = [(50 + c * x - s * y, -20 + s * x + c * y) for x, y in points]
    start = shuffled.randrange(len(turned))
    turned = turned[start:] + turned[:start]
    outline = closed_outline(turned[:: shuffled.choice([1, -1])], 0.005)
    segments = list(zip(turned, [*turned[1:], turned[0]], strict=True))
    shuffled.shuffle(segments)
    (joined,) = joined_lines([(b, a) if shuffled.random() < 0.5 else (a, b) for a, b in segments], 0.005, 3.0)
    assert isinstance(outline, Outline)
    assert isinstance(joined, Outline)
    assert joined.corners_m == outline.corners_m
    lengths = sorted(math.dist(a, b) for a, b in outline.walls)
    assert lengths == pytest.approx(sorted(math.dist(a, b) for a, b in segments))
    turns = traverse_turns_deg(outline.corners_m, 1.0)
    assert set(turns) == {90.0, -90.0}
    assert sum(turns) == 360.0
    geometry = room_geometry([math.dist(a, b) for a, b in outline.walls], turns)
    assert geometry.misclosure_m < 1e-9
    assert geometry.floor_area_m2 == pytest.approx(outline.area_m2)


# --- The skeleton -------------------------------------------------------------------------------------------------


def _filled(text: str) -> str:
    """A skeleton with every mark filled in."""
    values = {
        "outdoor_c": "-3.0", "flow_temp_c": "50.0", "u_w_m2k": "0.5", "indoor_c": "20.0", "height_m": "2.4",
        "sill_m": "0.9", "length_m": "3.0", "beyond": '"outdoors"', "profile": '"two-channel"', "pipe": '"copper 15"',
        "flow": '"thermostatic 15"', "return": '"lockshield 15"',
    }  # fmt: skip
    text = re.sub(r'height_m = "\?", sill_m', "height_m = 1.2, sill_m", text)
    return re.sub(r'(\w+) = "\?"', lambda m: f"{m[1]} = {values[m[1]]}", text)


def _house(folder: Path) -> Path:
    sheet = Sheet()
    sheet.room([(0, 3.1), (0, 6.002), (3, 6.002), (3, 3.1)])
    sheet.room([(3.1, 3.1), (6.5, 3.1), (6.5, 6), (3.1, 6)])
    sheet.lines(((0, 0), (0, 3)), ((0, 3), (1, 3)), ((1.9, 3), (6.5, 3)))
    sheet.lines(((6.5, 3), (7.1, 2.4)), ((7.1, 2.4), (7.1, 0)), ((7.1, 0), (0, 0)))
    sheet.door((3.05, 4.0), 90.0)
    sheet.tagged((4.8, 6.1), WIDTH=1.2)
    for name, x, y in (('Hall "A"', 1.5, 4.5), ("Kitchen\\back", 4.5, 4.5), ("Living room", 3, 1.5)):
        sheet.text(name, (x, y))
    return sheet.save(folder)


def test_outline_to_skeleton_to_survey_keeps_lengths_and_area(tmp_path: Path) -> None:
    start_files(tmp_path / "start")
    (tmp_path / "catalogue.toml").write_bytes((tmp_path / "start" / "catalogue.toml").read_bytes())
    rooms = read_drawing(_house(tmp_path), "ROOMS")
    text = survey_skeleton(rooms)
    path = tmp_path / "survey.toml"
    path.write_text(_filled(text), encoding="utf-8")
    survey = read_survey(path)
    assert [room.name for room in survey.rooms] == ['Hall "A"', "Kitchen\\back", "Living room"]
    for drawn, room in zip(rooms, survey.rooms, strict=True):
        assert [w.length_m for w in room.walls] == [w.length_m for w in drawn.walls]
        assert [w.turn_deg for w in room.walls] == [w.turn_deg for w in drawn.walls]
        geometry = room_geometry(
            [w.length_m for w in room.walls], [w.turn_deg for w in room.walls], room.first_wall_bearing_deg
        )
        assert geometry.floor_area_m2 == pytest.approx(drawn.drawn_area_m2, abs=0.01)
        assert geometry.misclosure_m < 0.005
    assert survey.room('Hall "A"').walls[0].length_m == 2.902
    shared = {o.name for w in survey.room("Living room").walls for o in w.openings}
    assert shared == {'Living room to Hall "A"'}
    assert survey.room('Hall "A"').walls[2].beyond == "Kitchen\\back"


def test_a_skeleton_names_every_value_that_is_left(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    text = survey_skeleton(read_drawing(_house(tmp_path), "ROOMS"))
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_survey(path)
    told = [fault for fault in caught.value.issues if "?" in fault.found]
    # names of the catalogue cannot be judged before there is one
    marks = [key for key in re.findall(r'(\w+) = "\?"', text) if key not in ("profile", "pipe", "flow", "return")]
    assert len(told) == len(marks) > 20
    assert any(f.place == 'room "Living room", indoor_c' and "°C" in f.required for f in told)
    assert any(f.place == 'build-up "outer wall", u_w_m2k' for f in told)
    assert any("where there is no file" in fault.found for fault in caught.value.issues)


def test_what_is_known_is_written_in(tmp_path: Path) -> None:
    start_files(tmp_path)
    options = TemplateOptions(
        project="Job", entries=read_catalogue(tmp_path / "catalogue.toml"), level_m=2.7, height_m=2.5, indoor_c=20.0,
        outdoor_c=-5.0, flow_temp_c=45.0, floor_beyond="outdoors", ceiling_beyond="outdoors",
    )  # fmt: skip
    text = survey_skeleton(read_drawing(_house(tmp_path), "ROOMS"), options)
    for part in ('profile = "two-channel"', "level_m = 2.7", "indoor_c = 20", "height_m = 2.5", "outdoor_c = -5"):
        assert part in text
    left = re.findall(r'^[^#"\n]*(\w+) = "\?"', text, re.MULTILINE)
    assert "indoor_c" not in text.split('"?"')[0].split("\n")[-1]
    assert set(re.findall(r'(\w+) = "\?"', text)) == {"u_w_m2k", "length_m", "height_m", "sill_m"}
    assert left
    with pytest.raises(ValueError, match="requires at least one"):
        survey_skeleton(())


# --- The started folder ----------------------------------------------------------------------------------------------


def test_a_started_folder_runs_at_once(tmp_path: Path) -> None:
    import heatloop as hl

    written = start_files(tmp_path / "new" / "job")
    assert [path.name for path in written] == ["survey.toml", "catalogue.toml", "design.ipynb"]
    design = hl.size(written[0])
    assert design.summary["checks_failed"] == 0
    assert len(design.rooms) == 2
    assert (design.rooms["margin_w"] > 0).all()


def test_the_started_notebook_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nbformat = pytest.importorskip("nbformat")
    start_files(tmp_path)
    notebook = json.loads((tmp_path / "design.ipynb").read_text(encoding="utf-8"))
    nbformat.validate(notebook)
    monkeypatch.chdir(tmp_path)
    names: dict = {"display": display}
    try:
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                exec(compile("".join(cell["source"]), cell["id"], "exec"), names)
    finally:
        plt.close("all")
    assert names["design"].summary["project"] == "Corner flat"
    assert len(names["first_fix"].marks) > 0


def test_a_survey_is_started_from_a_drawing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "job"
    assert main(["start", str(folder), "--drawing", str(_house(tmp_path)), "--north", "90"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[:2] == [str(folder / "survey.toml"), str(folder / "catalogue.toml")]
    assert told[2].startswith("next: fill in every ?")
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    assert text.count("[[room]]") == 3
    assert "first_wall_bearing_deg = 90" in text
    assert 'profile = "?"' not in text  # the first of the catalogue beside it
    with pytest.raises(InputError) as caught:
        read_survey(folder / "survey.toml")
    assert all("?" in fault.found or "nothing" in fault.found for fault in caught.value.issues)


def test_faults_of_a_drawing_reach_the_command_line_with_their_coordinates(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = Sheet("mm")
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)], close=False)
    sheet.room([(10, 0), (14, 3), (14, 0), (10, 3)])
    path = sheet.save(tmp_path)
    assert main(["start", str(tmp_path / "job"), "--drawing", str(path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert any("at (0, 0) and (4000, 0): found an outline open by 4.000 m" in line for line in lines)
    assert any("at (12000, 1500): found two sides of an outline that cross" in line for line in lines)
    assert main(["start", str(tmp_path / "job"), "--drawing", str(path), "--layer", "WALLS"]) == 2
    assert 'lines are on "ROOMS"' in capsys.readouterr().err
    assert not (tmp_path / "job").exists()


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text("mine")
    with pytest.raises(InputError) as caught:
        start_files(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: found catalogue.toml there already; required: a folder without them: nothing is overwritten"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["catalogue.toml"]
    assert (tmp_path / "catalogue.toml").read_text() == "mine"
    with pytest.raises(InputError, match="cannot be written to"):
        start_files(tmp_path / "catalogue.toml" / "job")


# --- A whole house, drawn and read back ------------------------------------------------------------------------


def test_the_demo_house_comes_back_from_its_own_drawing(tmp_path: Path) -> None:
    from heatloop.layout.build import build_layout
    from heatloop.layout.plan_coordinates import room_plan, rooms_by_storey

    survey = read_survey(DATA / "alder-lodge" / "draft.toml")
    layout = build_layout(survey)
    placed = rooms_by_storey(survey, layout)[0.0]
    sheet = Sheet("mm")
    for name, (dx, dy) in placed.items():
        plan = room_plan(survey.room(name), layout)
        sheet.room([(x + dx, y + dy) for x, y in plan.outline_m])
        west, south, _, north = plan.bounds_m
        sheet.text(name, (west + dx + 0.5, (south + north) / 2 + dy))
        for number, opening in enumerate(plan.openings):
            item, ((x0, y0), (x1, y1)) = opening.item, opening.points_m
            tags = {"WIDTH": item.width_m, "HEIGHT": item.height_m, "SILL": item.sill_m}
            tags |= {"NAME": item.name} if item.name else {}
            block = f"{item.kind.upper()} {name} {number}"
            sheet.tagged(((x0 + x1) / 2 + dx, (y0 + y1) / 2 + dy), block, **tags)
    rooms = {room.name: room for room in read_drawing(sheet.save(tmp_path), "ROOMS")}
    assert set(rooms) == set(placed)
    for name, drawn in rooms.items():
        room, geometry = survey.room(name), layout.room(name).geometry
        assert drawn.drawn_area_m2 == pytest.approx(geometry.floor_area_m2, abs=1e-3)
        assert sum(w.length_m for w in drawn.walls) == pytest.approx(geometry.perimeter_m, abs=0.03)
        required = [(o.kind, o.width_m, o.sill_m, o.name or "") for wall in room.walls for o in wall.openings]
        assert [(o.kind, o.width_m, o.sill_m, o.name) for w in drawn.walls for o in w.openings] == required
        behind = {w.beyond for w in room.walls if w.beyond in placed}
        assert {w.beyond for w in drawn.walls if w.beyond} == behind
    # the bay keeps its angles, the straight in two parts its division to the thickness of a wall
    assert [w.turn_deg for w in rooms["Living room"].walls] == [w.turn_deg for w in survey.room("Living room").walls]
    north = rooms["Living room"].walls[1:3]
    assert [w.beyond for w in north] == ["Hall", "Study"]
    assert north[0].length_m == pytest.approx(survey.room("Living room").walls[1].length_m, abs=0.2)


def test_blocks_that_are_lost_and_points_far_off(tmp_path: Path) -> None:
    sheet = Sheet("m")
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)])
    sheet.space.add_blockref("DOOR 9", (4, 1))
    assert 'at (4, 1): found the block "DOOR 9", which the drawing does not hold' in _faults(sheet.save(tmp_path))[0]
    sheet.room([(10, 0), (10, 3), (14, 3e9), (14, 0)])
    assert "at (14, 3000000000): found a point outside the plan" in _faults(sheet.save(tmp_path))[0]
