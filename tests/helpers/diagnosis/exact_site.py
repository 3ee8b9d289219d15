"""A site whose readings have no error."""

from __future__ import annotations

import numpy as np

from heatloop.diagnosis.simulate import simulate_readings
from heatloop.diagnosis.simulated_site import Instruments, SiteDeviations
from heatloop.diagnosis.site_model.reading_conditions import reading_conditions

EXACT = Instruments(
    surface_k=1e-6, bias_k=0.0, room_k=1e-6, outdoor_k=1e-6, setting_k=1e-6, flow_share=1e-6,
    loop_meters=True, total_meter=True, head_gauge=True,
)  # fmt: skip
TRUE = SiteDeviations(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def day(model, readings):
    expected = model.responses
    return reading_conditions(model.site, model.rows, expected.loop_kg_s, float(expected.head_pa[0]), readings)


def exact_site(model, *faults):
    """Readings without error of a site that is as designed but for these faults, and the truth behind them."""
    return simulate_readings(model.site.system, faults, np.random.default_rng(1), instruments=EXACT, deviations=TRUE)
