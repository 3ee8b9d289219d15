"""Kinds of fault that readings can show, each a class of causes with the same effect on temperatures and flows.

A closed valve, a blocked pipe and air in a loop all reduce its flow. They are one kind here, with the inspection or
reading that distinguishes the causes. The weights are the assumed frequency of each kind on a site with one fault:
a judgement from common practice.
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
    "air in a channel",
    "loops interchanged",
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
AIR: Final = "air in a channel"
INTERCHANGED: Final = "loops interchanged"
NO_FAULT: Final = "no fault"


@dataclass(frozen=True)
class FaultType:
    """One kind of fault.

    A statement with {of}, meaning of its size, causes, first action, check that distinguishes the causes, weight among
    kinds, and the sizes considered.
    """

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
            "no fault",
            "",
            "",
            "nothing",
            "",
            0.0,
        ),
        FaultType(
            LITTLE_WATER,
            "{of} receives too little water",
            "flow as a share of the expected flow",
            "a valve closed or set too low; air in the loop; a blockage (metal chips, sealant, a crushed or "
            "kinked tail)",
            "compare the settings of its valves with the commissioning sheet, then vent it",
            "open all its valves fully and read the return again: if it is now warm, a valve was the cause. If not, "
            "vent at the far end and read again: if it is now warm, air was the cause. If not, locate the blockage "
            "with pressure gauges at the test points",
            0.26,
            (0.01, 0.04, 0.08, 0.14, 0.21, 0.29, 0.38, 0.48, 0.59, 0.70),
        ),
        FaultType(
            MUCH_WATER,
            "{of} receives too much water",
            "flow as a share of the expected flow",
            "its balancing valve open too far, or never set",
            "compare the setting of its balancing valve with the commissioning sheet",
            "the setting itself; a flow reading of this loop confirms it",
            0.12,
        ),
        FaultType(
            LITTLE_HEAT,
            "{of} gives too little heat",
            "output as a share of the expected output",
            "skirting covered by furniture, carpet or curtains",
            "inspect the whole length of the skirting for anything that covers it",
            "surface temperature half-way along and at the far end: if all channels are warm, the skirting is covered",
            0.16,
            (0.30, 0.38, 0.46, 0.54, 0.62, 0.70, 0.78),
        ),
        FaultType(
            SWAPPED,
            "flow and return of {of} are swapped",
            "",
            "the two pipes interchanged at the distribution, or the two readings interchanged",
            "read both pipes again where they leave the distribution",
            "trace the pipes, or close the valve on the flow: the pipe that stays hot is the flow",
            0.10,
        ),
        FaultType(
            LITTLE_HEAD,
            "the pump of {of} gives too little head to its loops",
            "head as a share of the expected head",
            "pump set too low; filter or strainer blocked; a main valve half closed; air in the pump",
            "compare the pump's setting with the commissioning sheet, then clean the filter",
            "head at the pump by pressure gauges: if it is low, the setting or the pump is the cause; if not, a filter "
            "or a valve between pump and loops",
            0.15,
            (0.10, 0.16, 0.24, 0.33, 0.43, 0.54, 0.65),
        ),
        FaultType(
            MUCH_HEAD,
            "the pump of {of} gives too much head to its loops",
            "head as a share of the expected head",
            "pump set too high",
            "compare the pump's setting with the commissioning sheet",
            "head at the pump by pressure gauges",
            0.04,
            (1.55, 1.9, 2.3, 2.8, 3.4, 4.2),
        ),
        FaultType(
            TOO_COOL,
            "the water of {of} is too cool",
            "kelvin from the expected flow temperature",
            "the source does not reach its setting; a mixing valve or a bypass admits return water; the source is "
            "still heating up",
            "read the flow temperature displayed by the source, now and after 15 minutes",
            "flow temperature by a probe in a pocket, at the source and downstream of any mixing valve",
            0.12,
            (-4.0, -6.0, -8.0, -10.0, -12.5, -15.0, -18.0, -21.0),
        ),
        FaultType(
            TOO_WARM,
            "the water of {of} is too warm",
            "kelvin from the expected flow temperature",
            "the source set too warm; a mixing valve stuck or set incorrectly",
            "read the flow temperature displayed by the source and reduce it: skirting that is too hot can burn",
            "flow temperature by a probe in a pocket, at the source and downstream of any mixing valve",
            0.04,
            (4.0, 6.0, 8.0, 10.0, 12.5, 15.0),
        ),
        FaultType(
            AIR,
            "{of} contains air",
            "",
            "air in one of several parallel channels; a blockage in it",
            "vent at the far end, then purge the loop with its other channels warm",
            "surface temperature of each channel half-way along: the one with air is cold",
            0.10,
        ),
        FaultType(
            INTERCHANGED,
            "{of} are interchanged at the distribution",
            "",
            "labels of the two loops interchanged, or readings entered at the wrong loop",
            "trace both loops from the distribution to their rooms",
            "close one of the two loops at the distribution: the skirting that cools down is its own",
            0.08,
        ),
    )
}


@dataclass(frozen=True)
class LocatedFault:
    """A possible fault with its location.

    `loop`, `arm`, `circuit` and `channel` are indices in the lists of a network or of an arm, -1 for none; a fault of
    an arm belongs to a loop with several arms. `other`: the loop with which a loop is interchanged.
    """

    kind: FaultKind
    loop: int = -1
    arm: int = -1
    circuit: int = -1
    channel: int = -1
    other: int = -1

    def of(self, network: PipeNetwork) -> str:
        """Name of the loop, arm, channel or circuit: "Kitchen", "Living room, arm 2", "source"."""
        if self.other >= 0:
            return " and ".join(place_name(network, loop, -1) for loop in (self.loop, self.other))
        if self.loop >= 0:
            channel = f", channel {self.channel + 1}" if self.channel >= 0 else ""
            return f"{place_name(network, self.loop, self.arm)}{channel}"
        return network.circuits[self.circuit].name if self.circuit >= 0 else ""

    def text(self, network: PipeNetwork) -> str:
        """The fault in a sentence."""
        name = ""
        if self.circuit >= 0:
            name = "the source" if self.circuit == 0 else f'the mixed circuit "{self.of(network)}"'
        elif self.other >= 0:
            name = " and ".join(f'"{network.loops[loop].loop.name}"' for loop in (self.loop, self.other))
            name = f"the loops {name}"
        elif self.loop >= 0:
            name = f'the loop "{network.loops[self.loop].loop.name}"'
            name = name if self.arm < 0 else f"arm {_arm_number(network, self.loop, self.arm)} of {name}"
            name = name if self.channel < 0 else f"channel {self.channel + 1} of {name}"
        return KINDS[self.kind].statement.format(of=name)


def place_name(network: PipeNetwork, loop: int, arm: int) -> str:
    """Name of a loop, or of an arm of it where `arm` is a place in the network's arms."""
    name = network.loops[loop].loop.name
    if arm < 0:
        return name
    return f"{name}, arm {_arm_number(network, loop, arm)}"


def _arm_number(network: PipeNetwork, loop: int, arm: int) -> int:
    """Number of an arm in its loop, from 1."""
    return [a for a in range(len(network.arms)) if network.arm_loop[a] == loop].index(arm) + 1
