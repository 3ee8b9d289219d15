"""The record of the day: pressures with their acceptance, loops in the order of balancing."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.pressure_checks import accepted_pressures, in_bar, precharge_to_set_kpa, to_set_kpa
from heatloop.handover.commissioning.pressures import BOYLE, EN_12828, PRACTICE
from heatloop.text.formatting import listing

DROP_TOLERANCE = 0.15
"""Share by which a temperature drop may differ where no flow can be read; judgement of this program: at 7 K a pair of
probes alone can err by 0.5 K."""

TEST_TOLERANCE_KPA = 5.0
"""Change of the pressure that is accepted in a strength test while the temperature of the water changes."""
WATER_COLUMN_KPA_M = 9.80665
"""Pressure of one metre of water at 4 °C; pumps are marked in metres of it."""
FITTINGS: Mapping[str, str] = {"joint": "all joints", "end": "all ends"}
"""Kinds of parts that are named together where no part of the kind has a pressure rating."""
ISOLATED: Mapping[str, str] = {"source": "heat source", "vessel": "expansion vessel"}
"""Kinds of parts that are isolated for a test above the setting of the relief valve unless they are rated for it."""

WEATHER_TOLERANCE_K = 3.0
"""Outdoor temperature may differ by this from the one assumed before the sheet is made again."""


@dataclass(frozen=True)
class PressureStep:
    """One pressure to read: design value (kPa), accepted range, and its source.

    The source is "" where the document states it elsewhere.
    """

    step: int
    action: str
    designed_kpa: float
    acceptance: str
    source: str


@dataclass(frozen=True)
class BalancingStep:
    """One valve in the order of work.

    Flows in l/h are with thermostatic heads removed, except that of the design. Temperatures in °C and drops in K are
    at the flow temperature of the day. `set_to` is None for a loop without a balancing valve.
    """

    order: int
    loop: str
    arm: int
    rooms: str
    valve: str
    set_to: int | None
    calculated_setting: float
    other_settings: str
    target_flow_l_h: float
    tested_flow_l_h: float
    min_flow_l_h: float
    max_flow_l_h: float
    flow_temp_c: float
    return_temp_c: float
    min_drop_k: float
    max_drop_k: float


def pressure_steps(pack: CommissioningResult) -> tuple[PressureStep, ...]:
    """Pressures in the order in which they are read."""
    pressures = pack.pressures
    running_kpa = float(pack.facts["running_kpa"])
    accepted = accepted_pressures(pressures, running_kpa)
    test = pack.system.survey.system.test
    vessel = in_bar((pressures.min_fill_kpa, pressures.max_fill_kpa))
    return (
        PressureStep(
            1, "Precharge of the vessel, isolated, its water side drained and open",
            precharge_to_set_kpa(pressures), in_bar(accepted.precharge),
            f"lower limit: {EN_12828}; upper limit: {PRACTICE}",
        ),
        PressureStep(
            2, f"Strength test before floors are closed, after a wait of {test.settle_minutes:g} min",
            pressures.test_kpa,
            f"start at least as designed; no fall in {test.minutes:g} min, or ± {TEST_TOLERANCE_KPA / 100.0:.2f} bar "
            "only if the water temperature changed; no leak visible",
            "",
        ),
        PressureStep(
            3, f"Strength test of the whole system, after a wait of {test.settle_minutes:g} min", pressures.test_kpa,
            "as step 2", "",
        ),
        PressureStep(
            4, "Cold fill, pump off, system vented", to_set_kpa(pressures.fill_kpa, accepted.fill),
            in_bar(accepted.fill), f"{PRACTICE}; range of the vessel: {vessel}",
        ),
        PressureStep(
            5, f"Running, water at {pack.facts['flow_temp_c']:.0f} °C", to_set_kpa(running_kpa, accepted.running),
            in_bar(accepted.running), f"from steps 1 and 4: {BOYLE}",
        ),
    )  # fmt: skip


def isolated_for_test(pack: CommissioningResult) -> str:
    """What to isolate before a strength test: all that opens, or is not rated, below its pressure; "" for nothing.

    Usual practice. Where the test pressure is not above the setting of the relief valve, only parts with a stated
    rating below it are named.
    """
    pressures = pack.pressures
    rated = {part: part.max_pressure_kpa for part in pressures.parts if part.max_pressure_kpa is not None}
    names = [f"{part.name} (rated {kpa / 100.0:.2f} bar)" for part, kpa in rated.items() if kpa < pressures.test_kpa]
    if pressures.test_kpa <= pressures.relief_kpa:
        why, unrated = "", []
    else:
        why = f"The test pressure is above the setting of the relief valve ({pressures.relief_kpa / 100.0:.2f} bar). "
        names.insert(0, "the relief valve")
        unrated = [f"the {ISOLATED[part.kind]}" for part in pressures.unrated if part.kind in ISOLATED]
        unrated.append("every pump")
    if not names:
        return ""
    cases, others = " in every case" if unrated else "", _unrated_words(unrated)
    return (
        f"{why}Before each strength test isolate, remove or blank off {listing(names)}{cases}.{others} Afterwards "
        "release the pressure, then refit and reopen them all before the heat source is switched on."
    )


def test_pressure_words(pack: CommissioningResult) -> str:
    """How the pressure of the strength test is fixed, with its source."""
    test = pack.system.survey.system.test
    if test.pressure_kpa is not None:
        return f"The test pressure is stated in the survey{f' ({test.source})' if test.source else ''}."
    return f"The test pressure is {test.factor:g} times the setting of the relief valve ({pack.pressures.test_source})."


def unrated_for_test(pack: CommissioningResult) -> str:
    """Parts that stay in the strength test without a stated rating, which the fitter must obtain; "" for none."""
    parts, unrated = pack.pressures.parts, pack.pressures.unrated
    names = []
    for kind in dict.fromkeys(part.kind for part in unrated if part.kind not in ISOLATED):
        own = [part.name for part in unrated if part.kind == kind]
        every = kind in FITTINGS and len(own) == sum(part.kind == kind for part in parts)
        names += [FITTINGS[kind]] if every else own
    return f"No pressure rating is stated for {listing(names)}: obtain it before the test." if names else ""


def _unrated_words(names: Sequence[str]) -> str:
    """Parts to isolate unless their maker permits the test pressure; "" for none."""
    if not names:
        return ""
    return f" Isolate {listing(names)} as well, unless its maker permits the test pressure."


def balancing_steps(pack: CommissioningResult) -> tuple[BalancingStep, ...]:
    """Valves in the order of work: the valve with the smallest pressure drop first, which is on the index loop."""
    frame: pd.DataFrame = pack.frames["commissioning"].sort_values(
        "valve_pressure_drop_kpa", kind="stable", na_position="first"
    )
    return tuple(_step(order, row) for order, row in enumerate(frame.to_dict("records"), start=1))


def _step(order: int, row: dict[Any, Any]) -> BalancingStep:
    drop_k = row["expected_flow_temp_c"] - row["return_temp_heads_removed_c"]
    return BalancingStep(
        order=order,
        loop=row["loop"],
        arm=row["arm"],
        rooms=row["rooms"],
        valve=row["valve"],
        set_to=None if pd.isna(row["set_to"]) else int(row["set_to"]),
        calculated_setting=row["calculated_setting"],
        other_settings=row["other_settings"],
        target_flow_l_h=row["target_flow_l_h"],
        tested_flow_l_h=row["flow_heads_removed_l_h"],
        min_flow_l_h=row["min_flow_l_h"],
        max_flow_l_h=row["max_flow_l_h"],
        flow_temp_c=row["expected_flow_temp_c"],
        return_temp_c=row["return_temp_heads_removed_c"],
        min_drop_k=drop_k * (1.0 - DROP_TOLERANCE),
        max_drop_k=drop_k * (1.0 + DROP_TOLERANCE),
    )


def tested_flow_l_h(steps: tuple[BalancingStep, ...]) -> float:
    """Flow of all loops together as tested, l/h; arms of one loop are added up."""
    return math.fsum(step.tested_flow_l_h for step in steps)


def head_m(head_kpa: float) -> float:
    """A head in metres of water column, the unit marked on pumps."""
    return head_kpa / WATER_COLUMN_KPA_M


@dataclass(frozen=True)
class PurgeStep:
    """A loop or arm to purge, in the order of filling.

    Flow in l/h, pressure at the hose in kPa, the drive of the flow, and where to vent by hand. Flow and pressure are
    NaN where unknown.
    """

    order: int
    loop: str
    arm: int
    flow_l_h: float
    hose_kpa: float
    drive: str
    vents: tuple[str, ...]


def purge_steps(pack: CommissioningResult) -> tuple[PurgeStep, ...]:
    """Loops and arms in the order in which they are filled."""
    steps = pack.frames["fill_and_vent"]
    rows = {(row["loop"], row["arm"]): row for row in pack.frames["purging"].to_dict("records")}
    vents: dict[tuple[str, int], list[str]] = {}
    for row in steps[(steps["stage"] == "vent") & (steps["loop"] != "")].to_dict("records"):
        vents.setdefault(_circuit(row, rows), []).append(row["action"])
    filled = steps[(steps["stage"] == "fill") & (steps["loop"] != "")].to_dict("records")
    order = dict.fromkeys([*(_circuit(row, rows) for row in filled), *rows])
    return tuple(
        PurgeStep(
            place, loop, arm, _figure(rows, (loop, arm), "purge_flow_l_h"),
            _figure(rows, (loop, arm), "hose_pressure_kpa"),
            str(rows[loop, arm]["drive"]) if (loop, arm) in rows else "",
            tuple(vents.get((loop, arm), ())),
        )
        for place, (loop, arm) in enumerate(order, start=1)
    )  # fmt: skip


STRENGTH_TEST = "Strength test of the whole system: fill with water, vent, test as in step 3 of part A, release."
"""The work that the pressure record has in detail, at its place among the other work."""

FILL_LOOPS = "Fill, purge and vent loop by loop, in the order of the table of that name."
"""The work that a table of the sheet has in detail, at its place among the other work."""


OLD_SYSTEM, CLEANING, LATER = (
    ("old system",),
    ("metals", "flush", "clean", "antifreeze", "refill"),
    ("label", "afterwards"),
)
"""Stages of the water treatment: before the new skirting is connected, after balancing, and before filling.

