"""The kinds of fault that readings can show, each a class of causes that a thermometer cannot tell apart.

A valve left shut, a pipe blocked and air in a loop all starve it of water: temperatures and flows are the same, so
they are one kind here, with the look or the reading that tells its causes apart. The weights are how common each
kind is taken to be on a site that has one fault: a judgement, common practice, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from heatloop.hydraulics.network.system import PipeNetwork

FaultKind = Literal[
    "too little water",
    "too much water",
    "too little heat",
    "flow and return swapped",
    "too little head",
    "too much head",
    "source too cool",
    "source too warm",
    "no fault",
]

LITTLE_WATER: Final = "too little water"
MUCH_WATER: Final = "too much water"
LITTLE_HEAT: Final = "too little heat"
SWAPPED: Final = "flow and return swapped"
LITTLE_HEAD: Final = "too little head"
MUCH_HEAD: Final = "too much head"
TOO_COOL: Final = "source too cool"
TOO_WARM: Final = "source too warm"
NO_FAULT: Final = "no fault"


@dataclass(frozen=True)
class FaultType:
    """One kind of fault: a sentence with {of}, what its size is, its causes, what to try first, what tells the causes
    apart, its weight among kinds and the range of sizes looked at."""

    name: FaultKind
    statement: str
    size_meaning: str
    causes: str
    first_action: str
    distinguishing_check: str
    weight: float
    sizes: tuple[float, ...] = ()


KINDS: dict[FaultKind, FaultType] = {
    kind.name: kind
    for kind in (
        FaultType(
            NO_FAULT,
            "no fault shows",
            "",
            "",
            "nothing",
            "",
            0.0,
        ),
        FaultType(
            LITTLE_WATER,
            "{of} gets too little water",
            "flow as a share of the expected flow",
            "a valve shut or set too low; air in the loop; a blockage (swarf, sealant, a crushed or kinked tail)",
            "read the settings of its valves against the commissioning sheet, then vent it",
            "all its valves fully open, read the return again: warm, it was a valve; still cold, vent at the far end "
            "and read again: warm, it was air; still cold, something blocks it, and gauges at test points find where",
            0.30,
            (0.01, 0.04, 0.08, 0.14, 0.21, 0.29, 0.38, 0.48, 0.59, 0.70),
        ),
        FaultType(
            MUCH_WATER,
            "{of} gets too much water",
            "flow as a share of the expected flow",
            "its balancing valve open too far, or never set",
            "read the setting of its balancing valve against the commissioning sheet",
            "the setting itself; a flow reading of this loop confirms it",
            0.12,
        ),
        FaultType(
            LITTLE_HEAT,
            "{of} gives too little heat",
            "output as a share of the expected output",
            "skirting covered by furniture, carpet or curtains; where channels run side by side, air in one of them",
            "look along it for what covers it",
            "surface temperature of each channel half-way along: all warm, something covers it; one cold, that "
            "channel holds air",
            0.13,
            (0.30, 0.38, 0.46, 0.54, 0.62, 0.70, 0.78),
        ),
        FaultType(
            SWAPPED,
            "flow and return of {of} are swapped",
            "",
            "the two pipes crossed at the distribution, or the two readings written in each other's place",
            "read both pipes again where they leave the distribution",
            "follow the pipes, or shut the valve on the flow: the pipe that stays hot is the flow",
            0.10,
        ),
        FaultType(
            LITTLE_HEAD,
            "{of} is under-pumped: its loops get too little head",
            "head as a share of the expected head",
            "pump set too low; filter or strainer blocked; a main valve half shut; air in the pump",
            "read the pump's setting against the commissioning sheet, then clean the filter",
            "head at the pump by gauges: low, it is the setting or the pump; as expected, a filter or a valve between "
            "pump and loops",
            0.15,
            (0.10, 0.16, 0.24, 0.33, 0.43, 0.54, 0.65),
        ),
        FaultType(
            MUCH_HEAD,
            "{of} is over-pumped: its loops get too much head",
            "head as a share of the expected head",
            "pump set too high",
            "read the pump's setting against the commissioning sheet",
            "head at the pump by gauges",
            0.04,
            (1.55, 1.9, 2.3, 2.8, 3.4, 4.2),
        ),
        FaultType(
            TOO_COOL,
            "the water of {of} is too cool",
            "kelvin from the expected flow temperature",
            "the source not giving what it is asked for; a mixing valve or a bypass letting return water in; the "
            "source still heating up",
            "read the flow temperature that the source itself shows, now and after a quarter of an hour",
            "flow temperature by a probe in a pocket, at the source and beyond any mixing valve",
            0.12,
            (-4.0, -6.0, -8.0, -10.0, -12.5, -15.0, -18.0, -21.0),
        ),
        FaultType(
            TOO_WARM,
            "the water of {of} is too warm",
            "kelvin from the expected flow temperature",
            "the source set too warm; a mixing valve stuck or set wrong",
            "read the flow temperature that the source shows, and turn it down: skirting too hot can burn",
            "flow temperature by a probe in a pocket, at the source and beyond any mixing valve",
            0.04,
            (4.0, 6.0, 8.0, 10.0, 12.5, 15.0),
        ),
    )
}


@dataclass(frozen=True)
class LocatedFault:
    """A fault that might be there: its kind and where. `loop`, `arm` and `circuit` are places in a network's lists,
    -1 for none; an arm's fault is one of a loop with several arms."""

    kind: FaultKind
    loop: int = -1
    arm: int = -1
    circuit: int = -1

    def of(self, network: PipeNetwork) -> str:
        """Name of the loop, arm or circuit: "Kitchen", "Living room, arm 2", "source"."""
        if self.loop >= 0:
            return place_name(network, self.loop, self.arm)
        return network.circuits[self.circuit].name if self.circuit >= 0 else ""

    def text(self, network: PipeNetwork) -> str:
        """The fault in a sentence."""
        name = self.of(network)
        if self.circuit >= 0:
            name = "the source" if self.circuit == 0 else f'the mixed circuit "{name}"'
        return KINDS[self.kind].statement.format(of=name)


def place_name(network: PipeNetwork, loop: int, arm: int) -> str:
    """Name of a loop, or of an arm of it where `arm` is a place in the network's arms."""
    name = network.loops[loop].loop.name
    if arm < 0:
        return name
    own = [a for a in range(len(network.arms)) if network.arm_loop[a] == loop]
    return f"{name}, arm {own.index(arm) + 1}"
