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
