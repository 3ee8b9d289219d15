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
    """Efficiency (or coefficient of performance) and output of the source at an outdoor and a flow temperature."""

    outdoor_c: float
    flow_temp_c: float
    efficiency: float
    capacity_kw: float | None = None


@dataclass(frozen=True)
class Year:
    """A year of weather, the performance of a source and its energy price, from :func:`heatloop.read_year`.

    Attributes
    ----------
    file, name, currency : str
        Path of the file, name of weather and source, currency of the prices.
    price_per_kwh : float
        Price of a kWh of energy for the source.
    bins : tuple of WeatherBin
        Hours of the year at each outdoor temperature.
    performance : tuple of SourcePerformance
        Efficiency and output of the source by outdoor and flow temperature.
    base_c : float or None
        Outdoor temperature in °C at which sun and people cover the heat loss; None: they are left out.
    degradation : float
        Degradation coefficient at part load; 1: no loss at part load.
    backup_efficiency : float or None
        Efficiency of the backup that gives what the source output does not cover; None: there is no backup.
    backup_price_per_kwh : float or None
        Price of a kWh of energy for the backup; None: the price of the source.
    standby_w : float
        Electric power of the source in hours without heating.

    Examples
    --------
    >>> import heatloop as hl
    >>> from dataclasses import replace
    >>> replace(hl.read_year("data/alder-lodge/year.toml"), price_per_kwh=0.25).price_per_kwh
    0.25
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
