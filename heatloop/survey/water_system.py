"""The water's way to the loops as frozen values: source and pump, trunks, bypasses, antifreeze."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class PumpCurve:
    """Head against flow of the pump at full speed, flow rising and head falling.

    It runs at `speed` (a share of full speed; None: set at commissioning to what the design wants), or keeps a
    differential: `constant_kpa` whatever the flow, or `proportional_kpa` at the flow `proportional_m3_h` (the last
    of the curve where none is given) and half of it without flow. `efficiency` is water power over electric power.
    """

    flow_m3_h: tuple[float, ...]
    head_kpa: tuple[float, ...]
    speed: float | None = None
    constant_kpa: float | None = None
    proportional_kpa: float | None = None
    proportional_m3_h: float | None = None
    efficiency: float | None = None


@dataclass(frozen=True)
class Source:
    """The heat source and its pump. `level_m` as of the rooms, for buoyancy."""

    kind: str = "heat source"
    output_kw: float | None = None
    min_flow_l_h: float | None = None
    max_flow_temp_c: float | None = None
    min_open_water_l: float | None = None
    water_volume_l: float = 0.0
    pump: PumpCurve | None = None
    max_pressure_kpa: float | None = None
    level_m: float = 0.0


@dataclass(frozen=True)
class Trunk:
    """A pair of pipes that several loops share. `from_trunk` None: it starts at the source.

    Mixed to a temperature it has a `pump` of its own. `reverse_return`: its return pipe runs the same way as its flow.
    `around_c`: temperature of what it runs through (None: the mean of the rooms).
    """

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
    """From flow to return at the end of a trunk (None: at the source), open always or from a differential on."""

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
    """The expansion vessel as bought, what is not stated being worked out; `level_m` as of the rooms."""

    volume_l: float | None = None
    precharge_kpa: float | None = None
    level_m: float | None = None
    max_pressure_kpa: float | None = None


@dataclass(frozen=True)
class PressureTest:
    """The strength test with water: `pressure_kpa`, or `factor` times the setting of the relief valve.

    `settle_minutes` come before the `minutes` in which the pressure is to hold. `source` names who wants it so.
    """

    factor: float = 1.3
    pressure_kpa: float | None = None
    settle_minutes: float = 30.0
    minutes: float = 60.0
    source: str = ""


@dataclass(frozen=True)
class Additive:
    """An inhibitor or a cleanser as its label says: `per_cent` of the content, or `dose_ml_per_l` of it.

    `container_l` is what one container holds; `mixed_metals` whether its maker states it for the metals of
    this system together (None: not stated).
    """

    name: str
    per_cent: float | None = None
    dose_ml_per_l: float | None = None
    container_l: float | None = None
    mixed_metals: bool | None = None
    source: str = ""


@dataclass(frozen=True)
class OtherWater:
    """Water in a part that no loop, trunk or source holds, such as a buffer."""

    name: str
    water_l: float


@dataclass(frozen=True)
class Weather:
    """The day of commissioning: outdoor temperature, and the flow temperature read at the source.

    `compensated`: the source follows the weather. Where `flow_temp_c` is not read it is then worked out
    from `outdoor_c`; where neither is given the design temperatures stand.
    """

    compensated: bool = True
    outdoor_c: float | None = None
    flow_temp_c: float | None = None


@dataclass(frozen=True)
class WaterSystem:
    """The closed system round the loops.

    `greatest_c` is the greatest temperature its water can reach (None: the greatest flow temperature of the
    source, else of the design). `top_m` is its highest point (None: the top of the highest skirting).
    `hose_kpa` is the pressure at the hose it is filled by. `metals` are those that the water touches beside
    the profiles (none: copper). `ph` is the range to keep (None: by the metals). `sweep_m_s` sweeps air to
    a vent.
    """

    fill_c: float = 10.0
    greatest_c: float | None = None
    expansion: Expansion = "density"
    relief_kpa: float = 300.0
    static_margin_kpa: float = 30.0
    top_m: float | None = None
    vessel: Vessel = Vessel()
    test: PressureTest = PressureTest()
    other_water: tuple[OtherWater, ...] = ()
    hose_kpa: float | None = None
    sweep_m_s: float = 0.75
    old_system: bool = False
    metals: tuple[str, ...] = ()
    softened_fill: bool = False
    softened_fill_allowed: bool = False
    ph: tuple[float, float] | None = None
    flush_volumes: float = 3.0
    cleanse_minutes: float = 60.0
    filter_line_mm: float = 22.0
    inhibitor: Additive | None = None
    cleanser: Additive | None = None
    weather: Weather = Weather()

    @property
    def other_water_l(self) -> float:
        """Water that stands in no loop, trunk or source, litres."""
        return sum(item.water_l for item in self.other_water)
