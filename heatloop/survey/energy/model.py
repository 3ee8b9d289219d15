"""Values of a year file: hours by outdoor temperature, efficiency of the source, prices."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WeatherBin:
    """Hours of a year at an outdoor temperature."""

    outdoor_c: float
    hours: float


@dataclass(frozen=True)
class SourcePerformance:
    """Efficiency (or coefficient of performance) and capacity of the source at an outdoor and a flow temperature."""

    outdoor_c: float
    flow_temp_c: float
    efficiency: float
    capacity_kw: float | None = None


@dataclass(frozen=True)
class Year:
    """A year of weather, the performance of a source, and its energy price; bins and performance in any order.

    `base_c`: outdoor temperature at which sun and people cover the heat loss; None: they are left out.
    """

    file: str
    name: str
    currency: str
    price_per_kwh: float
    bins: tuple[WeatherBin, ...]
    performance: tuple[SourcePerformance, ...]
    base_c: float | None = None
    degradation: float = 1.0
    backup_efficiency: float | None = None
    backup_price_per_kwh: float | None = None
    standby_w: float = 0.0
