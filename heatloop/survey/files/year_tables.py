"""The tables of a year file: weather, performance of the source and prices."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatloop.survey.energy.model import SourcePerformance, WeatherBin, Year
from heatloop.survey.files.fields import FileTable, ListField, Name, NumberField, TextField

MAX_HOURS = 8784.0
"""Hours of a leap year."""

OutdoorTemp = Annotated[float, NumberField("°C", minimum=-60, maximum=40)]
Price = Annotated[float, NumberField("the currency of the file", minimum=0)]
Efficiency = Annotated[float, NumberField("", above=0, maximum=20)]


class WeatherBinTable(FileTable):
    """Hours of a year at an outdoor temperature. Hours without heating may be left out."""

    outdoor_c: OutdoorTemp = Field(description="outdoor temperature")
    hours: Annotated[float, NumberField("hours", minimum=0, maximum=MAX_HOURS)] = Field(
        description="hours of the year at this temperature"
    )

    def value(self) -> WeatherBin:
        return WeatherBin(**dict(self))


class SourcePerformanceTable(FileTable):
    """The source at an outdoor and a flow temperature. The rows form a grid: every outdoor temperature has a row for
    every flow temperature. Between the rows, values are linear."""

    outdoor_c: OutdoorTemp = Field(description="outdoor temperature")
    flow_temp_c: Annotated[float, NumberField("°C", minimum=10, maximum=110)] = Field(description="flow temperature")
    efficiency: Efficiency = Field(
        description="heat over energy at full load: the coefficient of performance of a heat pump, the efficiency of a "
        "boiler"
    )
    capacity_kw: Annotated[float, NumberField("kW", above=0, maximum=10_000)] | None = Field(
        default=None, description="maximum heat of the source; in all rows or in none"
    )

    def value(self) -> SourcePerformance:
        return SourcePerformance(**dict(self))


class YearTable(FileTable):
    """The top of a year file."""

    name: Name = Field(description="name of weather and source, as results print it")
    origin: Annotated[str, TextField("a sentence", maximum=400)] = Field(
        description="origin of the data: weather station, test report, tariff"
    )
    currency: Annotated[str, TextField("a currency", maximum=12)] = Field(description="currency of the prices")
    price_per_kwh: Price = Field(description="price of a kWh of energy for the source")
    base_c: OutdoorTemp | None = Field(
        default=None,
        description="outdoor temperature at which sun and people cover the heat loss; if not given, they are left out",
    )
    degradation: Annotated[float, NumberField("", minimum=0, maximum=1)] = Field(
        default=1.0, description="degradation coefficient at part load (EN 14825); 1: no loss at part load"
    )
    backup_efficiency: Efficiency | None = Field(
        default=None, description="heat over energy of the backup that gives what the capacity does not cover"
    )
    backup_price_per_kwh: Price | None = Field(
        default=None, description="price of a kWh for the backup; if not given, that of the source"
    )
    standby_w: Annotated[float, NumberField("W", minimum=0, maximum=1000)] = Field(
        default=0.0, description="electric power of the source in the hours of the file without heating"
    )
    bins: Annotated[list[WeatherBinTable], ListField("bins", 1, 200)] = Field(alias="bin", description="weather bins")
    performance: Annotated[list[SourcePerformanceTable], ListField("points", 1, 400)] = Field(
        description="performance of the source"
    )

    def value(self, file: str) -> Year:
        plain = {name: value for name, value in dict(self).items() if name not in ("bins", "performance", "origin")}
        bins, points = tuple(one.value() for one in self.bins), tuple(one.value() for one in self.performance)
        return Year(file=file, **plain, bins=bins, performance=points)
