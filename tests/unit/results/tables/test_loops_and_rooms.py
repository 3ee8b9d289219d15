"""Loops between laminar and turbulent flow show their drop both ways."""

import numpy as np
import pytest
from fluids.friction import friction_factor

from heatloop.physics.friction import darcy_friction_factor


@pytest.fixture(scope="module")
def design(alder_draft):
    return alder_draft


def test_loops_outside_the_range_have_one_drop_and_the_others_a_band(design):
    elements, loops = design.elements, design.loops.set_index("loop")
    between = elements["reynolds"].between(2000.0, 4000.0) & (elements["length_m"] > 0)
    within = set(elements["loop"][between]) - {""}
    assert 0 < len(within) < len(loops), "the demo has loops of both kinds"
    for name, loop in loops.iterrows():
        ways = loop["pressure_drop_laminar_kpa"], loop["pressure_drop_kpa"], loop["pressure_drop_turbulent_kpa"]
        if name in within:
            assert ways[0] < ways[1] < ways[2]
        else:
            assert ways[0] == ways[1] == ways[2]


def test_both_ways_by_hand_for_a_one_way_loop(design):
    """Friction from the element table, number by number; channels in parallel count by their share of the water."""
    elements, loops = design.elements, design.loops.set_index("loop")
    rows = elements[(elements["loop"] == "Hall and study") & (elements["length_m"] > 0)]
    whole = rows["mass_flow_kg_s"].max()
    changes = {"pressure_drop_laminar_kpa": 0.0, "pressure_drop_turbulent_kpa": 0.0}
    for row in rows.to_dict("records"):
        re, bore = row["reynolds"], 0.0130 if row["kind"] == "piece" else 0.0136
        if not 2000.0 < re < 4000.0:
            continue
        density = row["mass_flow_kg_s"] / (row["velocity_m_s"] * np.pi * bore**2 / 4.0)
        per_factor = row["length_m"] / bore * density * row["velocity_m_s"] ** 2 / 2.0 * row["mass_flow_kg_s"] / whole
        now = darcy_friction_factor(re, 1.5e-6 / bore)
        turbulent = friction_factor(re, 1.5e-6 / bore, Method="Colebrook")
        changes["pressure_drop_laminar_kpa"] += (64.0 / re - now) * per_factor / 1000.0
        changes["pressure_drop_turbulent_kpa"] += (turbulent - now) * per_factor / 1000.0
    loop = loops.loc["Hall and study"]
    for column, change in changes.items():
        assert change != 0.0
        assert loop[column] - loop["pressure_drop_kpa"] == pytest.approx(change, rel=1e-5)
