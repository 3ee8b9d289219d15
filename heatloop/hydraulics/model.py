"""Values of the water side: elements, cells, arms and loops, computed from survey and layout."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from heatloop.physics.ducts import Duct
from heatloop.survey.loops import Loop
from heatloop.survey.profiles import Profile

Side = Literal["flow", "return"]
"""Water on its way out to the loops and through them, or on its way back."""

ElementKind = Literal[
    "tail", "valve", "emitter", "piece", "floor section", "joint", "crossing", "end", "trunk", "bypass", "tee"
]


@dataclass(frozen=True)
class Characteristic:
    """Constants of a metre of profile: K in W/(m K^n) for all channels, exponent, and link in W/(m K).

    With a `flow_exponent` the output is proportional to (flow / `test_flow_kg_s`) to that power, and no film is
    included.
    """

    k_w_mkn: float
    exponent: float
    link_w_mk: float
    flow_exponent: float = 0.0
    test_flow_kg_s: float = 1.0


@dataclass(frozen=True)
class EmitterCharacteristic:
    """Characteristic of another emitter: K in W/K^n of the whole emitter, exponent, and temperature of its room."""

    k_w_kn: float
    exponent: float
    room_c: float


@dataclass(frozen=True)
class PathElement:
    """One stretch of waterway or one fitting.

    `arm` counts from 1; 0 for the tails. `channel` counts from 1; 0 where the pipe carries all the water. `node_in` and
    `node_out` count the nodes of the arm along the wall from the tails. Zeta refers to the velocity in the element.
    `kv_m3_h` is None unless the element is a valve, or an emitter that states a Kv. `holds_l` is water in addition to
    that of its length. `emits` is set for another emitter only, kind "emitter".
    """

    kind: ElementKind
    label: str
    room: str
    arm: int
    channel: int
    direction: Side
    duct: Duct
    roughness_m: float
    length_m: float = 0.0
    zeta: float = 0.0
    kv_m3_h: float | None = None
    valve: str | None = None
    wall: int | None = None
    from_m: float | None = None
    to_m: float | None = None
    node_in: int = 0
    node_out: int = 0
    holds_l: float = 0.0
    emits: EmitterCharacteristic | None = None


@dataclass(frozen=True)
class Cell:
    """A stretch that exchanges heat: its characteristic times `factor`, in the room at `room_c`.

    `film`: the resistance of the water film is included. `skirting`: profile, not the plain pipe of a crossing.
    `useful`: share of its heat that counts for the room. `back_w_mk`: heat loss through the wall behind it, per metre
    and per kelvin of skirting wall above room, in addition to the heat to the room. `downward_loss_w_mk`: heat loss of
    a floor section into the floor, per metre and kelvin; the water loses it and the room does not receive it.
    """

    room: str
    room_c: float
    length_m: float
    characteristic: Characteristic
    factor: float
    label: str
    film: bool = True
    skirting: bool = True
    useful: float = 1.0
    back_w_mk: float = 0.0
    downward_loss_w_mk: float = 0.0


@dataclass(frozen=True)
class ArmPath:
    """One run of skirting: its cells in order from the tails, and the elements of each channel in water order.

    The elements of a return channel begin at the far end.
    """

    directions: tuple[int, ...]
    ducts: tuple[Duct, ...]
    cells: tuple[Cell, ...]
    channels: tuple[tuple[PathElement, ...], ...]
    flow_valve: tuple[PathElement, ...] = ()
    return_valve: tuple[PathElement, ...] = ()


@dataclass(frozen=True)
class TailLoss:
    """Heat loss of the tails: W/K of the flow and the return pipe to `around` in `room`; a share is useful."""

    flow_w_k: float = 0.0
    return_w_k: float = 0.0
    around_c: float = 20.0
    room: str = ""
    useful: float = 0.0


@dataclass(frozen=True)
class LoopPath:
    """A loop from where its tails join the distribution, and back.

    Other emitters are in its tails: those on the flow last, those on the return first. Without skirting (`profile`
    None) its single arm is bare pipe of zero length without output.
    """

    loop: Loop
    profile: Profile | None
    tail_flow: tuple[PathElement, ...]
    arms: tuple[ArmPath, ...]
    tail_return: tuple[PathElement, ...]
    tail_loss: TailLoss = TailLoss()

    def elements(self) -> Iterator[PathElement]:
        """All elements in the order of the report: flow tail, each arm out and back, return tail."""
        yield from self.tail_flow
        for arm in self.arms:
            yield from arm.flow_valve
            for direction in (1, -1):
                for channel, sign in zip(arm.channels, arm.directions, strict=True):
                    if sign == direction:
                        yield from channel
            yield from arm.return_valve
        yield from self.tail_return

    @property
    def water_l(self) -> float:
        """Water content of the loop and its tails in litres."""
        return sum(e.duct.content_l_m * e.length_m + e.holds_l for e in self.elements())


@dataclass(frozen=True)
class ElementLocation:
    """Location of an element: loop, arm, trunk and bypass as indices in the lists of the network (-1: none).

    `main` is the link of shared pipework to which it belongs, in the order of `SharedPipework.links`.
    """

    element: PathElement
    loop: int
    arm: int
    trunk: int
    bypass: int = -1
    main: int = -1
