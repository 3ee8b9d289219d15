"""What is traced on the pages of a plan. Points are in pixels of the picture, x to the right and y down."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from heatloop.survey.drawing.rooms import OpeningKind

PixelPoint = tuple[float, float]
PixelSegment = tuple[PixelPoint, PixelPoint]


@dataclass(frozen=True)
class ScaleLine:
    """A line of known length: its ends, the length typed, and the size of a screen pixel when it was clicked."""

    ends_px: PixelSegment
    length_m: float
    click_px: float

    @property
    def span_px(self) -> float:
        """Length of the line in the picture."""
        return math.dist(*self.ends_px)

    @property
    def m_per_px(self) -> float:
        """Metres in a pixel of the picture."""
        return self.length_m / self.span_px


@dataclass(frozen=True)
class TracedRoom:
    """A room by its corners, as they were clicked.

    `click_px` is the largest size, in picture pixels, that a pixel of the screen had while its corners were placed.
    """

    name: str
    level_m: float
    corners_px: tuple[PixelPoint, ...]
    click_px: float

    @property
    def walls_px(self) -> tuple[PixelSegment, ...]:
        """Both ends of every wall, in order."""
        return tuple(pairwise((*self.corners_px, self.corners_px[0])))


@dataclass(frozen=True)
class TracedOpening:
    """A door or window by its two ends on a wall."""

    kind: OpeningKind
    level_m: float
    ends_px: PixelSegment
    click_px: float


@dataclass(frozen=True)
class TracedPage:
    """One page of a plan: its number, the size of its picture, and what is traced on it."""

    number: int
    width_px: int
    height_px: int
    scale: ScaleLine | None = None
    rooms: tuple[TracedRoom, ...] = ()
    openings: tuple[TracedOpening, ...] = ()

    @property
    def m_per_px(self) -> float | None:
        """Metres in a pixel of the picture; None before there is a scale."""
        return None if self.scale is None else self.scale.m_per_px

    def on_level(self, level_m: float) -> tuple[TracedRoom, ...]:
        """The rooms of one level."""
        return tuple(room for room in self.rooms if room.level_m == level_m)


@dataclass(frozen=True)
class Tracing:
    """All that is traced on the pages of a plan."""

    pages: tuple[TracedPage, ...]

    def with_page(self, index: int, page: TracedPage) -> Tracing:
        """The same with another page in place of the one of that index."""
        return replace(self, pages=(*self.pages[:index], page, *self.pages[index + 1 :]))

    @property
    def room_names(self) -> tuple[str, ...]:
        """Names of all rooms, page by page."""
        return tuple(room.name for page in self.pages for room in page.rooms)