The filter is fitted before the strength test; every other stage follows the filling."""


@dataclass(frozen=True)
class WorkBlock:
    """Work under one heading of the sheet, in order; `first`: number of its first step."""

    title: str
    first: int
    steps: tuple[str, ...]


def work_blocks(pack: CommissioningResult) -> tuple[WorkBlock, ...]:
    """Work on the whole system in its order, up to the warm system; draining is not part of it.

    The water is treated before the system is warmed up and balanced. The strength test and the work loop by loop are
    only named, because tables of the sheet have them in detail.
    """
    steps = pack.frames["fill_and_vent"]
    whole = steps[steps["loop"] == ""]

    def work(*stages: str) -> tuple[str, ...]:
        return tuple(whole["action"][whole["stage"].isin(stages)])

    blocks = {
        "Old system, before the new skirting is connected": _treatment(pack, OLD_SYSTEM),
        "Prepare and test": (*work("prepare"), *_treatment(pack, ("filter",)), STRENGTH_TEST),
        "Clean and flush": _treatment(pack, CLEANING),
        "Fill and vent": (*work("fill"), FILL_LOOPS, *work("vent", "pressurise")),
        "Protect the water": _other_treatment(pack),
        "Warm up and set": work("warm up"),
    }
    first, numbered = 1, []
    for title, words in blocks.items():
        if words:
            numbered.append(WorkBlock(title, first, words))
            first += len(words)
    return tuple(numbered)


def work_after_balancing(pack: CommissioningResult) -> tuple[str, ...]:
    """What is fitted again, labelled and tested when the loops are balanced."""
    steps = pack.frames["fill_and_vent"]
    return (*steps["action"][steps["stage"] == "refit"], *_treatment(pack, LATER))


def _treatment(pack: CommissioningResult, stages: Collection[str]) -> tuple[str, ...]:
    """Water treatment of some stages in order: action and quantity."""
    rows = pack.frames["treatment"].to_dict("records")
    return tuple(f"{row['what']}{_litres(row['quantity_l'])}" for row in rows if row["stage"] in stages)


def _other_treatment(pack: CommissioningResult) -> tuple[str, ...]:
    """Water treatment of all stages that have no other place."""
    placed = {*OLD_SYSTEM, *CLEANING, *LATER, "filter"}
    return _treatment(pack, set(pack.frames["treatment"]["stage"]) - placed)


def _litres(quantity_l: float) -> str:
    return (
        ""
        if math.isnan(quantity_l)
        else f" Quantity for the whole system: {quantity_l:.{0 if quantity_l >= 10.0 else 2}f} l."
    )


def _circuit(row: dict[Any, Any], purges: dict[tuple[str, int], dict[Any, Any]]) -> tuple[str, int]:
    """Loop and arm of a step; a loop that is purged as a whole is arm 0."""
    loop, arm = row["loop"], row["arm"]
    return (loop, 0) if (loop, 0) in purges or pd.isna(arm) else (loop, int(arm))


def _figure(rows: dict[tuple[str, int], dict[Any, Any]], key: tuple[str, int], name: str) -> float:
    return float(rows[key][name]) if key in rows else math.nan
