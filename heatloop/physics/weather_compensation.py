"""Weather compensation: flow and return temperature that a heating system requires at part load.

Constant flow, emission by its characteristic, load in proportion to the difference between inside and outside.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PartLoad:
    """Share of the design load, and the water temperatures (°C) that carry it."""

    share: float
    flow_c: float
    return_c: float


def load_share(indoor_c: float, outdoor_c: float, design_outdoor_c: float) -> float:
    """Load as a share of the design load, (ti - te)/(ti - te,d); 0 where it is as warm outside as inside.

    All in °C; above 1 in weather colder than the design's. Source: transmission and ventilation losses of
    EN 12831-1, which are proportional to that difference; sun, people and wind are left out.
    ValueError where the design outdoor temperature is not below the indoor temperature.

    >>> load_share(20.0, 5.0, -5.0)
    0.6
    """
    if not design_outdoor_c < indoor_c:
        raise ValueError(f"design_outdoor_c = {design_outdoor_c:g}: must be below indoor_c, {indoor_c:g}")
    return max(0.0, (indoor_c - outdoor_c) / (indoor_c - design_outdoor_c))


def compensated_temperatures(
    indoor_c: float,
    outdoor_c: float,
    design_outdoor_c: float,
    design_flow_c: float,
    design_return_c: float,
    exponent: float,
) -> PartLoad:
    """Flow and return (°C) at an outdoor temperature, with the flow rate of the design.

    The mean excess is that of the design times share^(1/n), n the exponent of the emitter; the drop is that of
    the design times the share. Source: EN 442-2 characteristic at its arithmetic excess and constant flow;
    with a design return of at least 0.7 of the flow excess the arithmetic mean is used for the logarithmic (a
    rule of DIN 4703-3, from memory). ValueError for an exponent below 1 or a return not between room and flow.

    >>> mild = compensated_temperatures(20.0, 5.0, -3.0, 55.0, 45.0, 1.3)
    >>> round(mild.flow_c, 3), round(mild.return_c, 3)
    (44.854, 38.333)
    """
    return temperatures_at_share(
        load_share(indoor_c, outdoor_c, design_outdoor_c), indoor_c, design_flow_c, design_return_c, exponent
    )


def temperatures_at_share(
    share: float, indoor_c: float, design_flow_c: float, design_return_c: float, exponent: float
) -> PartLoad:
    """Flow and return (°C) at a share of the design load, with the flow rate of the design.

    Formula, source and errors as for :func:`compensated_temperatures`. A share above 1 is a load above that of the
    design.

    >>> half = temperatures_at_share(0.5, 20.0, 55.0, 45.0, 1.3)
    >>> round(half.flow_c, 3), round(half.return_c, 3)
    (40.102, 35.102)
    """
    if not exponent >= 1.0:
        raise ValueError(f"exponent = {exponent:g}: must be 1 or above")
    if not indoor_c < design_return_c <= design_flow_c:
        raise ValueError(
            f"design_return_c = {design_return_c:g}: must be above indoor_c, {indoor_c:g}, "
            f"and at most design_flow_c, {design_flow_c:g}"
        )
    if not share >= 0.0:
        raise ValueError(f"share = {share:g}: must be 0 or above")
    excess = ((design_flow_c + design_return_c) / 2.0 - indoor_c) * float(share ** (1.0 / exponent))
    half_drop = (design_flow_c - design_return_c) * share / 2.0
    return PartLoad(share, indoor_c + excess + half_drop, indoor_c + excess - half_drop)


def curve_slope(flow_c: float, indoor_c: float, design_outdoor_c: float) -> float:
    """Slope of a straight heating curve: (flow - indoor)/(indoor - design outdoor temperature), all in °C.

    Source: definition on controllers of heating circuits (common practice). ValueError where the design outdoor
    temperature is not below the indoor temperature.

    >>> curve_slope(65.0, 20.0, -12.0)
    1.40625
    """
    if not design_outdoor_c < indoor_c:
        raise ValueError(f"design_outdoor_c = {design_outdoor_c:g}: must be below indoor_c, {indoor_c:g}")
    return (flow_c - indoor_c) / (indoor_c - design_outdoor_c)


def straight_curve_c(outdoor_c: float, cold: tuple[float, float], mild: tuple[float, float]) -> float:
    """Flow temperature of a straight curve through two points, each outdoor and flow temperature in °C.

    Beyond the points the flow temperature of the nearer one applies (common practice of hot water reset). ValueError
    where the cold point is not colder outdoors than the mild one.

    >>> straight_curve_c(0.0, (-18.0, 82.0), (18.0, 60.0))
    71.0
    """
    (cold_c, at_cold_c), (mild_c, at_mild_c) = cold, mild
    if not cold_c < mild_c:
        raise ValueError(f"cold point at {cold_c:g} °C: must be below the mild point, {mild_c:g} °C")
    share = min(max((outdoor_c - cold_c) / (mild_c - cold_c), 0.0), 1.0)
    return at_cold_c + (at_mild_c - at_cold_c) * share
