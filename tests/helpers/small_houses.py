"""Houses of three rooms from a seed, four remedies for each, and the least costly combination by trying all of them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from heatloop.handover.price_file import Price, PriceList
from heatloop.survey.building import Building, FloorOrCeiling, Room, Wall
from heatloop.survey.entry import as_survey
from heatloop.survey.loops import CrossingRule, Loop, LoopEmitter, RouteItem, RouteWalls, Tails, Valves
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import PumpCurve, Source, Trunk
from heatloop.workflows.improve.remedy import Edit, Remedy, are_compatible, loop_edit
from heatloop.workflows.improve.rows import Measure
from heatloop.workflows.improve.search import Cheapest, cheapest, passes
from heatloop.workflows.improve.trial import Trial, Trials
from tests.helpers.random_systems import catalogue

PIPE = "copper 15"
PUMP = PumpCurve((0.0, 1.0, 2.0, 4.0), (90.0, 80.0, 60.0, 10.0))
ROOMS = 3


@dataclass(frozen=True)
class Case:
    """A house, its remedies, the prices of its parts, and the trials that both searches share."""

    trials: Trials
    remedies: tuple[Remedy, ...]
    measure: Measure

    def searched(self) -> Cheapest:
        """What the search finds."""
        return cheapest(self.trials, self.remedies, self.measure, 10_000)

    def exhaustive(self) -> tuple[float, int]:
        """Least cost of all combinations that pass, and the number of combinations that are not dearer.

        By rising price they are sized until one passes. The price of a combination is the sum of those of its rooms,
        which is asserted for each that is sized.
        """
        priced = []
        for parts in itertools.product(*(self._of_room(room) for room in range(ROOMS))):
            remedies = tuple(itertools.chain(*(held for _, held in parts)))
            priced.append((round(math.fsum(cost for cost, _ in parts), 6), len(remedies), remedies))
        for tried, (cost, _, remedies) in enumerate(sorted(priced, key=lambda one: one[:2]), start=1):
            trial = self.trials.of(*remedies)
            if isinstance(trial, Trial):
                assert abs(self.measure.cost(trial) - cost) < 1e-5
                if passes(trial):
                    return cost, tried
        return math.inf, len(priced)

    def _of_room(self, room: int) -> list[tuple[float, tuple[Remedy, ...]]]:
        """Compatible remedies of a room that can be laid out, with their price."""
        four = self.remedies[4 * room : 4 * room + 4]
        held = [chosen for n in range(5) for chosen in itertools.combinations(four, n) if are_compatible(chosen)]
        items = ((self.trials.items_of(chosen), chosen) for chosen in held)
        return [(self.measure.cost_of(fitted), chosen) for fitted, chosen in items if fitted is not None]


def small_house(seed: int, losses_w_m: tuple[float, float] = (56.0, 76.0), free: bool = True) -> Case:
    """The case of a seed: each room with a loop of its own, some of them short of heat.

    `losses_w_m`: range of the heat loss of a room per metre of its skirting. `free`: two of the remedies of each room
    cost nothing.
    """
    rng = np.random.default_rng(seed)
    sizes_m = [tuple(round(float(m), 2) for m in rng.uniform(3.0, 5.0, 2)) for _ in range(ROOMS)]
    neighbour = FloorOrCeiling("neighbour", neighbour_c=18.0)
    rooms, loops = [], []
    for index, (long_m, short_m) in enumerate(sizes_m):
        walls = tuple(Wall(m, beyond="neighbour", neighbour_c=18.0) for m in (long_m, short_m, long_m, short_m))
        loss_w = round(float(rng.uniform(*losses_w_m)) * (long_m + short_m))
        rooms.append(
            Room(f"Room {index}", 20.0, walls=walls, floor=neighbour, ceiling=neighbour, heat_loss_w=loss_w,
                 heat_loss_source="the generator")
        )  # fmt: skip
        loops.append(
            Loop(f"Loop {index}", "two-channel 140", "there-and-back", ((RouteWalls(f"Room {index}", (1, 2)),),),
                 Tails(PIPE, 3.0, 3.0), "main", Valves("thermostatic 15", "lockshield 15"),
                 crossing=CrossingRule(PIPE, 0.15))
        )  # fmt: skip
    survey = as_survey(
        SurveyData(
            Project(f"House {seed}", -3.0, 50.0, ""), Building(), (), (), tuple(rooms), Source(pump=PUMP),
            (Trunk("main", "copper 28", round(float(rng.uniform(2.0, 15.0)), 1)),), tuple(loops), catalogue(),
        )
    )  # fmt: skip
    trials = Trials(survey)
    return Case(trials, tuple(_remedies(rng, survey, free)), Measure(trials.present, _prices(rng, trials)))


def _remedies(rng: np.random.Generator, survey: SurveyData, free: bool) -> list[Remedy]:
    """For each room more profile and a towel rail, and two drops or, not free, more profile still and a radiator.

    Remedies of one kind exclude each other.
    """
    found = []
    for loop, room in zip(survey.loops, survey.rooms, strict=True):
        (item,) = loop.arms[0]
        more_m, most_m = round(float(rng.uniform(0.5, 1.5)), 1), round(float(rng.uniform(1.6, 2.5)), 1)
        small_k, less_k = round(float(rng.uniform(5.0, 6.5)), 1), round(float(rng.uniform(3.5, 4.9)), 1)

        def longer(metres: float, loop: Loop = loop, item: RouteItem = item) -> Edit:
            return loop_edit(loop, arms=((replace(item, walls=(1, 2, 3), to_m=metres),),))

        def emitter(name: str, loop: Loop = loop, room: Room = room) -> Edit:
            return loop_edit(loop, emitters=(LoopEmitter(name, room.name),))

        edits = {f"{more_m} m": longer(more_m), "towel rail": emitter("towel rail")}
        if free:
            edits |= {f"{drop_k} K": loop_edit(loop, delta_t_k=drop_k) for drop_k in (small_k, less_k)}
        else:
            edits |= {f"{most_m} m": longer(most_m), "old radiator": emitter("old radiator")}
        found += [Remedy("more profile", loop.name, f"{loop.name}, {words}", (e,)) for words, e in edits.items()]
    return found


def _prices(rng: np.random.Generator, trials: Trials) -> PriceList:
    """Random prices of everything that is fitted, and of the emitters."""
    per = {"piece": "piece", "m": "metre", "l": "litre"}
    lines = [Price(item.item, round(float(rng.uniform(1.0, 60.0)), 2), per[item.unit]) for item in trials.present.items]
    emitters = [
        Price(name, round(float(rng.uniform(20.0, 120.0)), 2), "piece") for name in ("towel rail", "old radiator")
    ]
    return PriceList("prices", "EUR", (*lines, *emitters))
