"""Bands of uncertain inputs: which inputs may vary, in which unit, by how much and in which shape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.sizing.valve_settings import valve_locations
from heatloop.text.quoting import closest_name

Array = NDArray[np.float64]

Shape = Literal["even", "normal", "triangular"]

CALL = "uncertainty"

NORMAL_ENDS = 1.959963984540054
"""Standard deviations from the middle to the ends of a normal band: 95 of 100 values are between the ends."""


@dataclass(frozen=True)
class Band:
    """The band of an uncertain input: its deviation from the value of the design, lowest and highest.

    Attributes
    ----------
    low, high : float
        Deviation from the design, in the unit of the input.
    shape : {"even", "normal", "triangular"}, default "even"
        "even": all values between the ends are equally likely. "normal": 95 of 100 values are between the ends.
        "triangular": values in the middle are the most likely, and none is outside.
    each : bool, default False
        Whether each room, profile, loop or valve varies by itself; otherwise all have the same deviation.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.Band(-10.0, 10.0, "normal").width
    20.0
    """

    low: float
    high: float
    shape: Shape = "even"
    each: bool = False

    @property
    def width(self) -> float:
        """Distance between the ends.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.Band(-2.0, 3.0).width
        5.0
        """
        return self.high - self.low

    def at(self, share: Array) -> Array:
        """Quantiles: the deviations that these shares of the values do not exceed.

        Parameters
        ----------
        share : numpy.ndarray
            Shares between 0 and 1, of any shape.

        Returns
        -------
        numpy.ndarray
            Deviations in the unit of the input, of the same shape.

        Examples
        --------
        >>> import heatloop as hl, numpy as np
        >>> hl.Band(-10.0, 10.0).at(np.array([0.25, 0.5])).tolist()
        [-5.0, 0.0]
        """
        middle, half = (self.low + self.high) / 2.0, self.width / 2.0
        if self.shape == "normal":
            from scipy.special import ndtri  # here, because it is slow to import and seldom needed

            return np.asarray(middle + half / NORMAL_ENDS * ndtri(share))
        if self.shape == "triangular":
            lower = np.sqrt(2.0 * share) - 1.0
            return np.asarray(middle + half * np.where(share < 0.5, lower, 1.0 - np.sqrt(2.0 * (1.0 - share))))
        return np.asarray(self.low + self.width * share)


@dataclass(frozen=True)
class InputKind:
    """A kind of uncertain input: unit, title, whether it affects the water, and the limits of a deviation."""

    unit: str
    title: str
    affects_water: bool
    limits: tuple[float, float]


KINDS: Mapping[str, InputKind] = {
    "fabric": InputKind("%", "heat loss through the fabric", False, (-90.0, 300.0)),
    "air": InputKind("%", "air change", False, (-90.0, 300.0)),
    "outdoor_c": InputKind("K", "outdoor temperature", False, (-30.0, 20.0)),
    "flow_temp_c": InputKind("K", "flow temperature of the source", True, (-40.0, 40.0)),
    "rating": InputKind("%", "rating of the profile", True, (-60.0, 100.0)),
    "length": InputKind("%", "length of skirting", True, (-60.0, 100.0)),
    "setting": InputKind("", "valve setting", True, (-10.0, 10.0)),
}
"""Inputs that may have a band. A percentage is of the value of the design; a setting is a number of positions."""


@dataclass(frozen=True)
class UncertainInput:
    """One input that varies by itself: its kind, the items that it affects and its band."""

    name: str
    kind: str
    items: tuple[str | int, ...]
    band: Band


def inputs_of(system: SizedSystem, bands: Mapping[str, Band | float]) -> tuple[UncertainInput, ...]:
    """The inputs with a band, each room, profile, loop or valve by itself where the band states so.

    A number is a band from minus that number to plus that number. Raises InputError with every fault of the bands.
    """
    if not isinstance(bands, Mapping) or not bands:
        required = f"bands by the name of the input: {', '.join(KINDS)}"
        raise InputError([InputIssue(CALL, "bands", quoted_value(bands), required)])
    faults, inputs = [], []
    for name, given in bands.items():
        found = _faults(name, given)
        faults += found
        if not found:
            band = given if isinstance(given, Band) else Band(-float(given), float(given))
            inputs += _inputs(system, name, band)
    if faults:
        raise InputError(faults)
    return tuple(inputs)


def _faults(name: str, given: object) -> list[InputIssue]:
    place = f'bands, "{name}"'
    if name not in KINDS:
        return [InputIssue(CALL, "bands", quoted_value(name), closest_name("an input", str(name), KINDS))]
    kind = KINDS[name]
    low, high = kind.limits
    unit = kind.unit or "settings"
    if not isinstance(given, Band):
        if not is_number(given) or not 0.0 < float(given) <= min(-low, high):  # type: ignore[arg-type]
            required = f"a number in {unit}, more than 0 and at most {min(-low, high):g}, or a Band"
            return [InputIssue(CALL, place, quoted_value(given), required)]
        return []
    faults = []
    ends = given.low, given.high
    if not all(is_number(end) for end in ends) or not low <= given.low < given.high <= high:
        required = f"a low end below the high end, from {low:g} to {high:g} {unit}"
        faults.append(InputIssue(CALL, place, f"{quoted_value(given.low)} to {quoted_value(given.high)}", required))
    if given.shape not in ("even", "normal", "triangular"):
        required = '"even", "normal" or "triangular"'
        faults.append(InputIssue(CALL, f"{place}, shape", quoted_value(given.shape), required))
    return faults


def _inputs(system: SizedSystem, name: str, band: Band) -> list[UncertainInput]:
    """The inputs of one band."""
    items = _items(system, name)
    if not band.each or len(items) < 2:
        return [UncertainInput(KINDS[name].title, name, tuple(items), band)]
    return [UncertainInput(f"{KINDS[name].title}, {words}", name, (item,), band) for item, words in items.items()]


def _items(system: SizedSystem, name: str) -> dict[str | int, str]:
    """Items that an input of this kind affects, with their names: rooms, profiles, loops or valves."""
    survey = system.survey
    if name in ("fabric", "air"):
        return {room.name: room.name for room in survey.rooms if room.name in survey.heated_rooms}
    if name == "rating":
        used = dict.fromkeys(loop.profile for loop in survey.loops if loop.profile)
        return {profile: profile for profile in used}
    if name == "length":
        return {loop.name: loop.name for loop in survey.loops if loop.profile}
    if name == "setting":
        network = system.achieved.network
        return {place: _valve_words(system, place) for place in valve_locations(network)}
    return {name: name}


def _valve_words(system: SizedSystem, place: int) -> str:
    location = system.achieved.network.locations[place]
    arm = f", arm {location.element.arm}" if location.element.arm else ""
    return f"{system.survey.loops[location.loop].name}, {location.element.direction}{arm}"
