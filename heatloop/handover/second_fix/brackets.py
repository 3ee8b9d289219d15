"""Where brackets are along a piece: near its ends and evenly between."""

from __future__ import annotations

import math

from heatloop.survey.catalogue import CountRule

EPS = 1e-9


def fixing_positions_m(length_m: float, spacing_m: float, end_m: float | None = None) -> tuple[float, ...]:
    """Positions (m) of fixings from the left-hand end of a piece of `length_m`.

    They are evenly spaced, and as few as possible. Spacing at most `spacing_m`, and at most `end_m` from either end
    (default: half the spacing). Never fewer than two, so that the piece cannot turn; they are at its quarters where it
    is no longer than twice `end_m` (common practice). ValueError for a length or spacing not above 0, or `end_m` below
    0.

    >>> fixing_positions_m(2.0, 0.6, 0.1)
    (0.1, 0.7, 1.3, 1.9)
    """
    end_m = spacing_m / 2.0 if end_m is None else end_m
    for name, value, fits in (
        ("length_m", length_m, length_m > 0.0),
        ("spacing_m", spacing_m, spacing_m > 0.0),
        ("end_m", end_m, end_m >= 0.0),
    ):
        if not (fits and math.isfinite(value)):
            raise ValueError(f"{name} = {value:g}: must be {'0 or above' if name == 'end_m' else 'above 0'}")
    between_m = length_m - 2.0 * end_m
    if between_m <= 0.0:
        return (round(length_m / 4.0, 6), round(3.0 * length_m / 4.0, 6))
    gaps = max(1, math.ceil(between_m / spacing_m - EPS))
    return tuple(round(end_m + between_m * i / gaps, 6) for i in range(gaps + 1))


def fixing_name(rule: CountRule) -> str:
    """A fixing by its name, with the number at each position where there are several.

    >>> fixing_name(CountRule("screw and plug", "spacing", 2.0)), fixing_name(CountRule("bracket", "spacing"))
    ('2 × screw and plug', 'bracket')
    """
    return rule.item if rule.quantity == 1.0 else f"{rule.quantity:g} × {rule.item}"
