"""Room outlines from a DXF drawing: closed polylines or lines on a layer; doors from blocks or gaps.

The drawing is a start for a survey but does not replace it: measure every wall for which skirting is cut. It is read
with ezdxf, which is installed by ``pip install "heatloop[drawing]"``. It is imported only here and only when used.
"""

from __future__ import annotations

import logging
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.drawing.floors import at_levels, beside_other_floors, check_levels, floors_over_each_other
from heatloop.survey.drawing.options import UNIT_M, DrawingOptions
from heatloop.survey.drawing.outlines import (
    Outline,
    OutlineProblem,
    Point,
    Segment,
    closed_outline,
    contains_point,
    joined_lines,
    overlapping,
)
from heatloop.survey.drawing.rooms import Alignment, DrawnOpeningSymbol, DrawnRoom, OpeningKind, drawn_rooms
from heatloop.text.files import UnusableFile, check_readable
from heatloop.text.quoting import LONGEST_NAME, brief, closest_name, single_line

INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 10: "yd", 14: "dm"}
"""Codes of the header variable $INSUNITS in the DXF reference, for the units of building drawings."""
LONGEST_M = 60.0
FARTHEST_M = 1e7
NEAR_CORNER_M = 0.05
LINES = ("LWPOLYLINE", "POLYLINE", "LINE")
CURVES = ("ARC", "SPLINE", "ELLIPSE", "CIRCLE")
OTHERS = ("INSERT", "TEXT", "MTEXT")
NO_EXTENT = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF", "POINT", "DIMENSION")
MEASURE = re.compile(r"[\d.,\s]+(m|m2|m²|mm|cm|sqm|sq m|ft|sq ft)?\.?", re.IGNORECASE)
MAX_BYTES = 100_000_000
"""Maximum size of a drawing file."""
QUIET = logging.NullHandler()
OPENING_WORDS: tuple[tuple[str, OpeningKind], ...] = (("window", "window"), ("glaz", "glazed door"), ("door", "door"))


def read_drawing(
    path: str | Path, layer: str | Sequence[str], options: DrawingOptions | None = None
) -> tuple[DrawnRoom, ...]:
    """The rooms drawn on a layer of a DXF file, or on a layer for each floor, in the order of the drawing.

    An outline is the inside face of the walls of a room; its name is a text inside it. Raises InputError with all
    errors, each with its coordinates in drawing units: no such layer; no units; outlines that are open, cross
    themselves or overlap; curved walls; doors on no wall. If the library is missing, the error states the installation
    command.
    """
    options = options or DrawingOptions()
    path = Path(path)
    if not math.isfinite(options.north_deg) or abs(options.north_deg) > 360.0:
        required = "a bearing in degrees, from -360 to 360"
        raise InputError([InputIssue(str(path), "north", f"{options.north_deg:g}", required)])
    layers = (layer,) if isinstance(layer, str) else tuple(layer)
    check_levels(options.levels_m, len(layers), str(path))
    document, space = _document(path)
    faults: list[InputIssue] = []
    unit_m, units = _unit_m(path, document, options, faults)
    floors: list[list[Outline]] = []
    for name in layers:
        lines = [e for e in space if e.dxf.layer.casefold() == name.casefold() and e.dxftype() in (*LINES, *CURVES)]
        if not lines:
            faults.append(_no_layer(path, name, space, document))
        floors.append(_Reader(path, name, unit_m, units, options).outlines(lines, faults))
    if faults:
        raise InputError(faults)
    reader = _Reader(path, ", ".join(layers), unit_m, units, options)
    if over := floors_over_each_other(floors, options.join_m):
        raise InputError([reader.fault(p.at_m, p.found, p.required, p.more_m) for p in over])
    outlines = [outline for floor in floors for outline in floor]
    mouths = reader.mouths(space, outlines, faults)
    names = reader.names(space, outlines)
    drawn, unplaced = drawn_rooms(
        outlines, names, mouths, Alignment(options.snap_deg, options.wall_m, options.north_deg)
    )
    rooms = at_levels(drawn, [len(floor) for floor in floors], options.levels_m)
    faults += [reader.fault(item.mouth.at_m, item.found, item.required) for item in unplaced]
    faults += beside_other_floors(rooms, options.wall_m, str(path))
    if faults:
        raise InputError(faults)
    return rooms


