"""The commissioning sheet: pressures, work before balancing, balancing in order, result, instruments."""

from __future__ import annotations

import math

import pandas as pd
from markupsafe import Markup

from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.handover.commissioning.final_settings import least_head_kpa
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.site_record import (
    DROP_TOLERANCE,
    WEATHER_TOLERANCE_K,
    balancing_steps,
    head_m,
    isolated_for_test,
    pressure_steps,
    purge_steps,
    test_pressure_words,
    tested_flow_l_h,
    unrated_for_test,
    work_after_balancing,
    work_blocks,
)
from heatloop.handover.commissioning.tables import FLOW_TOLERANCE, measured_flow_l_h
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_body, whole_page
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.results.summaries import mixed_words
from heatloop.results.tables.pumps import pump_control_text

COMMISSIONING_SHEET = DocumentPaper("CS", landscape=True)

NOT_READY = "Do not commission before this is resolved."

INSTRUMENTS = ("Flow meter", "Temperature probes", "Pressure gauge", "Test pump", "Water test kit", "Other")

HAZARDS = ("Pressure", "Scalding", "Hot surfaces", "Chemicals", "Electricity", "Gas, oil, refrigerant and flues")
"""Safety notices printed on the sheet; the others belong to the fitting work."""

SHORT = 2
"""Balancing valves of a sheet that is set closer, on two pages."""
FEW = 9
"""Balancing valves that stay on one page; loops up to which expected temperatures are one table."""

FLOW_SOURCE = "usual in commissioning guides for water systems; agree it with the client"
DROP_SOURCE = "assumption of this program: a temperature drop determines the flow less exactly"


def commissioning_body(pack: CommissioningResult, control: DocumentControl, alone: bool = True) -> HtmlFragment:
    """The body of the sheet; `alone` prints its safety notices, which a pack of several documents prints once."""
    facts, steps = pack.facts, balancing_steps(pack)
    flows_l_h = [measured_flow_l_h(pack.system.state, i, 0) for i in range(len(pack.system.survey.loops))]
    return document_body(
        COMMISSIONING_SHEET,
        control,
        pack.verdict,
        DocumentContent(
            "commissioning.html",
            {
                "facts": facts,
                "pressures": pressure_steps(pack),
                "purges": purge_steps(pack),
                "work": work_blocks(pack),
                "after": work_after_balancing(pack),
                "test_pressure": test_pressure_words(pack),
                "isolated": isolated_for_test(pack),
                "unrated": unrated_for_test(pack),
                "mixing": mixing_steps(pack),
                "steps": steps,
                "few": FEW,
                "short": len(steps) <= SHORT,
                "weather": expected_temperatures(pack),
                "design_l_h": math.fsum(flows_l_h),
                "tested_l_h": tested_flow_l_h(steps),
                "pump_control": pump_control_text(pack.system.pumps[0]),
                "which_pump": " at the heat source" if len(pack.system.pumps) > 1 else "",
                "flows": mixed_words(facts, pd.DataFrame({"flow_l_h": flows_l_h})),
                "head_m": head_m(float(facts["pump_head_kpa"])),
                "flow_band": 100 * FLOW_TOLERANCE,
                "drop_band": 100 * DROP_TOLERANCE,
                "flow_source": FLOW_SOURCE,
                "drop_source": DROP_SOURCE,
                "weather_k": WEATHER_TOLERANCE_K,
                "instruments": INSTRUMENTS,
                "cautions": notices_for(HAZARDS),
                "alone": alone,
                "deference": Markup.escape(DEFERENCE),
            },
            NOT_READY,
        ),
    )


def commissioning_sheet(pack: CommissioningResult, control: DocumentControl) -> str:
    """The sheet as a complete page."""
    return whole_page(COMMISSIONING_SHEET, control, commissioning_body(pack, control))


def expected_temperatures(pack: CommissioningResult) -> dict[str, dict[float, tuple[float, float]]]:
    """Flow and return temperature of each loop by outdoor temperature, all in °C."""
    loops: dict[str, dict[float, tuple[float, float]]] = {}
    for row in pack.frames["part_load"].to_dict("records"):
        loops.setdefault(row["loop"], {})[row["outdoor_c"]] = (row["flow_temp_c"], row["return_temp_c"])
    return loops


def mixing_steps(pack: CommissioningResult) -> tuple[str, ...]:
    """The setting of every mixing valve below the source, and of its own pump where it has one."""
    system = pack.system
    state, circuits = system.state, system.state.network.circuits
    steps = []
    for place, circuit in enumerate(circuits):
        if circuit.mixed_to_c is None:
            continue
        flow_m3_s = float(state.circuit_flow_kg_s[place]) / float(system.fluid.density_kg_m3(state.circuit_c[place]))
        head_kpa = float(state.circuit_head_pa[place]) / 1000.0
        steps.append(
            f'Mixing valve of trunk "{circuit.name}": set to {circuit.mixed_to_c:.1f} °C. '
            f"{_own_pump(pump_control_text(system.pumps[place]), head_kpa, flow_m3_s * 3.6e6)}"
        )
    steps += [
        f'Mixing valve of loop "{loop.name}": set to {loop.flow_temp_c:.1f} °C.'
        for loop in system.survey.loops
        if loop.flow_temp_c is not None
    ]
    return tuple(steps)


def _own_pump(control: str, head_kpa: float, flow_l_h: float) -> str:
    """Setting of the pump of a mixing valve; one set to no more than the required head is rounded up to a tenth."""
    if control in ("", f"constant, {head_kpa:.3g} kPa"):
        least_kpa = least_head_kpa(head_kpa)
        return (
            f"Its own pump: constant head of at least {least_kpa:.1f} kPa ({head_m(least_kpa):.1f} m of water) at "
            f"{flow_l_h:.0f} l/h; this head has no reserve."
        )
    return (
        f"Its own pump, {control}: required head {head_kpa:.1f} kPa ({head_m(head_kpa):.1f} m of water) at "
        f"{flow_l_h:.0f} l/h."
    )
