"""A level as a drawing file: the plan at 1:1 in model space, every sheet as a layout with its view of it.

DXF R2010 in millimetres, x east, y north, the first corner of the level's first room at the origin. Openings are at
their true places on HL-HOLE; skirting and symbols are drawn away from the wall for clarity. Dimensions are lines and
text, which every reader shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from heatloop.report.drawings.geometry import DrawingSheet, Line, Point, Primitive, Ring, Words

LAYERS: dict[str, tuple[int, int]] = {
    "HL-WALL": (7, 50), "HL-OPENING": (8, 35), "HL-OBSTACLE": (8, 18), "HL-SKIRTING": (8, 35),
    "HL-PIPE-FLOW": (1, 25), "HL-PIPE-RETURN": (5, 25), "HL-CROSSING": (3, 25), "HL-HOLE": (1, 25),
    "HL-DIM": (2, 18), "HL-MARK": (5, 18), "HL-ROOM": (7, 18), "HL-WALL-TEXT": (8, 18),
    "HL-DETAIL": (7, 13), "HL-TABLE": (7, 13), "HL-NOTE": (7, 13), "HL-FRAME": (7, 50),
}  # fmt: skip
"""Colour and line weight (hundredths of a mm) of every layer."""

LINE_TYPES = {"solid": "CONTINUOUS", "dashed": "DASHED", "dotted": "DOT", "chain": "DASHDOT"}

TEXT_STYLE = "HL"

LOCKED = 16384
"""Flag of a viewport whose scale cannot be changed."""

A3_MM = (420.0, 297.0)


def write_sheets_dxf(path: Path, sheets: Sequence[DrawingSheet]) -> Path:
    """Write the sheets of one level. ImportError without the extra `drawing`, OSError where it cannot be written."""
    import ezdxf  # here, so that the sheets as PDF need no drawing library

    with _without_dates():
        document = _document(ezdxf, sheets)
        document.saveas(path)
    return path


def _document(ezdxf: Any, sheets: Sequence[DrawingSheet]) -> Any:
    """The drawing of the sheets of a level."""
    document = ezdxf.new("R2010", setup=["linetypes"], units=4)
    document.header["$MEASUREMENT"] = 1
    for name, (colour, weight) in LAYERS.items():
        document.layers.add(name, color=colour, lineweight=weight)
    document.styles.add(TEXT_STYLE, font="DejaVuSans.ttf")
    model = document.modelspace()
    for sheet in sheets:
        _model(model, sheet)
        layout = document.layouts.new(f"FF sheet {sheet.number}")
        layout.page_setup(size=A3_MM, margins=(0, 0, 0, 0), units="mm")
        _layout(layout, sheet)
    if "Layout1" in document.layouts:
        document.layouts.delete("Layout1")
    return document


@contextmanager
def _without_dates() -> Iterator[None]:
    """Two runs on one survey write the same bytes: no dates, no random identifiers."""
    from ezdxf import options  # type: ignore[attr-defined] # here, as above

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _model(model: Any, sheet: DrawingSheet) -> None:
    """The plan of a sheet at 1:1, and its holes."""
    if sheet.window is None:
        return
    window = sheet.window

    def place(point: Point) -> Point:
        x, y = window.in_level(point)
        return x * 1000.0, y * 1000.0

    for primitive in sheet.plan:
        _add(model, primitive, place, window.scale)
    for hole in sheet.holes:
        x, y = hole.centre_m
        model.add_circle((x * 1000.0, y * 1000.0), hole.diameter_m * 500.0, dxfattribs={"layer": "HL-HOLE"})


def _layout(layout: Any, sheet: DrawingSheet) -> None:
    """Everything on paper, and a locked view of the plan at its scale."""
    for primitive in sheet.paper:
        _add(layout, primitive, lambda point: point, 1)
    if sheet.window is None:
        return
    west, south, east, north = sheet.field
    middle = (west + east) / 2.0, (south + north) / 2.0
    x, y = sheet.window.in_level(middle)
    view = layout.add_viewport(
        center=middle,
        size=(east - west, north - south),
        view_center_point=(x * 1000.0, y * 1000.0),
        view_height=(north - south) * sheet.window.scale,
    )
    view.dxf.flags = view.dxf.get("flags", 0) | LOCKED


def _add(space: Any, primitive: Primitive, place: Any, scale: int) -> None:
    attributes: dict[str, Any] = {"layer": primitive.layer}
    if isinstance(primitive, Line):
        attributes["linetype"] = LINE_TYPES[primitive.dash]
        space.add_lwpolyline([place(point) for point in primitive.points], dxfattribs=attributes)
    elif isinstance(primitive, Ring):
        space.add_circle(place(primitive.centre), primitive.radius_mm * scale, dxfattribs=attributes)
        if primitive.filled:
            hatch = space.add_hatch(color=256, dxfattribs=attributes)
            hatch.paths.add_edge_path().add_arc(place(primitive.centre), primitive.radius_mm * scale, 0, 360)
    else:
        _text(space, primitive, place, scale, attributes)


def _text(space: Any, words: Words, place: Any, scale: int, attributes: dict[str, Any]) -> None:
    text = space.add_text(
        words.text,
        height=words.height_mm * scale,
        rotation=words.angle,
        dxfattribs={**attributes, "style": TEXT_STYLE},
    )
    text.set_placement(place(words.start))
