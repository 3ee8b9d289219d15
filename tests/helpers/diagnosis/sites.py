"""Random systems and random sites to try diagnoses on: surveys in code, sized, with faults of stated size put in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from heatloop.diagnosis import fault_types
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.simulate import simulate_readings
from heatloop.diagnosis.simulated_site import Instruments, SiteFault
from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.from_survey import fluid_from, network_from
from heatloop.hydraulics.loop_paths import RatingAssumptions, loop_paths, profile_characteristics
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.sizing.balancing import balancing_places
from heatloop.hydraulics.sizing.size_system import prepare_system, size_system
from heatloop.hydraulics.sizing.sized_system import PreparedSystem, SizedSystem
from heatloop.hydraulics.sizing.trial_solution import loops_network
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.layout.build import build_layout
from heatloop.layout.model import floor_areas_m2
from heatloop.survey.read import survey_of
from tests.helpers.paths import DATA

BESIDE = DATA / "alder-lodge" / "draft.toml"
"""The catalogue of this survey is the one of the random systems."""

ONE_WAY, FROM_MIDDLE = 9007, 9003
"""Seeds of systems whose loops have these arrangements."""

CROSSED_BY = "copper 15"


def random_room(rng, name):
    long_m, wide_m = round(float(rng.uniform(2.6, 6.0)), 2), round(float(rng.uniform(2.2, 4.6)), 2)
    door_m = round(float(rng.uniform(0.3, wide_m - 1.2)), 2)
    opening = {"kind": "door", "start_m": door_m, "width_m": 0.8, "height_m": 2.0}
    walls = [{"length_m": side} for side in (long_m, wide_m, long_m, wide_m)]
    walls[3]["openings"] = [opening]
    return {"name": name, "indoor_c": float(rng.choice([18.0, 20.0, 20.0, 21.0, 22.0])), "walls": walls}


def random_tables(rng, max_loops=8):
    """The tables of a survey: 3 to 8 loops of one to three rooms, two profiles, both arrangements, trunks or none."""
    flow_c = float(rng.uniform(42.0, 60.0))
    drop_k = float(rng.uniform(5.0, 9.0))
    trunks = [
        [],
        [{"name": "main", "pipe": "copper 28", "length_m": 6.0}],
        [
            {"name": "main", "pipe": "copper 28", "length_m": 4.0},
            {"name": "upstairs", "from": "main", "pipe": "copper 22", "length_m": 6.0},
        ],
    ][rng.integers(3)]
    rooms, loops = [], []
    for number in range(int(rng.integers(3, max_loops + 1))):
        names = [f"Room {number + 1}{letter}" for letter in "abc"[: int(rng.choice([1, 1, 2, 2, 3]))]]
        own = [random_room(rng, name) for name in names]
        rooms += own
        loop = {
            "name": f"Loop {number + 1}",
            "profile": str(rng.choice(["two-channel 140", "two-channel 140", "three-channel 175"])),
            "arrangement": str(rng.choice(["there-and-back", "there-and-back", "one-way"])),
            "tails": {"pipe": CROSSED_BY, "length_m": round(float(rng.uniform(1.0, 8.0)), 1)},
            "crossing": {"pipe": CROSSED_BY, "depth_m": 0.15},
            "valves": {"flow": "thermostatic 15", "return": "lockshield 15"},
        }
        if loop["arrangement"] == "one-way":
            there, back = (round(float(v), 1) for v in rng.uniform(1.0, 8.0, 2))
            loop["tails"] = {"pipe": CROSSED_BY, "flow_m": there, "return_m": back}
        if trunks:
            names_of_trunks = [trunk["name"] for trunk in trunks]
            loop["trunk"] = str(rng.choice(names_of_trunks)) if loops else names_of_trunks[-1]
        if len(own) == 1 and rng.random() < 0.25:
            loop["arrangement"] = "there-and-back"
            loop["tails"] = {"pipe": CROSSED_BY, "length_m": 3.0}
            loop["valves"] = {"flow": "thermostatic 15"}
            loop["arm_valves"] = [{"return": "lockshield 15"}, {"return": "lockshield 15"}]
            loop["arms"] = [[{"room": names[0], "walls": [1, 2]}], [{"room": names[0], "walls": [4, 3]}]]
        else:
            route = []
            for name in names:
                walls = [1, 2, 3] if len(names) == 1 else [1, 2]
                route += [{"room": name, "walls": walls}, {"pipe": CROSSED_BY, "length_m": 0.5}]
            loop["route"] = route[:-1]
        loops.append(loop)
        for room in own:
            lengths = [wall["length_m"] for wall in room["walls"]]
            metres = lengths[0] + lengths[1] + (lengths[2] if len(names) == 1 else 0.0)
            excess = flow_c - drop_k / 2.0 - room["indoor_c"]
            room["heat_loss_w"] = round(150.0 * metres * (excess / 50.0) ** 1.28 * float(rng.uniform(0.7, 1.0)))
            room["heat_loss_source"] = "a random survey"
    project = {
        "name": "random",
        "outdoor_c": -5.0,
        "annual_mean_c": 9.0,
        "flow_temp_c": round(flow_c, 1),
        "delta_t_k": round(drop_k, 1),
        "catalogue": "catalogue.toml",
    }
    flow_m3_h = np.array([0.0, 0.4, 0.8, 1.2]) * len(loops) / 4.0
    pump = {"flow_m3_h": [float(v) for v in flow_m3_h], "head_kpa": [60.0, 57.0, 49.0, 36.0]}
    source = {"kind": "heat source", "water_volume_l": 10.0}
    if rng.random() < 0.5:
        source["pump"] = pump
    return {"project": project, "source": source, "room": rooms, "loop": loops, "trunk": trunks}


def random_design(seed, max_loops=8):
    """A random system, sized."""
    return size_system(prepare_system(survey_of(random_tables(np.random.default_rng(seed), max_loops), BESIDE)))


@cache
def law_of(profile):
    """The rating constants of a profile of the catalogue, found once."""
    tables = random_tables(np.random.default_rng(0), 3)
    for loop in tables["loop"]:
        loop["profile"] = profile
    survey = survey_of(tables, BESIDE)
    return profile_characteristics(survey, build_layout(survey), [RatingAssumptions(survey.project.water_film)])[0][
        profile
    ]


def quick_design(seed, max_loops=8):
    """A random system whose balancing valves are set by a rough reckoning, which takes a tenth of the time."""
    survey = survey_of(random_tables(np.random.default_rng(seed), max_loops), BESIDE)
    layout, water = build_layout(survey), fluid_from(survey)
    losses = room_losses(survey, floor_areas_m2(layout))
    characteristics = {loop.profile: law_of(loop.profile) for loop in survey.loops}
    paths = tuple(loop_paths(survey, layout, characteristics))
    system = network_from(survey, paths)
    prepared = PreparedSystem(survey, layout, losses, water, (characteristics,), paths, system, loops_network(paths))
    supply_c, head_pa = np.full(len(system.loops), survey.project.flow_temp_c), 2e4
    wide = solve_state(system, OperatingConditions(supply_c, [ConstantHead(head_pa)]), water)
    kv = {}
    for i, flow in enumerate(wide.loop_flow_kg_s):
        heat_w = sum(arm.given_w for arm, loop in zip(wide.arms, system.arm_loop, strict=True) if loop == i)
        share = min(heat_w / (4180.0 * survey.project.delta_t_k * flow), 0.95)
        for place in balancing_places(system, i):
            spare_pa = head_pa * (1.0 - share**1.8) + wide.drop_pa[place] * share**2
            kv[place] = 3.6 * wide.flow_kg_s[place] * share / np.sqrt(spare_pa / 1e5)
    state = solve_state(system.with_kv(kv), OperatingConditions(supply_c, [ConstantHead(head_pa)]), water)
    return SizedSystem(prepared, (), None, state, {}, state, ())


# --- sites -----------------------------------------------------------------------------------------------

SCORED = (
    fault_types.LITTLE_WATER,
    fault_types.MUCH_WATER,
    fault_types.LITTLE_HEAT,
    fault_types.SWAPPED,
    fault_types.LITTLE_HEAD,
    fault_types.TOO_COOL,
)
"""The kinds of fault that are scored, each put in as often as another."""

SIZES = {
    fault_types.LITTLE_WATER: (0.03, 0.45),
    fault_types.LITTLE_HEAT: (0.35, 0.65),
    fault_types.LITTLE_HEAD: (0.1, 0.5),
    fault_types.TOO_COOL: (-14.0, -6.0),
    fault_types.MUCH_HEAD: (1.8, 3.5),
    fault_types.TOO_WARM: (6.0, 12.0),
}
"""From and to, as the kinds count them; of loops with too little water three in ten have none at all."""

MIN_MUCH = 1.4
"""A valve is opened only where that lets in at least this share of the flow."""


@dataclass(frozen=True)
class Site:
    """A site: the faults put in, and its readings."""

    faults: tuple[SiteFault, ...]
    readings: Readings

    @property
    def truth(self):
        return frozenset((f.kind, _place(f)) for f in self.faults)


def _place(fault):
    return (f"{fault.loop}, arm {fault.arm}" if fault.arm else fault.loop) or "source"


def random_fault(rng, model, kind, sizes=SIZES):
    """A fault of a stated size, or None where the system cannot have it."""
    system = model.network
    loop = int(rng.integers(len(system.loops)))
    name, arms = system.loops[loop].loop.name, len(system.loops[loop].arms)
    arm = int(rng.integers(1, arms + 1)) if arms > 1 and rng.random() < 0.5 else 0
    if kind == fault_types.MUCH_WATER:
        able = [r.fault for r in model.responses.of if r.fault.kind == kind and r.sizes[-1] >= MIN_MUCH]
        if not able:
            return None
        one = able[int(rng.integers(len(able)))]
        own = [a for a in range(len(system.arms)) if system.arm_loop[a] == one.loop]
        return SiteFault(kind, system.loops[one.loop].loop.name, 1.0, own.index(one.arm) + 1 if one.arm >= 0 else 0)
    if kind == fault_types.SWAPPED:
        return SiteFault(kind, name)
    value = float(rng.uniform(*sizes[kind]))
    if kind == fault_types.LITTLE_WATER:
        shut = sizes is SIZES and not arm and rng.random() < 0.3
        return SiteFault(kind, name, 0.0 if shut else value, arm)
    if kind == fault_types.LITTLE_HEAT:
        return SiteFault(kind, name, value, arm)
    return SiteFault(kind, "", value)


def random_faults(rng, model, required, sizes=SIZES):
    """Faults of the kinds `required`, of loops of their own; of another kind where the system cannot have one."""
    faults = []
    for kind in required:
        fault = None
        while fault is None or any(f.loop == fault.loop and (f.loop or f.kind == fault.kind) for f in faults):
            fault = random_fault(rng, model, kind, sizes)
            kind = str(rng.choice([k for k in SCORED if k in sizes]))
        faults.append(fault)
    return faults


def random_site(rng, model, faults):
    """A random day on a site with these faults: weather, source, what is read besides surfaces."""
    system = model.site.system
    readings, _ = simulate_readings(
        system,
        faults,
        rng,
        outdoor_c=float(rng.uniform(-3.0, 8.0)),
        source_setting_c=system.survey.project.flow_temp_c - float(rng.uniform(0.0, 5.0)),
        instruments=Instruments(
            loop_meters=bool(rng.random() < 0.4),
            total_meter=bool(rng.random() < 0.4),
            head_gauge=bool(rng.random() < 0.4),
            steady=bool(rng.random() < 0.6),
        ),
    )
    return Site(tuple(faults), readings)
