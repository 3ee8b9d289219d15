"""Simulate the readings of a site with known faults."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.fault_types import SWAPPED
from heatloop.diagnosis.readings import Reading, Readings
from heatloop.diagnosis.simulated_site import Instruments, SimulatedSite, SimulatedTruth, SiteDeviations, SiteFault
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.problem import OperatingSolution


def simulate_readings(
    system: SizedSystem,
    faults: Sequence[SiteFault],
    rng: np.random.Generator,
    *,
    outdoor_c: float = 3.0,
    source_setting_c: float | None = None,
    instruments: Instruments | None = None,
    deviations: SiteDeviations | None = None,
) -> tuple[Readings, SimulatedTruth]:
    """Readings of a site of this design with these faults, thermostatic heads removed, and the true values."""
    tools, deviations = instruments or Instruments(), deviations or SiteDeviations()
    setting = system.survey.project.flow_temp_c if source_setting_c is None else source_setting_c
    site = SimulatedSite(system, faults, rng, deviations, setting, outdoor_c)
    answer = site.solve_steady() if tools.steady else site.solve_as_found()
    bias = tools.bias_k
    if bias is None:
        bias = float(rng.uniform(1.0, 3.0) * rng.choice([-1.0, 1.0]))
    return _read(site, answer, tools, rng, bias, setting)


def _read(
    site: SimulatedSite,
    answer: OperatingSolution,
    tools: Instruments,
    rng: np.random.Generator,
    bias_k: float,
    setting_c: float,
) -> tuple[Readings, SimulatedTruth]:
    """The readings: true values with the errors of the instruments."""
    network = site.network
    flow = site.loop_kg_s(answer)
    index, temp_c = network.temperatures, answer.temp_c[:, 0]
    supply, back = temp_c[index.supply].copy(), temp_c[index.loop_return].copy()
    density = site.left.fluid.density_kg_m3(supply)
    litres_h = flow / density * 3.6e6
    items: list[Reading] = []

    def read(quantity: r.QuantityName, of: str, true: float, error: float, arm: int = 0) -> None:
        value = true + error * float(rng.standard_normal())
        items.append(Reading(quantity, of, round(float(value), 1), error, arm))

    for name, i in zip(site.names, site.read_at(), strict=True):
        room = site.room_c[next(cell.room for cell in network.loops[i].arms[0].cells)]
        flow_c = supply[i]
        expected = float(site.system.state.loop_flow_kg_s[i])
        if flow[i] < 0.004 * expected:
            flow_c = float(rng.uniform(room, supply[i]))
            back[i] = room
        swapped = any(f.kind == SWAPPED and f.loop == site.names[i] for f in site.faults)
        pair = (back[i], flow_c) if swapped else (flow_c, back[i])
        read(r.FLOW_TEMP, name, pair[0] + bias_k, tools.surface_k)
        read(r.RETURN_TEMP, name, pair[1] + bias_k, tools.surface_k)
        own = [a for a in range(len(network.arms)) if network.arm_loop[a] == i]
        arms = int((np.asarray(network.arm_loop) == site.names.index(name)).sum())
        if len(own) > 1 and len(own) == arms and flow[i] > 0.0:
            for number, a in enumerate(own, start=1):
                back_c = float(temp_c[index.head][i] if swapped else temp_c[index.arm_return][a])
                read(r.RETURN_TEMP, name, back_c + bias_k, tools.surface_k, number)
        if tools.loop_meters:
            read(r.FLOW, name, float(litres_h[i]), max(tools.flow_share * float(litres_h[i]), 1.0))
    if tools.rooms:
        for name, room_c in site.room_c.items():
            read(r.ROOM_TEMP, name, room_c, tools.room_k)
    read(r.OUTDOOR_TEMP, "", site.outdoor_c, tools.outdoor_k)
    items.append(Reading(r.SOURCE_SETTING, "", setting_c, tools.setting_k))
    if tools.total_meter:
        read(r.TOTAL_FLOW, "", float(litres_h.sum()), tools.flow_share * float(litres_h.sum()))
    if tools.head_gauge:
        ends = network.circuits[0]
        head = float(answer.pressure_pa[ends.flow, 0] - answer.pressure_pa[ends.back, 0]) / 1000.0
        read(r.PUMP_HEAD, "", head, 0.05 * head)
    hours = 48.0 if tools.steady else 3.0
    readings = Readings("simulated", tuple(items), (), True, hours)
    return readings, SimulatedTruth(litres_h, back, site.source_c, bias_k, dict(site.room_c))
