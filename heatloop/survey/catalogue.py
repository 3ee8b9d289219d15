"""The catalogue as frozen values: joints, ends, pipes, valves, emitters, counting rules and packs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeVar, get_args

from heatloop.survey.profiles import Profile, sourced
from heatloop.text.summary import HasSummary, Summary


def pipe_summary(pipe: Pipe) -> Summary:
    """A pipe: bore, outside and insulation."""
    lagged = f", insulation {pipe.insulation_mm:g} mm" if pipe.insulation_mm > 0 else ", no insulation"
    size = f"Bore {pipe.bore_mm:g} mm, outside {pipe.outside_mm:g} mm, roughness {pipe.roughness_mm:g} mm{lagged}."
    return Summary(f"Pipe {pipe.name}", (size, *sourced(pipe.source, pipe.invented)))


FreeEnd = Literal["one", "both", "none"]

CountPer = Literal[
    "joint", "joint-channel", "end", "end-channel", "piece", "metre", "spacing", "fixed end", "free end", "anchor",
    "straight", "run", "loop", "room", "valve", "litre",
]  # fmt: skip

PartUnit = Literal["piece", "m", "l"]

JointKind = Literal["inside corner", "outside corner", "angle", "straight", "crossing", "floor section"]

EndKind = Literal["valve end", "plain end", "turn end"]

JOINT_KINDS: tuple[JointKind, ...] = get_args(JointKind)

END_KINDS: tuple[EndKind, ...] = get_args(EndKind)

VENT, DRAIN = "vent", "drain valve"
"""Names in the parts list of the vent and the drain of an end."""


@dataclass(frozen=True)
class Joint:
    """A connection of two pieces; `slide_mm` is None if not stated."""

    name: str
    kind: JointKind
    turn_deg: tuple[float, float]
    cut_deduction_mm: float
    zeta: float = 0.0
    heated: bool = False
    free_end: FreeEnd = "none"
    slide_mm: float | None = None
    elastic_allowance_mm: float = 0.0
    machining: str = ""
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None


@dataclass(frozen=True)
class End:
    """An end of a run; a catalogue has one of each `kind`."""

    name: str
    kind: EndKind
    cut_deduction_mm: float
    zeta: float = 0.0
    vent: bool = False
    drain: bool = False
    free_end: Literal["one", "none"] | None = None
    slide_mm: float | None = None
    elastic_allowance_mm: float = 0.0
    machining: str = ""
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None


@dataclass(frozen=True)
class Pipe(HasSummary):
    """A plain round pipe; `allowance_m` is None where it is not stated."""

    name: str
    bore_mm: float
    outside_mm: float
    roughness_mm: float = 0.0015
    insulation_mm: float = 0.0
    insulation_conductivity_w_mk: float = 0.035
    allowance_m: float | None = None
    waste_percent: float = 0.0
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None

    def summary_block(self) -> Summary:
        """Summary of the pipe, as printed and as shown in a notebook."""
        return pipe_summary(self)

    @property
    def bore_m(self) -> float:
        return self.bore_mm / 1000.0

    @property
    def insulation_item(self) -> str:
        """Name in the parts list of the insulation of this pipe; empty without insulation."""
        return f"insulation {self.insulation_mm:g} mm for {self.name}" if self.insulation_mm > 0.0 else ""


@dataclass(frozen=True)
class Valve:
    """A valve by its Kv at each setting."""

    name: str
    kv_m3_h: tuple[float, ...]
    kv_at_1k_m3_h: tuple[float, ...] = ()
    kvs_m3_h: float | None = None
    max_dp_kpa: float | None = None
    standard: str = ""
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None
    presetting: bool = False

    @property
    def kv_open_m3_h(self) -> float:
        """Kv at the widest setting (thermostatic: at its proportional band)."""
        return self.kv_m3_h[-1]


@dataclass(frozen=True)
class Emitter:
    """Another emitter on the same water, such as an existing radiator or a towel rail."""

    name: str
    output_w: float
    exponent: float
    zeta: float | None = None
    kv_m3_h: float | None = None
    water_l: float = 0.0
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None


@dataclass(frozen=True)
class CountRule:
    """A counting rule: `quantity` of an `item` for each unit of `per`; empty `at` and `profiles` select all."""

    item: str
    per: CountPer
    quantity: float = 1.0
    at: tuple[str, ...] = ()
    profiles: tuple[str, ...] = ()
    unit: PartUnit = "piece"
    spacing_m: float | None = None
    end_m: float | None = None
    spares_percent: float = 0.0
    source: str = ""
    invented: bool = False


@dataclass(frozen=True)
class PackSize:
    """A supplier's pack of one item, in the item's unit. An item may come in several packs."""

    item: str
    name: str
    holds: float
    source: str = ""
    invented: bool = False


Entry = TypeVar("Entry", Profile, Joint, End, Pipe, Valve, Emitter)


@dataclass(frozen=True)
class Catalogue:
    """The catalogue: all products of a survey."""

    profiles: tuple[Profile, ...] = ()
    joints: tuple[Joint, ...] = ()
    ends: tuple[End, ...] = ()
    pipes: tuple[Pipe, ...] = ()
    valves: tuple[Valve, ...] = ()
    fittings: tuple[CountRule, ...] = ()
    fixings: tuple[CountRule, ...] = ()
    consumables: tuple[CountRule, ...] = ()
    packs: tuple[PackSize, ...] = ()
    emitters: tuple[Emitter, ...] = ()

    def profile(self, name: str) -> Profile:
        """The profile of that name; KeyError if there is none."""
        return _named(self.profiles, name, "profile")

    def joint(self, name: str) -> Joint:
        """The joint of that name; KeyError if there is none."""
        return _named(self.joints, name, "joint")

    def end(self, name: str) -> End:
        """The end of that name; KeyError if there is none."""
        return _named(self.ends, name, "end")

    def end_of_kind(self, kind: EndKind) -> End:
        """The end of that kind; KeyError if there is none."""
        for end in self.ends:
            if end.kind == kind:
                return end
        raise KeyError(f"no end is of the kind {kind!r}")

    def pipe(self, name: str) -> Pipe:
        """The pipe of that name; KeyError if there is none."""
        return _named(self.pipes, name, "pipe")

    def valve(self, name: str) -> Valve:
        """The valve of that name; KeyError if there is none."""
        return _named(self.valves, name, "valve")

    def emitter(self, name: str) -> Emitter:
        """The emitter of that name; KeyError if there is none."""
        return _named(self.emitters, name, "emitter")


def _named(items: tuple[Entry, ...], name: str, kind: str) -> Entry:
    for item in items:
        if item.name == name:
            return item
    known = ", ".join(repr(i.name) for i in items) or "none"
    raise KeyError(f"no {kind} is called {name!r}; the catalogue has {known}")
