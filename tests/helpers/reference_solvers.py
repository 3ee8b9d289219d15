"""The plans of this folder solved by the reference libraries.

Where their models are not ours:

- EPANET takes Swamee and Jain's approximation above Re 4000, up to 1 per cent from Colebrook in flow below
  Re 7000 and half a per cent above; laminar below Re 2000 as here; its gravity is 32.2 ft/s2, not 9.80665 m/s2,
  and its viscosity a multiple of 1.1e-5 ft2/s. wntr takes roughness in metres, and writes it to EPANET's
  file in millimetres.
- pandapipes solves Colebrook at every Reynolds number, with no laminar branch, and divides roughness by 3.71
  where the usual form has 3.7; it loses heat to the surroundings in proportion to the excess (exponent 1) and
  takes the heat capacity at mean temperature. Its default tolerances (1e-5 bar and kg/s, 1e-3 K) are tightened.
"""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path

import numpy as np
import pandapipes
import wntr
from pandapipes.properties.fluids import create_constant_fluid

from tests.helpers.reference_networks import DENSITY_KG_M3, VISCOSITY_PA_S

EPANET_GRAVITY_M_S2 = 32.2 * 0.3048
EPANET_VISCOSITY_M2_S = 1.1e-5 * 0.3048**2


def epanet_flows_kg_s(plan, head_pa):
    """Flow of every pipe by EPANET, Darcy-Weisbach."""
    model = wntr.network.WaterNetworkModel()
    options = model.options.hydraulic
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # roughness below is in metres, as D-W requires
        options.headloss = "D-W"
    options.viscosity = VISCOSITY_PA_S / DENSITY_KG_M3 / EPANET_VISCOSITY_M2_S
    options.accuracy, options.trials, options.inpfile_units = 1e-8, 500, "LPS"
    model.options.time.duration = 0
    model.add_reservoir("n0", base_head=0.0)
    model.add_reservoir("n1", base_head=head_pa / (DENSITY_KG_M3 * EPANET_GRAVITY_M_S2))
    for node in range(2, plan.nodes):
        model.add_junction(f"n{node}")
    names = []
    for number, (start, end, pipe) in enumerate(plan.pipes()):
        names.append(f"p{number}")
        model.add_pipe(
            names[-1], f"n{start}", f"n{end}", length=pipe.length_m, diameter=pipe.bore_m,
            roughness=pipe.roughness_m, minor_loss=pipe.zeta,
        )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        result = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(Path(folder) / "plan"))
    return result.link["flowrate"].iloc[0][names].to_numpy() * DENSITY_KG_M3


SAME_ROUGHNESS = 1000.0 * 3.71 / 3.7
"""mm a metre, and the roughness term of Colebrook's equation the same: pandapipes divides by 3.71 bores, Colebrook by
3.7, which is 2.5e-4 of the friction factor at Reynolds 300,000 in the roughest of these pipes."""


def pandapipes_net(plan, head_pa, supply_c=50.0, u_w_m2k=0.0, room_c=20.0, heat_capacity_j_kgk=4180.0):
    """The plan as a net: pressures fixed at source flow and return, loops losing heat to `room_c`."""
    net = pandapipes.create_empty_network(
        fluid=create_constant_fluid(
            "water", "liquid", density=DENSITY_KG_M3, viscosity=VISCOSITY_PA_S,
            heat_capacity=heat_capacity_j_kgk, molar_mass=18.0,
        )
    )  # fmt: skip
    supply_k = supply_c + 273.15
    for _ in range(plan.nodes):
        pandapipes.create_junction(net, pn_bar=2.0, tfluid_k=supply_k)
    pandapipes.create_ext_grid(net, 0, p_bar=2.0, t_k=supply_k, type="p")
    pandapipes.create_ext_grid(net, 1, p_bar=2.0 + head_pa / 1e5, t_k=supply_k, type="pt")
    first_loop = 2 * len(plan.trunks)
    for number, (start, end, pipe) in enumerate(plan.pipes()):
        pandapipes.create_pipe_from_parameters(
            net, start, end, pipe.length_m / 1000.0, pipe.bore_m * 1000.0, k_mm=pipe.roughness_m * SAME_ROUGHNESS,
            loss_coefficient=pipe.zeta, u_w_per_m2k=u_w_m2k if number >= first_loop else 0.0, text_k=room_c + 273.15,
        )  # fmt: skip
    return net


TIGHT = {"tol_p": 1e-10, "tol_m": 1e-10, "tol_res": 1e-9, "max_iter_hyd": 200, "tolerance_colebrook": 1e-12}


def pandapipes_flows_kg_s(plan, head_pa):
    """Flow of every pipe by pandapipes, Colebrook at every Reynolds number."""
    net = pandapipes_net(plan, head_pa)
    pandapipes.pipeflow(net, friction_model="colebrook", max_iter_colebrook=100, use_numba=False, **TIGHT)
    return net.res_pipe["mdot_from_kg_per_s"].to_numpy()


def closed_form_flows_kg_s(plan, head_pa):
    """Flow of every loop where all flow is laminar and nothing but pipes resists: resistances in series and
    parallel, 128 mu L / (pi rho d^4) each."""

    def resistance(pipe):
        return 128.0 * VISCOSITY_PA_S * pipe.length_m / (np.pi * DENSITY_KG_M3 * pipe.bore_m**4)

    def conductance(trunk):
        """Of all that hangs on the end of a trunk."""
        own = sum(1.0 / resistance(loop) for loop in plan.loops if loop.parent == trunk)
        for number, child in enumerate(plan.trunks):
            beyond = conductance(number) if child.parent == trunk else 0.0
            own += 1.0 / (2.0 * resistance(child) + 1.0 / beyond) if beyond else 0.0
        return own

    def available(trunk):
        """Differential at the end of a trunk."""
        if trunk == -1:
            return head_pa
        before = available(plan.trunks[trunk].parent)
        return before / (1.0 + 2.0 * resistance(plan.trunks[trunk]) * conductance(trunk))

    return np.array([available(loop.parent) / resistance(loop) for loop in plan.loops])
