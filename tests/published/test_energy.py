"""Energy of a year, sources in data/published/energy.csv."""

import numpy as np

from heatloop.physics.yearly.bins import degree_days, equivalent_hours, load_factor, maximum_degree_days
from heatloop.physics.yearly.seasonal import (
    off_mode_kwh,
    part_load_efficiency,
    season_energy,
    seasonal_efficiency_percent,
)
from tests.helpers.published import replayed

AVERAGE = [
    *(1, 25, 23, 24, 27, 68, 91, 89, 165, 173, 240, 280, 320),
    *(357, 356, 303, 330, 326, 348, 335, 315, 215, 169, 151, 105, 74),
]
WARMER = [3, 22, 63, 63, 175, 162, 259, 360, 428, 430, 503, 444, 384, 294]
CLIMATES = {"average": (np.arange(-10.0, 16.0), AVERAGE), "warmer": (np.arange(2.0, 16.0), WARMER)}
"""Hours of the reference heating seasons of EN 14825 in bins of 1 K."""

POINTS = {
    -10.0: (7.8, 2.6),
    -7.0: (9.55, 3.26),
    -6.0: (9.7, 3.3),
    2.0: (11.17, 4.0),
    7.0: (12.66, 4.91),
    12.0: (14.3, 5.5),
}
"""Capacity in kW and COP by outdoor temperature of the worked example of EN 14825."""

DESIGN_KW, DEGRADATION = 11.46, 0.9
OFF_MODES = [3672.0, 179.0, 0.0, 3851.0], [15.0, 20.0, 3.0, 30.0]


def seasonal_performance():
    """The unit of the example in the average climate: efficiency degraded at the points, then linear between them."""
    outdoor_c, hours = CLIMATES["average"]
    points_c = np.array(list(POINTS))
    capacity_kw, full_load = np.array(list(POINTS.values())).T
    at_points_kw = DESIGN_KW * (16.0 - points_c) / 26.0
    degraded = part_load_efficiency(full_load, np.minimum(at_points_kw / capacity_kw, 1.0), DEGRADATION)
    heat_kw = DESIGN_KW * (16.0 - outdoor_c) / 26.0
    efficiency, most_kw = (np.interp(outdoor_c, points_c, values) for values in (degraded, capacity_kw))
    return season_energy(heat_kw, hours, efficiency, most_kw).performance


def performance_with_off_modes():
    heat_kwh = 2066.0 * DESIGN_KW
    return heat_kwh / (heat_kwh / 3.61 + off_mode_kwh(*OFF_MODES))


QUANTITIES = {
    "equivalent_hours": lambda climate, **ends: equivalent_hours(*CLIMATES[climate], **ends),
    "degree_days": lambda climate, base_c: degree_days(*CLIMATES[climate], base_c),
    "degree_days_of_spell": lambda outdoor_c, hours, base_c: degree_days([outdoor_c], [hours], base_c),
    "seasonal_performance": seasonal_performance,
    "off_mode_kwh": lambda: off_mode_kwh(*OFF_MODES),
    "performance_with_off_modes": performance_with_off_modes,
    "seasonal_efficiency_percent": lambda deduction_percent: seasonal_efficiency_percent(
        performance_with_off_modes(), deduction_percent=deduction_percent
    ),
    "efficiency_without_off_modes": lambda deduction_percent: seasonal_efficiency_percent(
        3.61, deduction_percent=deduction_percent
    ),
    "maximum_degree_days": maximum_degree_days,
    "load_factor": lambda season_degree_days, **season: load_factor(season_degree_days, maximum_degree_days(**season)),
    "mean_load_kw": lambda season_degree_days, design_kw, **season: (
        design_kw * load_factor(season_degree_days, maximum_degree_days(**season))
    ),
}

test_published_row = replayed("energy", __name__, QUANTITIES)
