"""Site readings as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from heatloop.hydraulics.sizing.sized_system import SizedSystem

QuantityName = Literal[
    "flow temperature",
    "return temperature",
    "flow",
    "surface temperature",
    "room temperature",
    "outdoor temperature",
    "source setting",
    "source temperature",
    "pump setting",
    "pump head",
    "total flow",
    "probe bias",
    "thermostatic heads",
    "hours running",
]

FLOW_TEMP: Final = "flow temperature"
RETURN_TEMP: Final = "return temperature"
FLOW: Final = "flow"
SURFACE_TEMP: Final = "surface temperature"
ROOM_TEMP: Final = "room temperature"
OUTDOOR_TEMP: Final = "outdoor temperature"
SOURCE_SETTING: Final = "source setting"
SOURCE_TEMP: Final = "source temperature"
PUMP_SETTING: Final = "pump setting"
PUMP_HEAD: Final = "pump head"
TOTAL_FLOW: Final = "total flow"
PROBE_BIAS: Final = "probe bias"
HEADS: Final = "thermostatic heads"
HOURS: Final = "hours running"


QuantityOf = Literal["loop", "room", ""]


@dataclass(frozen=True)
class Quantity:
    """A quantity that can be read: name, of what ("loop", "room" or "" for the site), unit and accepted range."""

    name: QuantityName
    of: QuantityOf
    unit: str
    minimum: float
    maximum: float
    usual_error: str
    needed: bool = False
    meaning: str = ""


QUANTITIES: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        Quantity(FLOW_TEMP, "loop", "degC", -5.0, 110.0, "0.5", True, "surface of the flow pipe at the distribution"),
        Quantity(
            RETURN_TEMP, "loop", "degC", -5.0, 110.0, "0.5", True, "surface of the return pipe at the distribution"
        ),
        Quantity(FLOW, "loop", "l/h", 0.0, 20000.0, "5 %", False, "by a meter in the loop"),
        Quantity(
            SURFACE_TEMP, "loop", "degC", -5.0, 110.0, "0.5", False, "front of one channel, at a piece or the far end"
        ),
        Quantity(ROOM_TEMP, "room", "degC", -5.0, 40.0, "0.5", False, "air, out of the sun and away from the skirting"),
        Quantity(OUTDOOR_TEMP, "", "degC", -40.0, 25.0, "1", False, "air, in the shade"),
        Quantity(SOURCE_SETTING, "", "degC", 15.0, 100.0, "1", False, "flow temperature that the source is set to now"),
        Quantity(SOURCE_TEMP, "", "degC", -5.0, 110.0, "0.7", False, "by a probe in the water, not on the pipe"),
        Quantity(PUMP_SETTING, "", "kPa", 0.0, 200.0, "10 %", False, "head to which the pump is set"),
        Quantity(PUMP_HEAD, "", "kPa", 0.0, 200.0, "5 %", False, "read from gauges or from the display of the pump"),
        Quantity(TOTAL_FLOW, "", "l/h", 0.0, 200000.0, "5 %", False, "by a meter at the source"),
        Quantity(
            PROBE_BIAS,
            "",
            "K",
            -10.0,
            10.0,
            "0.5",
            False,
            "reading of the surface probe minus reading of a probe in the water",
        ),
        Quantity(HEADS, "", "", 0.0, 1.0, "", False, "off or on, while the readings were taken"),
        Quantity(HOURS, "", "h", 0.0, 10000.0, "", False, "hours of steady running since the last change"),
    )
}
TEMPERATURES = frozenset(name for name, quantity in QUANTITIES.items() if quantity.unit == "degC")
PERCENT = frozenset((FLOW, PUMP_SETTING, PUMP_HEAD, TOTAL_FLOW))
"""Quantities whose error may be given in per cent."""


@dataclass(frozen=True)
class Reading:
    """One reading from site, in the unit of its quantity.

    Attributes
    ----------
    quantity : str
        What was read, for example "flow temperature" (°C) or "flow" (l/h); `Readings.quantities` lists all.
    of : str
        Loop or room that was read; "" for the site.
    value : float
        The value.
    error : float
        Standard uncertainty of the instrument in the same unit: two readings in three differ from the true value by
        less than this.
    arm : int, default 0
        Arm of the loop, from 1; 0 for the whole loop.
    line : int, default 0
        Line of the file; 0 where there is none.
    channel : int, default 0
        Channel of a surface temperature, from 1 at the top; 0 for any other quantity.
    piece : str, default ""
        Where a surface temperature was read: the label of a piece, or "far end"; "" for any other quantity.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.Reading("flow", "Kitchen", 62.0, 3.1).value
    62.0
    """

    quantity: QuantityName
    of: str
    value: float
    error: float
    arm: int = 0
    line: int = 0
    channel: int = 0
    piece: str = ""


@dataclass(frozen=True)
class ReadingQuery:
    """An open question about a reading: not certainly an error, but to be answered."""

    file: str
    place: str
    text: str

    def __str__(self) -> str:
        return f"{self.file}: {self.place}: {self.text}" if self.place else f"{self.file}: {self.text}"


@dataclass(frozen=True)
class Readings:
    """All readings of one visit to a site.

    Attributes
    ----------
    file : str
        The file, or a name for the visit.
    items : tuple of Reading
        The readings.
    questions : tuple of ReadingQuery, default ()
        What the file leaves open.
    thermostatic_heads_removed : bool or None, default None
        Whether thermostatic heads were removed; None where the file does not state it.
    hours_running : float or None, default None
        Hours since the heating was last changed.

    Examples
    --------
    >>> import heatloop as hl
    >>> readings = hl.Readings("visit", (hl.Reading("flow", "Kitchen", 62.0, 3.1),), thermostatic_heads_removed=True)
    >>> readings.get("flow", "Kitchen").error
    3.1
    """

    file: str
    items: tuple[Reading, ...]
    questions: tuple[ReadingQuery, ...] = ()
    thermostatic_heads_removed: bool | None = None
    hours_running: float | None = None

    @staticmethod
    def quantities() -> tuple[Quantity, ...]:
        """All quantities that can be read: name, of what, unit, usual error and meaning.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.Readings.quantities()[0].name
        'flow temperature'
        """
        return tuple(QUANTITIES.values())

    def get(self, quantity: QuantityName, of: str = "", arm: int = 0) -> Reading | None:
        """The reading of a quantity at a loop, arm, room or of the site; None where it was not read.

        Parameters
        ----------
        quantity : str
            What was read, for example "flow temperature".
        of : str, default ""
            Loop or room; "" for the site.
        arm : int, default 0
            Arm of the loop, from 1; 0 for the whole loop.

        Returns
        -------
        Reading or None

        Examples
        --------
        >>> import heatloop as hl
        >>> readings = hl.read_readings("data/alder-lodge/readings-air.csv", hl.size("data/alder-lodge/draft.toml"))
        >>> readings.get("flow temperature", "Kitchen").of
        'Kitchen'
        """
        for item in self.items:
            if item.quantity == quantity and item.of == of and item.arm == arm:
                return item
        return None


FAR_END = "far end"

REQUIRED = ("reading", "of", "value", "unit", "error")

NOT_READ = "not read"


def places_of(quantity: Quantity, system: SizedSystem) -> list[str]:
    """Names of the loops or rooms of which a quantity is read."""
    if quantity.of == "loop":
        return [path.loop.name for path in system.state.network.loops]
    return [room.name for room in system.survey.rooms] if quantity.of == "room" else []


def arms_of(system: SizedSystem, loop: str) -> int:
    """Number of arms of a loop, 0 where there is no such loop."""
    return next((len(p.arms) for p in system.state.network.loops if p.loop.name.casefold() == loop.casefold()), 0)


def channels_of(system: SizedSystem, loop: str) -> int:
    """Number of channels of the skirting of a loop, 0 where there is no such loop or no skirting."""
    path = next((p for p in system.state.network.loops if p.loop.name.casefold() == loop.casefold()), None)
    return 0 if path is None or path.profile is None else len(path.profile.channels)


def pieces_of(system: SizedSystem, loop: str, arm: int) -> list[str]:
    """Where a surface can be read on an arm of a loop, from 1: the labels of its pieces, and the far end."""
    for path in system.state.network.loops:
        if path.loop.name.casefold() == loop.casefold() and 1 <= arm <= len(path.arms):
            labels = dict.fromkeys(cell.label for cell in path.arms[arm - 1].cells if cell.skirting)
            return [*labels, FAR_END]
    return []
