"""Documents that remain with the house: water record, user guide, annual checks.

Empty columns are boxes to be filled in by hand. Instructions other than figures are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

import pandas as pd

from heatloop.findings.limits import TOUCH, TOUCH_C
from heatloop.handover.commissioning.filling import remote_ends
from heatloop.handover.commissioning.pressure_checks import accepted_pressures, in_bar
from heatloop.handover.commissioning.pressures import EN_12828, Pressures
from heatloop.handover.commissioning.water_treatment import BS_7593, PRACTICE, TreatmentInputs
from heatloop.handover.first_fix.hidden_pipes import hidden_pipes, unknown_routes
from heatloop.hydraulics.analysis.room_output import hottest_surface_c
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.survey.loops import Loop
from heatloop.text.column import TableDescription, box_column, text_column
from heatloop.text.formatting import listing, short_listing, significant
from heatloop.text.table_set import table_frame

WATER_RECORD = TableDescription(
    "water_record",
    "Water record",
    "Fill in at each test.",
    (
        text_column("item", "Reading"),
        text_column("target", "Target"),
        text_column("unit", "Unit"),
        text_column("source", "Source"),
        box_column("at_fill", "At filling"),
        box_column("after_4_weeks", "After 4 weeks"),
        box_column("after_1_year", "After 1 year"),
    ),
)

USER_PAGE = TableDescription(
    "user_guide",
    "For the user",
    "Operation, what not to cover, and where not to drill.",
    (
        text_column("topic", "Topic"),
        text_column("text", "Information"),
        text_column("safety_notices", "Safety notices", "titles of the safety notices for this row"),
    ),
)

YEARLY_CHECKS = TableDescription(
    "annual_checks",
    "Annual checks",
    "Checks for each year, with the person responsible.",
    (
        text_column("check", "Check"),
        text_column("criterion", "Criterion"),
        text_column("responsible", "Responsible"),
        text_column("safety_notices", "Safety notices", "titles of the safety notices for this row"),
        text_column("source", "Source"),
        box_column("done", "Done, date"),
    ),
)

MOST_LOOPS = 4
"""Loops that the advice on a leak names."""

OWNER, FITTER, ELECTRICIAN, LICENSED = "owner or fitter", "heating fitter", "electrician", "licensed person"

UNKNOWN_ROUTES = "Pipes of unknown route"
"""Topic on the pipes whose length is in the design and not their route."""

UserRow = tuple[str, str, str]
"""Topic, text, and the titles of the cautions that belong to it."""

CARE: tuple[UserRow, ...] = (
    ("Valves",
        "Do not change lockshield valves (with a cap) or the setting rings under thermostatic heads: they distribute "
        "the water to the rooms.", ""),
    ("Away in winter",
        "Turn the heating down, not off. A filled loop freezes and bursts in an unheated house.", "Freezing and leaks"),
    ("Cleaning and painting",
        "Clean the skirting when cold, with a damp cloth and no abrasive. Use only paint for warm metal; thick paint "
        "reduces the heat.", "Hot surfaces"),
    ("Who may do which work?",
        "Heat source, fuel, flue and refrigerant: a licensed person. Filling, venting, water treatment: a heating "
        "fitter. Electrical work: see the safety notice. Protective bonding is the connection of metal parts to earth.",
        "Gas, oil, refrigerant and flues; Electricity"),
)  # fmt: skip
"""Topics of every system: valves, winter, cleaning, and who may work on it."""


def water_record_table(facts: TreatmentInputs) -> pd.DataFrame:
    """Quantities to measure in the water, their targets, and boxes for three readings."""
    system = facts.survey.system
    inhibitor = "as on its label" if system.inhibitor is None else f"{system.inhibitor.name}: as on its label"
    label = "label of the inhibitor"
    rows = [
        ("date and name", "", "", "", *_boxes()),
        ("mains water: pH", "", "pH", "", *_boxes()),
        ("mains water: conductivity", "", "µS/cm", "", *_boxes()),
        ("mains water: hardness", "", "mg/l CaCO3", "", *_boxes()),
        ("appearance of a sample", "clear, no particles", "", PRACTICE, *_boxes()),
        ("pH", f"{facts.ph[0]:g} to {facts.ph[1]:g}", "pH", facts.ph_source, *_boxes()),
        ("conductivity after flushing", "mains water ± 10 %", "µS/cm", f"{BS_7593}; from memory", *_boxes()),
        ("inhibitor strength", inhibitor, "", label, *_boxes()),
        ("water content", f"{facts.content_l:.0f}", "l", "water_content", *_boxes()),
        ("cleanser added", _litres(facts.amount_l("cleanser")), "l", "treatment", *_boxes()),
        ("inhibitor added", _litres(facts.amount_l("inhibitor")), "l", "treatment", *_boxes()),
        ("water added", "none", "l", PRACTICE, *_boxes()),
    ]
    if facts.aluminium:
        rows.insert(8, ("dissolved aluminium", "not rising", "mg/l", PRACTICE, *_boxes()))
    return table_frame(WATER_RECORD, rows)


def _boxes() -> tuple[str, str, str]:
    return "", "", ""


def _litres(value: float) -> str:
    return "as on its label" if math.isnan(value) else f"{value:.2f}"


def user_table(system: SizedSystem, system_pressures: Pressures, outdoor_steps: pd.DataFrame) -> pd.DataFrame:
    """Page for the user: topic and text, with the titles of the relevant safety notices."""
    *care, workers = CARE
    rows = (
        *_running(system, outdoor_steps), _gauge(system, system_pressures, outdoor_steps), *_hot(system),
        *_untouched(system), *care, _leak(system), workers,
    )  # fmt: skip
    return table_frame(USER_PAGE, rows)


def _running(system: SizedSystem, outdoor_steps: pd.DataFrame) -> Iterator[UserRow]:
    """How the system heats, and what sets its temperatures."""
    yield (
        "Room temperature",
        "The skirting warms the room slowly and evenly. Set each thermostatic head to the temperature "
        "you like and leave it there: after a lower night setting a room needs several hours to warm up. A higher "
        "setting is not quicker.",
        "",
    )
    warmest = outdoor_steps.groupby("outdoor_c")["flow_temp_c"].max()
    if system.survey.system.weather.compensated:
        temperatures = ", ".join(
            f"{flow_c:.0f} °C at {outdoor_c:g} °C outside" for outdoor_c, flow_c in warmest.items()
        )
        yield (
            "Water temperature",
            f"The heat source sets the water temperature from the outdoor temperature: {temperatures}. Do not change "
            "this setting.",
            "",
        )
    ruled = list(_ruled(system))
    if ruled:
        yield (
            "One thermostatic head, several rooms",
            _sentence(f"{'; '.join(ruled)}. When that room is warm, the others get no heat."),
            "",
        )


def _gauge(system: SizedSystem, system_pressures: Pressures, outdoor_steps: pd.DataFrame) -> UserRow:
    """Readings of the gauge, in bar as gauges are marked: cold, and in operation on the coldest day.

    In operation: for water at the mean of flow and return, as on the commissioning sheet.
    """
    if math.isnan(system_pressures.fill_kpa):
        return (
            "Pressure",
            "Not decided yet: the expansion vessel does not suit this system. Do not run it.",
            "Pressure",
        )

    coldest = outdoor_steps[outdoor_steps["outdoor_c"] == outdoor_steps["outdoor_c"].min()]
    mean_c = float((coldest["flow_temp_c"] + coldest["return_temp_c"]).mean() / 2.0)
    hot_kpa = system_pressures.running_kpa(system.fluid, mean_c)
    cold, hot, highest = (
        f"{pressure_kpa / 100.0:.1f} bar"
        for pressure_kpa in (system_pressures.fill_kpa, hot_kpa, system_pressures.final_kpa)
    )
    lowest, most = _cold_limits_bar(system_pressures)
    return (
        "Pressure",
        f"With cold water the gauge should read about {cold}; on the coldest days about {hot}. Call the "
        f"fitter if it reads less than {lowest} or more than {most} bar with cold water, or more than {highest} at any "
        "time. If water must be added often, there is a leak.",
        "Pressure",
    )


def _hot(system: SizedSystem) -> Iterator[UserRow]:
    """Maximum surface temperature of the skirting, and rooms where it is too hot for vulnerable people."""
    hottest = hottest_surface_c(system.state)
    if hottest:
        cooler = [
            f"{room.name} {hottest[room.name]:.0f} °C"
            for room in system.survey.rooms
            if room.vulnerable and hottest.get(room.name, math.inf) <= TOUCH_C
        ]
        but = f" ({', '.join(cooler)})" if cooler else ""
        yield (
            "Hot surfaces",
            f"On the coldest days the skirting reaches {max(hottest.values()):.0f} °C{but}. Keep cots, beds, cables, "
            "candles, soft plastics and medicines away from it.",
            "Hot surfaces",
        )
    for room in system.survey.rooms:
        if room.vulnerable and room.name in hottest and hottest[room.name] > TOUCH_C:
            yield (
                room.name,
                f"The skirting here reaches {hottest[room.name]:.0f} °C, more than the {TOUCH_C:g} °C that children, "
                "old or ill people may touch for long. Fit a guard, or have the flow temperature of this loop lowered.",
                "Hot surfaces",
            )


def _leak(system: SizedSystem) -> UserRow:
    """What to close when there is a leak, and the loops that cannot be closed on both sides."""
    one_sided = [
        _loop_words(loop.name, rooms_of(network_loop))
        for loop, network_loop in zip(system.survey.loops, system.state.network.loops, strict=True)
        if not _closes_on_both_sides(loop)
    ]
    several = len(one_sided) > 1
    runs_on = (
        f"Loop{'s' if several else ''} {short_listing(one_sided, MOST_LOOPS)} cannot be closed on both sides: "
        "water runs on until the fitter drains the system. "
    )
    return (
        "A leak",
        "Switch off the heat source and call the fitter. Close every valve of that loop (closed circuit of skirting "
        "and pipes). Only in this case turn a lockshield valve, and count its turns. "
        f"{runs_on if one_sided else ''}Collect the water; do not touch "
        "wet electrical parts. The water is treated: do not swallow it; keep it out of rainwater drains and ponds.",
        "Chemicals; Electricity; Scalding",
    )


def _loop_words(name: str, rooms: Sequence[str]) -> str:
    """A loop by its name, with its rooms where the name is not that of its only room.

    >>> _loop_words("Bathroom", ("Bathroom",)), _loop_words("Upstairs", ("Landing", "Study"))
    ('"Bathroom"', '"Upstairs" (Landing, Study)')
    """
    return f'"{name}"' if tuple(rooms) == (name,) else f'"{name}" ({", ".join(rooms)})'


def _closes_on_both_sides(loop: Loop) -> bool:
    """Whether there is a valve on the flow and on the return, of the loop or of each of its arms."""

    def closes(side: Literal["flow", "return_"]) -> bool:
        arms = [getattr(pair, side) is not None for pair in loop.arm_valves]
        return getattr(loop.valves, side) is not None or (bool(arms) and all(arms))

    return closes("flow") and closes("return_")


def _untouched(system: SizedSystem) -> Iterator[UserRow]:
    """Surfaces that must not be covered or drilled, and the places of hidden pipes."""
    yield (
        "Furniture and curtains: do not cover",
        "Keep furniture 10 cm away, with air below it. No curtains, boxes or carpet over the skirting: covered "
        "skirting gives less heat.",
        "",
    )
    yield (
        "Screws and nails: do not drill",
        "Put no screw or nail into the skirting, the wall just above or behind it, or the floor in front of it. Water "
        "pipes are hidden at the places listed below; distances are from the left-hand end of the wall. Everywhere, "
        "locate cables, gas and water pipes before every hole.",
        "Drilling and cutting",
    )
    hidden: dict[str, dict[str, list[str]]] = {}
    for pipe in hidden_pipes(system.survey, system.layout):
        hidden.setdefault(pipe.room, {}).setdefault(pipe.loop, []).append(pipe.place)
    for where, loops in hidden.items():
        places = (
            _sentence(f"{f'loop {loop}: ' if len(loops) > 1 and not place else ''}{words}.")
            for loop, own in loops.items()
            for place, words in enumerate(own)
        )
        yield f"Hidden pipes: {where}", " ".join(places), "Drilling and cutting"
    unknown = list(unknown_routes(system.survey, system.layout))
    if unknown:
        emitters = listing(f'"{item.emitter}" in {item.room}' for loop in system.survey.loops for item in loop.emitters)
        place = f" and the place of the heat emitter {emitters}" if emitters else ""
        yield (
            UNKNOWN_ROUTES,
            f"The routes of these pipes under floors or in walls{place} are not in the design: {'; '.join(unknown)}. "
            "Before you drill or nail in a floor or wall of these rooms, or between the skirting and the heat source, "
            "have the pipes located.",
            "Drilling and cutting",
        )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _ruled(system: SizedSystem) -> Iterator[str]:
    """Thermostatic heads that control more rooms than that of their sensor."""
    for index, loop in enumerate(system.survey.loops):
        others = [room for room in rooms_of(system.state.network.loops[index]) if room != loop.sensor_room]
        if loop.sensor_room is not None and others:
            yield f"the thermostatic head for {loop.sensor_room} also controls {' and '.join(others)}"


def annual_checks_table(system: SizedSystem, system_pressures: Pressures, facts: TreatmentInputs) -> pd.DataFrame:
    """Annual checks with criterion, person responsible and a box to tick."""
    return table_frame(YEARLY_CHECKS, ({**row, "done": ""} for row in _yearly(system, system_pressures, facts)))


def _yearly(system: SizedSystem, system_pressures: Pressures, facts: TreatmentInputs) -> Iterator[Mapping[str, Any]]:
    vents = [end.place for end in remote_ends(system.survey, system.layout) if end.vent]
    ends = [place.removesuffix(" from its left-hand end") for place in vents]
    accepted = accepted_pressures(system_pressures).precharge
    cold, bar = _range_words(system_pressures), in_bar(accepted)
    relief = significant(system_pressures.relief_kpa / 100.0)
    ph = f"{facts.ph[0]:g} to {facts.ph[1]:g}"
    air = "no loop has a vent at its far end: vent at the heat source"
    if ends:
        air = f"vent at these distances from the left-hand end of the wall: {'; '.join(ends)}"
    safe = f"at most {TOUCH_C:g} °C, or guarded"
    rows = (
        ("cold pressure", cold, OWNER, "Pressure", PRACTICE),
        ("precharge of the vessel", f"{bar}, water side empty", FITTER, "Pressure", EN_12828),
        ("relief valve", f"{relief} bar; dry; discharge pipe ends in a safe place", FITTER, "Pressure; Scalding",
            PRACTICE),
        ("filter", "clean its element and magnet", FITTER, "Scalding; Chemicals", BS_7593),
        ("inhibitor and pH", f"strength as on the label; pH {ph}; fill in the record", FITTER, "Chemicals", BS_7593),
        ("inhibitor dose", "renew after five years, or after any large loss of water", FITTER, "Chemicals", BS_7593),
        ("air", air, FITTER, "Scalding", PRACTICE),
        ("joints, corners, crossings", "dry, no green or white crust, covers firmly in place", OWNER, "", PRACTICE),
        ("thermostatic valves", "each head opens and closes its valve; its pin moves freely", OWNER, "", PRACTICE),
        ("flow and return temperature", "near those in the commissioning sheet",
            FITTER, "Hot surfaces", PRACTICE),
        ("surfaces where vulnerable people live", safe, OWNER, "Hot surfaces", TOUCH.source),
        ("heat source", "service as the maker requires, with its fuel pipe, flue and refrigerant", LICENSED,
            "Gas, oil, refrigerant and flues", PRACTICE),
        ("protective bonding and wiring", "inspected at the intervals of the wiring rules", ELECTRICIAN, "Electricity",
            PRACTICE),
    )  # fmt: skip
    for check, look_for, by, caution, source in rows:
        yield {"check": check, "criterion": look_for, "responsible": by, "safety_notices": caution, "source": source}


def _range_words(system_pressures: Pressures) -> str:
    if math.isnan(system_pressures.fill_kpa):
        return "none: the vessel does not suit the system"
    return f"{' to '.join(_cold_limits_bar(system_pressures))} bar at the gauge"


def _cold_limits_bar(found: Pressures) -> tuple[str, str]:
    """Lowest and highest cold pressure in bar, rounded inwards to a tenth; to a hundredth where the fill is nearer."""
    low, high = math.ceil(found.min_fill_kpa / 10.0 - 1e-9), math.floor(found.max_fill_kpa / 10.0 + 1e-9)
    return (
        f"{low / 10.0:.1f}" if 10.0 * low <= found.fill_kpa else f"{found.min_fill_kpa / 100.0:.2f}",
        f"{high / 10.0:.1f}" if 10.0 * high >= found.fill_kpa else f"{found.max_fill_kpa / 100.0:.2f}",
    )
