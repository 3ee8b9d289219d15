"""Order of filling, venting and draining.

Filling is from the lowest point upwards, the remote ends last. Draining is from the top down. A loop is filled after
those below it and those nearer to the source. Its air is vented at its far end. Order and steps are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import pandas as pd

from heatloop.handover.commissioning.pressure_checks import accepted_pressures, in_kpa, precharge_to_set_kpa, to_set_kpa
from heatloop.handover.commissioning.pressures import Pressures
from heatloop.handover.commissioning.purging import PurgeResult
from heatloop.layout.model import Arm, Layout, PlacedEnd
from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData
from heatloop.text.column import TableDescription, box_column, count_column, number_column, text_column
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame

FILL_AND_VENT = TableDescription(
    "fill_and_vent",
    "Fill, test, vent and drain",
    "Steps for filling, testing, venting and draining: filling from the lowest point upwards, the remote ends last.",
    (
        count_column("step", "Step"),
        text_column("stage", "Stage"),
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "arm of the loop; 0: the whole loop"),
        text_column("room", "Room"),
        count_column("wall", "Wall"),
        number_column("at_m", "At", "m", 2, "from the left-hand end of the wall, as seen from inside the room"),
        number_column("level_m", "Level", "m", 2),
        text_column("action", "Action"),
        text_column("safety_notices", "Safety notices", "titles of the safety notices for this row"),
        box_column("done", "Done"),
    ),
)

PRESSURE, SCALDING, CHEMICALS = "Pressure", "Scalding", "Chemicals"
ELECTRICITY, FUEL, LEAKS = "Electricity", "Gas, oil, refrigerant and flues", "Freezing and leaks"


NO_VENT = "It has no air vent: air is carried with the return water to the drain at the heat source."


@dataclass(frozen=True)
class RemoteEnd:
    """Place where the air of one arm is vented: the end with a vent, else the far end without one.

    `away_m`: length of the way of its water from the source in metres: trunks, tail and run.
    """

    loop: str
    arm: int
    end: PlacedEnd
    level_m: float
    away_m: float
    vent: bool
    drain: bool

    @property
    def place(self) -> str:
        """The place in words."""
        if self.end.wall is None or self.end.at_m is None:
            return self.end.room
        return f"{self.end.room}, wall {self.end.wall}, {self.end.at_m:.2f} m from its left-hand end"


Stage = Literal[
    "prepare", "strength test", "water treatment", "fill", "vent", "pressurise", "warm up", "set", "refit", "drain"
]


@dataclass(frozen=True)
class FillingStep:
    """One step: the place, the work, and the titles of the safety notices to read first."""

    stage: Stage
    action: str
    caution: tuple[str, ...] = ()
    at: RemoteEnd | None = None


def remote_ends(survey: SurveyData, layout: Layout) -> tuple[RemoteEnd, ...]:
    """Far ends of all arms in the order of filling: lowest floor first, then nearest to the source."""
    ends = []
    for loop in survey.loops:
        arms = layout.loop(loop.name).arms
        ends += [_far_end(survey, loop, arm, number) for number, arm in enumerate(arms, start=1)]
    return tuple(sorted(ends, key=lambda end: (end.level_m, end.away_m)))


def _far_end(survey: SurveyData, loop: Loop, arm: Arm, number: int) -> RemoteEnd:
    ends = [element for element in arm.elements if isinstance(element, PlacedEnd)]
    entries = {id(end): survey.catalogue.end(end.end) if end.end else None for end in ends}
    vented = [end for end in ends if (entry := entries[id(end)]) is not None and entry.vent]
    end = vented[-1] if vented else ends[-1]
    entry = entries[id(end)]
    run_m = sum(piece.tape_m for piece in arm.pieces)
    return RemoteEnd(
        loop=loop.name,
        arm=number,
        end=end,
        level_m=survey.room(end.room).level_m,
        away_m=_trunk_m(survey, loop) + loop.tails.flow_m + run_m,
        vent=bool(vented),
        drain=entry is not None and entry.drain,
    )


def _trunk_m(survey: SurveyData, loop: Loop) -> float:
    length_m, name = 0.0, loop.trunk
    while name is not None:
        trunk = survey.trunk(name)
        length_m, name = length_m + trunk.length_m, trunk.from_trunk
    return length_m


def filling_steps(
    survey: SurveyData, layout: Layout, pressures: Pressures, purges: Sequence[PurgeResult]
) -> tuple[FillingStep, ...]:
    """All steps from the empty to the warm system, and the steps of draining."""
    ends = remote_ends(survey, layout)
    return (
        *_prepare(survey, pressures),
        *_fill(ends, purges),
        *_fill_emitters(survey, purges),
        *_vent(ends),
        *_vent_emitters(survey),
        *_pressurise(pressures),
        *_drain(ends),
    )


def _prepare(survey: SurveyData, system_pressures: Pressures) -> Iterator[FillingStep]:
    water_system = survey.system
    accepted = accepted_pressures(system_pressures).precharge
    yield FillingStep(
        "prepare",
        f"With the vessel isolated, its water side drained and open, set its precharge to "
        f"{precharge_to_set_kpa(system_pressures):g} kPa (accepted: {in_kpa(accepted)}).",
        (PRESSURE,),
    )
    yield FillingStep(
        "prepare",
        "Switch off the heat source and the pump. Remove thermostatic heads and skirting covers, open every valve "
        "fully, close vents and drains, keep every joint visible. Fill only through an approved backflow preventer.",
        (ELECTRICITY, FUEL, CHEMICALS),
    )
    yield FillingStep(
        "strength test",
        f"Isolate heat source, vessel, relief valve and every part that is not rated for the test pressure. Fill "
        f"with water and vent. Raise the pressure to {system_pressures.test_kpa:.0f} kPa, wait "
        f"{water_system.test.settle_minutes:g} min, raise it again and hold it for {water_system.test.minutes:g} min: "
        "the pressure does not fall and no joint leaks. Release the pressure; open the isolated parts.",
        (PRESSURE,),
    )
    yield FillingStep(
        "water treatment",
        "Clean and flush the system, then fit the filter element (water treatment).",
        (CHEMICALS,),
    )


def _fill(ends: Sequence[RemoteEnd], purges: Sequence[PurgeResult]) -> Iterator[FillingStep]:
    yield FillingStep(
        "fill",
        "Connect the hose at the lowest drain or at the heat source. Close all loops, fill heat source and trunks, "
        "and vent them at their highest point.",
    )
    by_arm = {(purge.loop, purge.arm): purge for purge in purges}
    for end in ends:
        purge = by_arm.get((end.loop, end.arm)) or by_arm[end.loop, 0]
        only = f"'s arm {end.arm}" if purge.arm else ""
        air = f"Then vent at {end.place}." if end.vent else NO_VENT
        yield FillingStep(
            "fill",
            f"Open this loop{only} alone and purge it at {purge.flow_l_h:.0f} l/h until no more air comes "
            f"({_driven(purge)}). {air} Close it.",
            at=end,
        )


def _fill_emitters(survey: SurveyData, purges: Sequence[PurgeResult]) -> Iterator[FillingStep]:
    """Steps for loops that have only other emitters; their air is vented at the emitters."""
    by_loop = {purge.loop: purge for purge in purges}
    for loop in survey.loops:
        if not loop.arms:
            purge, where = by_loop[loop.name], listing(f"{item.emitter}, {item.room}" for item in loop.emitters)
            yield FillingStep(
                "fill",
                f'Open loop "{loop.name}" alone and purge it at {purge.flow_l_h:.0f} l/h until no more air comes '
                f"({_driven(purge)}). Then vent at {where}. Close it.",
            )


def _vent_emitters(survey: SurveyData) -> Iterator[FillingStep]:
    for loop in survey.loops:
        for item in loop.emitters:
            where = f'{item.emitter}, {item.room} (loop "{loop.name}")'
            yield FillingStep("vent", f"Vent at {where} until only water comes out.", (LEAKS,))


def _driven(purge: PurgeResult) -> str:
    """The drive of a purge, in words."""
    if purge.drive == "pump":
        return "driven by the pump"
    return f"a hose of {purge.hose_pressure_kpa:.0f} kPa or more; with less, vent by hand at the far end"


def _vent(ends: Sequence[RemoteEnd]) -> Iterator[FillingStep]:
    yield FillingStep(
        "vent", "Open every loop. Vent by hand again: the lowest and nearest points first, the remote ends last."
    )
    for end in ends:
        if end.vent:
            yield FillingStep("vent", f"Vent at {end.place} until only water comes out.", (LEAKS,), end)


def _pressurise(system_pressures: Pressures) -> Iterator[FillingStep]:
    if math.isnan(system_pressures.fill_kpa):
        yield FillingStep(
            "pressurise", "Stop: no fill pressure suits this vessel. Resolve the checks first.", (PRESSURE,)
        )
        return
    accepted = accepted_pressures(system_pressures).fill
    yield FillingStep(
        "pressurise",
        f"Bring the cold system to {to_set_kpa(system_pressures.fill_kpa, accepted):g} kPa (accepted: "
        f"{in_kpa(accepted)}) and disconnect the hose.",
        (PRESSURE,),
    )
    yield FillingStep(
        "pressurise",
        "Run the pump for half an hour with cold water. Stop it, vent every loop again and top up.",
        (LEAKS,),
    )
    yield FillingStep(
        "water treatment", "Protect the water: add the inhibitor and test a sample (water treatment).", (CHEMICALS,)
    )
    yield FillingStep(
        "warm up",
        "Warm up slowly and inspect every joint. Let the system cool, vent, and top up to the cold fill pressure. "
        f"At the maximum water temperature the gauge may reach {system_pressures.hot_kpa:.0f} kPa; the relief valve is "
        f"set to {system_pressures.relief_kpa:.0f} kPa.",
        (SCALDING, LEAKS, FUEL),
    )
    yield FillingStep(
        "set",
        "Clean the filter. Set the pump and the mixing valves, then every balancing valve to its setting; the "
        "thermostatic heads stay removed. After an hour of steady running read the flow and return temperature of each "
        "loop and compare them with the expected values.",
    )
    yield FillingStep("refit", "Fit the skirting covers, then the thermostatic heads.")


def _drain(ends: Sequence[RemoteEnd]) -> Iterator[FillingStep]:
    yield FillingStep(
        "drain",
        "Switch off the heat source and the pump, let the water cool below 40 °C and close the filling valve. Lead a "
        "hose from the lowest drain to a place that the local authority allows. Release the pressure.",
        (SCALDING, CHEMICALS, ELECTRICITY),
    )
    for end in reversed(ends):
        if end.vent:
            bowl = " When no more water comes, drain the rest there into a bowl." if end.drain else ""
            yield FillingStep("drain", f"Open the vent at {end.place} to let air in.{bowl}", (SCALDING,), end)
    yield FillingStep(
        "drain",
        "Horizontal pipes retain water: where frost is possible, blow the water out from the far end.",
        (LEAKS,),
    )


def fill_and_vent_table(steps: Sequence[FillingStep]) -> pd.DataFrame:
    """One row for each step; `done` is an empty box to tick."""
    rows = []
    for place, step in enumerate(steps, start=1):
        at = step.at
        rows.append(
            {
                "step": place,
                "stage": step.stage,
                "loop": at.loop if at else "",
                "arm": at.arm if at else pd.NA,
                "room": at.end.room if at else "",
                "wall": pd.NA if at is None or at.end.wall is None else at.end.wall,
                "at_m": at.end.at_m if at else None,
                "level_m": at.level_m if at else None,
                "action": step.action,
                "safety_notices": "; ".join(step.caution),
                "done": "",
            }
        )
    frame = table_frame(FILL_AND_VENT, rows)
    return frame.astype({"arm": "Int64", "wall": "Int64", "at_m": "float64", "level_m": "float64"})