def _document(path: Path) -> tuple[Any, list[Any]]:
    """The drawing as read by the library, and the usable entities of its model space."""
    try:
        from ezdxf.filemanagement import readfile
    except ImportError:
        required = (
            'ezdxf, which is not installed; install heatloop with its optional part "drawing": pip install '
            '"heatloop[drawing]", or pip install -e ".[drawing]" in a checkout'
        )
        raise InputError([InputIssue(str(path), "", "a drawing, but no library to read it", required)]) from None
    try:
        check_readable(path, MAX_BYTES)
        with path.open("rb") as file:
            dwg = file.read(4) == b"AC10"
    except FileNotFoundError:
        raise InputError([InputIssue(str(path), "", "no such file", "the path of a DXF drawing")]) from None
    except IsADirectoryError:
        raise InputError([InputIssue(str(path), "", "a folder", "the path of a DXF drawing")]) from None
    except UnusableFile as error:
        raise InputError([InputIssue(str(path), "", error.found, error.required)]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            [InputIssue(str(path), "", f"a file that cannot be opened ({reason})", "a DXF file")]
        ) from None
    if dwg:
        raise InputError([InputIssue(str(path), "", "a DWG drawing", "the same saved as DXF")])
    logging.getLogger("ezdxf").addHandler(QUIET)  # its output on standard error would contain text of the file
    with _whole(path):
        document = readfile(path)
        return document, [entity for entity in document.modelspace() if entity.dxftype() in (*LINES, *CURVES, *OTHERS)]


@contextmanager
def _whole(path: Path, entity: Any = None) -> Iterator[None]:
    """One error in place of any error of the library, such as for an incomplete drawing or one edited by hand.

    With an entity the error is at its handle.
    """
    try:
        yield
    except InputError:
        raise
    except Exception as error:
        place = "" if entity is None else single_line(f"{entity.dxftype()} of handle {entity.dxf.get('handle', '?')}")
        found = "what is not a DXF drawing" if entity is None else "an entity that cannot be read"
        required = "a DXF file" if entity is None else "a complete drawing, saved again by the program that made it"
        raise InputError([InputIssue(str(path), place, f"{found}{_reason(error)}", required)]) from None


def _reason(error: Exception) -> str:
    """What the library says of a drawing, in brackets; empty for an error inside that library."""
    from ezdxf.lldxf.const import DXFError

    words = single_line(" ".join(str(error).split()))
    return f" ({brief(words, 120)})" if words and isinstance(error, DXFError | OSError) else ""


def _unit_m(path: Path, document: Any, options: DrawingOptions, faults: list[InputIssue]) -> tuple[float, str]:
    """Metres in a unit of the drawing, and its name; 1 and an error where the unit is unknown."""
    known = ", ".join(UNIT_M)
    if options.units is not None:
        if options.units not in UNIT_M:
            faults.append(InputIssue(str(path), "units", f'"{options.units}"', f"one of {known}"))
            return 1.0, ""
        return UNIT_M[options.units], options.units
    with _whole(path):
        code = int(document.header.get("$INSUNITS", 0))
    if code not in INSUNITS:
        found = "no units in the drawing ($INSUNITS is 0)" if code == 0 else f"units of code {code} ($INSUNITS)"
        faults.append(InputIssue(str(path), "", found, f"the unit of the drawing, by the option units: {known}"))
        return 1.0, ""
    return UNIT_M[INSUNITS[code]], INSUNITS[code]


def _sane(point: Point) -> bool:
    return all(math.isfinite(x) and abs(x) <= FARTHEST_M for x in point)


def _line_layers(space: Iterable[Any]) -> dict[str, int]:
    layers = Counter(e.dxf.layer for e in space if e.dxftype() in LINES)
    return dict(sorted(layers.items(), key=lambda item: (-item[1], item[0])))


def _no_layer(path: Path, layer: str, space: Sequence[Any], document: Any) -> InputIssue:
    layers = _line_layers(space)
    is_there = layer.casefold() in {entry.dxf.name.casefold() for entry in document.layers}
    found = f'layer "{single_line(layer)}", which {"holds no lines" if is_there else "is not in the drawing"}'
    listed = ", ".join(f'"{single_line(name)}" ({count})' for name, count in list(layers.items())[:20])
    if not layers:
        return InputIssue(str(path), "", found, "a drawing with lines or polylines in its model space")
    close = closest_name("a layer with room outlines", layer, layers)
    hint = close if "nearest" in close else "a layer with room outlines"
    return InputIssue(str(path), "", found, f"{hint}; lines are on {listed}")


