"""Random faults for sites of the second model, of sizes that a fitter would call a fault."""

from __future__ import annotations

from copy import deepcopy

import numpy as np

from tests.helpers.second_site import faults as f
from tests.helpers.second_site.built import Scatter, build
from tests.helpers.second_site.site import Rooms, solve_site

SCORED = (
    f.LITTLE_WATER, f.MUCH_WATER, f.LITTLE_HEAT, f.SWAPPED, f.LITTLE_HEAD, f.TOO_COOL, f.INTERCHANGED, f.AIR,
)  # fmt: skip
"""Kinds that are scored, each as often as another."""

OTHERS = (f.MUCH_HEAD, f.TOO_WARM)

SIZES = {
    f.LITTLE_WATER: (0.03, 0.45),
    f.LITTLE_HEAT: (0.35, 0.65),
    f.LITTLE_HEAD: (0.1, 0.5),
    f.TOO_COOL: (-14.0, -6.0),
    f.MUCH_HEAD: (1.8, 3.5),
    f.TOO_WARM: (6.0, 12.0),
    f.AIR: (0.02, 0.1),
}
"""From and to, as the kinds count them; of loops with too little water three in ten have none at all."""

SMALL = {
    f.LITTLE_WATER: (0.45, 0.7),
    f.LITTLE_HEAT: (0.65, 0.8),
    f.LITTLE_HEAD: (0.5, 0.7),
    f.TOO_COOL: (-6.0, -3.0),
}
"""Faults smaller than those that are scored."""

NO_WATER_PART = 0.3

MIN_MUCH = 1.4
"""A valve is opened only where that lets in at least this share of the flow."""


TRIES = 6
"""A fault of a kind is tried at so many places before another kind is chosen."""

MIN_APART_K = 1.5
"""Loops are interchanged only where the temperatures of their pipes differ by this much in the design: otherwise no
reading shows it, and nothing follows from it."""


class Chooser:
    """Random faults that one system can have."""

    def __init__(self, system, rng):
        self.rng = rng
        self.built = build(system, np.random.default_rng(0), Scatter().times(0.0), system.survey.project.flow_temp_c)
        self.flows = f.fair_flows(self.built)
        held = Rooms({room.name: room.indoor_c for room in system.survey.rooms}, {}, {}, 0.0, held=True)
        solved = solve_site(self.built, held)
        self.ends_c = np.stack([solved.supply_c, solved.return_c])
        self.mixed = [t.name for t in self.built.trunks if t.mixed_to_c is not None]

    def one(self, kind, sizes=SIZES):
        """A fault of this kind, None where the system cannot have it."""
        rng, loops = self.rng, self.built.loops
        loop = loops[int(rng.integers(len(loops)))]
        arm = int(rng.integers(1, len(loop.arms) + 1)) if len(loop.arms) > 1 and rng.random() < 0.5 else 0
        size = float(rng.uniform(*sizes[kind])) if kind in sizes else 1.0
        if kind == f.LITTLE_WATER:
            none = sizes is SIZES and not arm and rng.random() < NO_WATER_PART
            return f.Fault(kind, loop.name, 0.0 if none else size, arm)
        if kind == f.LITTLE_HEAT:
            return f.Fault(kind, loop.name, size, arm)
        if kind == f.SWAPPED:
            plain = [one.name for one in loops if not one.emitters_flow and not one.emitters_return]
            return f.Fault(kind, str(rng.choice(plain))) if plain else None
        if kind == f.MUCH_WATER:
            return self._much()
        if kind == f.AIR:
            able = [one for one in loops if len(one.arms) == 1 and (one.arms[0].direction > 0).sum() > 1]
            if not able:
                return None
            chosen = able[int(rng.integers(len(able)))]
            ways = np.flatnonzero(chosen.arms[0].direction > 0) + 1
            return f.Fault(kind, chosen.name, size, 0, int(rng.choice(ways)))
        if kind == f.INTERCHANGED:
            pair = sorted(rng.choice(len(loops), 2, replace=False))
            if np.abs(self.ends_c[:, pair[0]] - self.ends_c[:, pair[1]]).max() < MIN_APART_K:
                return None
            return f.Fault(kind, loops[pair[0]].name, other=loops[pair[1]].name)
        trunk = ""
        if kind in (f.LITTLE_HEAD, f.MUCH_HEAD) and all(self._behind_mixing(loop) for loop in loops):
            return None
        if kind in (f.TOO_COOL, f.TOO_WARM) and self.mixed and rng.random() < 0.5:
            trunk = str(rng.choice(self.mixed))
            if kind == f.TOO_WARM:
                return None
        return f.Fault(kind, "", size, trunk=trunk)

    def _behind_mixing(self, loop):
        """Whether a mixed circuit, with a pump of its own, supplies a loop: the pump of the source changes nothing."""
        trunks, name = {trunk.name: trunk for trunk in self.built.trunks}, loop.trunk
        while name is not None and name not in self.mixed:
            name = trunks[name].parent
        return name is not None

    def _much(self):
        able = []
        for i, loop in enumerate(self.built.loops):
            for arm in range(len(loop.arms) + 1) if len(loop.arms) > 1 else (0,):
                if arm and not f.balancing(loop, arm):
                    continue
                opened = deepcopy(self.built)
                f.open_valves(opened.loops[i], arm)
                after, out = f.fair_flows(opened), None
                if arm:
                    out = loop.arms[arm - 1].direction > 0
                    ratio = after.channel[i][arm - 1][out].sum() / self.flows.channel[i][arm - 1][out].sum()
                else:
                    ratio = after.loop[i] / self.flows.loop[i]
                if ratio >= MIN_MUCH:
                    able.append(f.Fault(f.MUCH_WATER, loop.name, 1.0, arm))
        return able[int(self.rng.integers(len(able)))] if able else None

    def some(self, kinds, sizes=SIZES):
        """A fault of each kind, at loops of their own; of another scored kind where the system cannot have one."""
        found = []
        for kind in kinds:
            fault = None
            tries = 0
            while fault is None or any(self._clash(fault, other) for other in found):
                fault = self.one(kind, sizes)
                tries += 1
                if tries < TRIES:
                    continue
                tries = 0
                kind = str(self.rng.choice([k for k in SCORED if k in sizes or sizes is SIZES]))
            found.append(fault)
        return found

    @staticmethod
    def _clash(one, other):
        loops = {one.loop, one.other} & {other.loop, other.other} - {""}
        return bool(loops) or (not one.loop and not other.loop and one.kind == other.kind)
