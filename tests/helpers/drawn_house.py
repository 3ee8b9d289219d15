"""Drawings of rooms made for tests: outlines, openings and texts on their layers."""

from __future__ import annotations

from pathlib import Path

import pytest

ezdxf = pytest.importorskip("ezdxf")
UNITS = {"mm": (4, 1000.0), "cm": (5, 100.0), "m": (6, 1.0), "in": (1, 1.0 / 0.0254), "ft": (2, 1.0 / 0.3048)}


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


def drawn_house(folder: Path) -> Path:
    """The drawing of a house of three rooms, with small slips of the draughtsman."""
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