@dataclass(frozen=True)
class _Reader:
    """Converts entities of one drawing to plane geometry in metres."""

    path: Path
    layer: str
    unit_m: float
    units: str
    options: DrawingOptions

    def fault(self, at_m: Point, found: str, required: str, more_m: Sequence[Point] = ()) -> InputIssue:
        """An error at a place of the drawing, in drawing units."""
        place = f'layer "{single_line(self.layer)}", at {" and ".join(self._position(p) for p in (at_m, *more_m))}'
        return InputIssue(str(self.path), place, found, required)

    def _position(self, point: Point) -> str:
        return "(" + ", ".join(f"{round(x / self.unit_m, 3) + 0.0:.10g}" for x in point) + ")"

    def outlines(self, entities: Sequence[Any], faults: list[InputIssue]) -> list[Outline]:
        """Closed outlines of polylines and lines; every problem is recorded as an error.

        Where the units are unknown, only the shape of closed polylines is checked.
        """
        shapes: list[Outline | OutlineProblem] = []
        segments: list[Segment] = []
        for entity in entities:
            with _whole(self.path, entity):
                if entity.dxftype() in CURVES:
                    shapes.append(self._curve(self._first(entity), entity.dxftype().lower()))
                    continue
                points, closed, bulge = self._points(entity)
            lost = [p for p in points if not _sane(p)]
            if lost:
                shapes.append(
                    OutlineProblem(lost[0], "a point outside the plan", f"points within {FARTHEST_M:g} m of the origin")
                )
            elif bulge is not None:
                shapes.append(self._curve(bulge, "curved side"))
            elif len(points) < 2:
                continue
            elif closed or math.dist(points[0], points[-1]) <= self.options.join_m < self._size(points):
                shapes.append(closed_outline(points, self.options.join_m))
            else:
                segments += pairwise(points)
        if self.units:
            shapes += joined_lines(segments, self.options.join_m, self.options.gap_m)
        outlines = [item for item in shapes if isinstance(item, Outline)]
        problems = [item for item in shapes if isinstance(item, OutlineProblem)]
        problems += self._sizes(outlines) if self.units else []
        if not problems:
            problems += overlapping(outlines, self.options.join_m)
        faults += [self.fault(p.at_m, p.found, p.required, p.more_m) for p in problems]
        return outlines

    def _curve(self, at_m: Point, entity: str) -> OutlineProblem:
        return OutlineProblem(at_m, f"a {entity}", "straight sides: skirting is straight, a bay drawn as its chords")

    def _sizes(self, outlines: Sequence[Outline]) -> list[OutlineProblem]:
        """Record walls too long for a room; the usual cause is a wrong unit in the drawing."""
        problems = []
        for outline in outlines:
            longest_m = max(math.dist(a, b) for a, b in outline.walls)
            if longest_m > LONGEST_M:
                text = f"a wall of {longest_m:.0f} m, the drawing being in {self.units}"
                required = f"walls of at most {LONGEST_M:g} m; the true unit, by the option units"
                problems.append(OutlineProblem(outline.corners_m[0], text, required))
        return problems

    @staticmethod
    def _size(points: Sequence[Point]) -> float:
        return max(math.dist(points[0], point) for point in points)

    def _m(self, point: Any) -> Point:
        """A point of the drawing in metres; NaN where an entity has no position."""
        if point is None:
            return math.nan, math.nan
        return float(point[0]) * self.unit_m, float(point[1]) * self.unit_m

    def _first(self, entity: Any) -> Point:
        if entity.dxftype() == "SPLINE":
            return self._m(next(iter(entity.control_points), (0.0, 0.0)))
        return self._m(entity.dxf.center)

    def _points(self, entity: Any) -> tuple[list[Point], bool, Point | None]:
        """Points of a line or polyline in metres, whether it closes, and the position of any curved side."""
        kind = entity.dxftype()
        if kind == "LINE":
            return [self._m(entity.dxf.start), self._m(entity.dxf.end)], False, None
        if kind == "LWPOLYLINE":
            points = [self._m(p) for p in entity.vertices_in_wcs()]
            bulges = [values[4] for values in entity]
            closed = bool(entity.closed)
        else:
            points = [self._m(p) for p in entity.points_in_wcs()]
            bulges = [vertex.dxf.get("bulge", 0.0) for vertex in entity.vertices]
            closed = bool(entity.is_closed)
        last = len(points) - (0 if closed else 1)
        curved = next((points[i] for i in range(max(last, 0)) if abs(bulges[i]) > 1e-6), None)
        return points, closed, curved

    def mouths(
        self, space: Sequence[Any], outlines: Sequence[Outline], faults: list[InputIssue]
    ) -> list[DrawnOpeningSymbol]:
        """Openings from blocks, in the order of the drawing; an error for each that has no width."""
        symbols = []
        for entity in space:
            with _whole(self.path, entity):
                kind = self._kind(entity)
                if kind and (entity.block() is None or not _sane(self._m(entity.dxf.insert))):
                    text = f'the block "{single_line(entity.dxf.name)}", which the drawing does not hold'
                    faults.append(self.fault(self._m(entity.dxf.insert), text, "a complete drawing with its blocks"))
                    continue
                mouth = self._mouth(entity, kind, outlines) if kind else None
            if mouth is not None and mouth.width_m > 0.0:
                symbols.append(mouth)
            elif mouth is not None:
                text = f'the block "{single_line(entity.dxf.name)}", a {kind} without lines and without width'
                faults.append(self.fault(mouth.at_m, text, f"an attribute {self.options.width_tag} in drawing units"))
        return symbols

    def _kind(self, entity: Any) -> OpeningKind | None:
        """Kind of opening of a block by its layer or its name; None if it is not an opening."""
        if entity.dxftype() != "INSERT":
            return None
        layer, options = entity.dxf.layer.casefold(), self.options
        words = f"{entity.dxf.name} {entity.dxf.layer}".casefold()
        named = next((kind for word, kind in OPENING_WORDS if word in words), None)
        if options.door_layers or options.window_layers:
            if layer in {name.casefold() for name in options.window_layers}:
                return "window"
            if layer in {name.casefold() for name in options.door_layers}:
                return named or "door"
            return None
        return named

    def _mouth(self, insert: Any, kind: OpeningKind, outlines: Sequence[Outline]) -> DrawnOpeningSymbol:
        at_m = self._m(insert.dxf.insert)
        tags = {a.dxf.tag.casefold(): a.dxf.text for a in insert.attribs}
        along = self._along(insert, at_m, outlines)
        extent = [(x * along[0] + y * along[1]) for x, y in self._extent(insert)]
        across = -at_m[0] * along[1] + at_m[1] * along[0]
        middle, width_m = at_m, self._number(tags, self.options.width_tag)
        if extent:
            place = (min(extent) + max(extent)) / 2.0
            middle = (place * along[0] - across * along[1], place * along[1] + across * along[0])
            width_m = width_m or max(extent) - min(extent)
        name = single_line(tags.get(self.options.name_tag.casefold(), "").strip())
        height_m = self._number(tags, self.options.height_tag)
        sill_m = self._number(tags, self.options.sill_tag)
        return DrawnOpeningSymbol(
            kind, middle, along, width_m or 0.0, self.options.near_m, at_m, name, height_m, sill_m
        )

    def _along(self, insert: Any, at_m: Point, outlines: Sequence[Outline]) -> Point:
        """Direction of the wall of a block: the nearest wall; in a corner, the one with the direction of the block."""
        turned = math.radians(insert.dxf.get("rotation", 0.0))
        best: tuple[tuple[int, bool, float], Point] | None = None
        for a, b in (wall for outline in outlines for wall in outline.walls):
            length_m = math.dist(a, b)
            along = (b[0] - a[0]) / length_m, (b[1] - a[1]) / length_m
            at = min(max((at_m[0] - a[0]) * along[0] + (at_m[1] - a[1]) * along[1], 0.0), length_m)
            off_m = math.dist(at_m, (a[0] + at * along[0], a[1] + at * along[1]))
            askew = abs(along[0] * math.cos(turned) + along[1] * math.sin(turned)) < 0.9
            key = (round(off_m / NEAR_CORNER_M), askew, off_m)
            if best is None or key < best[0]:
                best = key, along
        return best[1] if best is not None else (1.0, 0.0)

    def _extent(self, insert: Any) -> list[Point]:
        """Points of the lines of a block where it is inserted, without its texts."""
        from ezdxf import disassemble

        parts = (e for e in disassemble.recursive_decompose([insert]) if e.dxftype() not in NO_EXTENT)
        points = (self._m(v) for v in disassemble.to_vertices(disassemble.to_primitives(parts)))
        return [point for point in points if _sane(point)]

    def _number(self, tags: dict[str, str], tag: str) -> float | None:
        """The number in an attribute in metres; None where there is none."""
        match = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*", tags.get(tag.casefold(), ""))
        return float(match[1].replace(",", ".")) * self.unit_m if match else None

    def names(self, space: Sequence[Any], outlines: Sequence[Outline]) -> list[str]:
        """A unique name for every outline: the largest text inside it that is not a dimension, else a number."""
        layers = {name.casefold() for name in self.options.name_layers}
        texts = []
        for entity in space:
            if entity.dxftype() not in ("TEXT", "MTEXT") or (layers and entity.dxf.layer.casefold() not in layers):
                continue
            with _whole(self.path, entity):
                several = entity.dxftype() == "MTEXT"
                words = entity.plain_text() if several else entity.dxf.text
                line = " ".join(single_line(words.strip().split("\n")[0]).split())
                height = float(entity.dxf.get("char_height" if several else "height", 0.0))
                if line and not MEASURE.fullmatch(line):
                    texts.append((height, self._m(entity.dxf.insert), line[:LONGEST_NAME]))
        names: list[str] = []
        for number, outline in enumerate(outlines, start=1):
            inside = [
                (height, place[1], words) for height, place, words in texts if contains_point(place, outline.corners_m)
            ]
            name = base = max(inside, key=lambda item: item[:2])[2] if inside else f"Room {number}"
            again = 2
            while name in names:
                name, again = f"{base} {again}", again + 1
            names.append(name)
        return names
