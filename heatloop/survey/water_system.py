"""Water system of a survey: source and pump, trunks, bypasses, antifreeze, closed system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class PumpCurve:
    """Head against flow of the pump at full speed, flow rising and head falling, and how it runs."""

    flow_m3_h: tuple[float, ...]
    head_kpa: tuple[float, ...]
    speed: float | None = None
    constant_kpa: float | None = None
    proportional_kpa: float | None = None
    proportional_m3_h: float | None = None
    efficiency: float | None = None


@dataclass(frozen=True)
class Source:
    """The heat source and its pump."""

    kind: str = "heat source"
    output_kw: float | None = None
    min_flow_l_h: float | None = None
    max_flow_temp_c: float | None = None
    min_always_open_water_l: float | None = None
    water_volume_l: float = 0.0
    pump: PumpCurve | None = None
    max_pressure_kpa: float | None = None
    level_m: float = 0.0
    outdoor_pipes: bool = False


@dataclass(frozen=True)
class Trunk:
    """A pair of pipes that several loops share; mixed to a temperature it has a `pump` of its own."""

    name: str
    pipe: str
    length_m: float
    from_trunk: str | None = None
    mixed_to_c: float | None = None
    zeta: float = 0.0
    pump: PumpCurve | None = None
    reverse_return: bool = False
    around_c: float | None = None


@dataclass(frozen=True)
class Bypass:
    """A bypass from flow to return, always open or above a differential pressure."""

    name: str
    kv_m3_h: float
    trunk: str | None = None
    opens_at_kpa: float | None = None


@dataclass(frozen=True)
class Antifreeze:
    """Glycol in the water, by volume as a container states it or by mass."""

    kind: Literal["propylene glycol", "ethylene glycol"]
    percent_by_volume: float | None = None
    mass_fraction: float | None = None


Expansion = Literal["density", "EN 12828"]


@dataclass(frozen=True)
class Vessel:
    """The expansion vessel as bought; missing values are calculated."""

    volume_l: float | None = None
    precharge_kpa: float | None = None
    level_m: float | None = None
    max_pressure_kpa: float | None = None


@dataclass(frozen=True)
class PressureTest:
    """The strength test with water."""

    factor: float = 1.3
    pressure_kpa: float | None = None
    settle_minutes: float = 30.0
    minutes: float = 60.0
    source: str = ""


@dataclass(frozen=True)
class Additive:
    """An inhibitor or a cleanser as its label states; `mixed_metals` is None where its maker states nothing."""

    name: str
    per_cent: float | None = None
    dose_ml_per_l: float | None = None
    container_l: float | None = None
    mixed_metals: bool | None = None
    source: str = ""


@dataclass(frozen=True)
class AdditionalVolume:
    """Water in a part that is not a loop, a trunk or the source, such as a buffer."""

    name: str
    water_l: float


@dataclass(frozen=True)
class CommissioningWeather:
    """The day of commissioning; without either temperature, those of the design apply."""

    compensated: bool = True
    outdoor_c: float | None = None
    flow_temp_c: float | None = None


@dataclass(frozen=True)
class WaterSystem:
    """The closed system round the loops."""

    fill_c: float = 10.0
    max_temp_c: float | None = None
    expansion: Expansion = "density"
    relief_kpa: float = 300.0
    static_margin_kpa: float = 30.0
    highest_point_m: float | None = None
    vessel: Vessel = Vessel()
    test: PressureTest = PressureTest()
    additional_volume: tuple[AdditionalVolume, ...] = ()
    hose_kpa: float | None = None
    purge_velocity_m_s: float = 0.75
    old_system: bool | None = None
    metals: tuple[str, ...] = ()
    softened_fill: bool = False
    softened_fill_allowed: bool = False
    ph: tuple[float, float] | None = None
    flush_volumes: float = 3.0
    cleanse_minutes: float = 60.0
    filter_line_mm: float = 22.0
    inhibitor: Additive | None = None
    cleanser: Additive | None = None
    weather: CommissioningWeather = CommissioningWeather()

    @property
    def additional_volume_l(self) -> float:
        """Water that is in no loop, trunk or source, in litres."""
        return sum(item.water_l for item in self.additional_volume)
