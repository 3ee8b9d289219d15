"""Which end of each straight is left free to slide: an exact assignment along a run.

Straights are in a row with a node before, between and after them (joint, crossing or end). A node lets
none, one or both of its sides slide, each up to its slide; a straight needs one free end and the other held.
Where no slide is wide enough for its whole growth, a straight anchored in its middle shares the growth between
two free ends. Held at both ends it can only grow by what the nodes give there.

Along a run this is a path, so dynamic programming over "does the straight before slide into this node"
finds the best of all assignments, and what it cannot place nobody can. Best is, in this order: fewest
straights without room to grow, least growth without room, fewest straights that live on give alone, fewest
anchors, and free ends as far along the water as may be (a valve end is then held). Source: common practice
for the rule (one end free, one held); the search is plain dynamic programming (Bellman).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Choice = Literal["start", "end", "anchor", "give", "stuck"]
"""Free at the start, at the end, at both with an anchor between; held at both within their give, or without
room."""

Cost = tuple[int, float, int, int, int]
EPS_MM = 1e-9


@dataclass(frozen=True)
class SlideNode:
    """What is at an end of a straight: how many of its sides may slide, the widest gap of one (mm, None:
    not stated), and the growth a held side takes up (mm)."""

    free: int
    slide_mm: float | None = None
    elastic_allowance_mm: float = 0.0

    def takes(self, gap_mm: float) -> bool:
        """True if a side may slide here with a gap of `gap_mm` when cold."""
        return self.free > 0 and (self.slide_mm is None or gap_mm <= self.slide_mm + EPS_MM)


@dataclass(frozen=True)
class SlideRun:
    """Straights in water order by their growth (mm), the nodes round them (one more), and the clearance (mm)
    to be left at a free end when hottest."""

    expansion_mm: tuple[float, ...]
    nodes: tuple[SlideNode, ...]
    min_gap_mm: float = 0.0

    def __post_init__(self) -> None:
        if len(self.nodes) != len(self.expansion_mm) + 1:
            raise ValueError(f"{len(self.nodes)} nodes for {len(self.expansion_mm)} straights: must be one more")

    def gap_mm(self, index: int, choice: Choice) -> float:
        """Gap to leave when fitting at each free end of a straight, mm; 0 without one."""
        if choice in ("start", "end"):
            return self.expansion_mm[index] + self.min_gap_mm
        return self.expansion_mm[index] / 2.0 + self.min_gap_mm if choice == "anchor" else 0.0

    def part(self, first: int, last: int) -> SlideRun:
        """The straights from `first` to `last`, both included, with the nodes round them to themselves."""
        return SlideRun(self.expansion_mm[first : last + 1], self.nodes[first : last + 2], self.min_gap_mm)


def slide_options(run: SlideRun, index: int, used: int) -> tuple[Choice, ...]:
    """What a straight may do where `used` (0 or 1) sides of the node before it slide already."""
    before, after = run.nodes[index], run.nodes[index + 1]
    whole, half = run.gap_mm(index, "start"), run.gap_mm(index, "anchor")
    room = before.free > used
    choices: list[Choice] = []
    if after.takes(whole):
        choices.append("end")
    if room and before.takes(whole):
        choices.append("start")
    if room and before.takes(half) and after.takes(half):
        choices.append("anchor")
    if run.expansion_mm[index] <= before.elastic_allowance_mm + after.elastic_allowance_mm + EPS_MM:
        choices.append("give")
    return (*choices, "stuck")


def assignment_cost(run: SlideRun, index: int, choice: Choice) -> Cost:
    """What a choice costs, the gravest first; costs of a run add up and compare as tuples."""
    return (
        int(choice == "stuck"),
        run.expansion_mm[index] if choice == "stuck" else 0.0,
        int(choice == "give"),
        int(choice == "anchor"),
        int(choice == "start"),
    )


def assign_free_ends(run: SlideRun) -> tuple[Choice, ...]:
    """The best choice for every straight of a run; "stuck" only where no assignment of the run avoids it.

    >>> # valve end, inside corner, free turn end
    >>> assign_free_ends(SlideRun((3.0, 4.0), (SlideNode(0), SlideNode(1), SlideNode(1))))
    ('end', 'end')
    >>> assign_free_ends(SlideRun((3.0, 4.0), (SlideNode(0), SlideNode(1), SlideNode(0))))
    ('stuck', 'start')
    """
    states: dict[int, tuple[Cost, tuple[Choice, ...]]] = {0: ((0, 0.0, 0, 0, 0), ())}
    for index in range(len(run.expansion_mm)):
        following: dict[int, tuple[Cost, tuple[Choice, ...]]] = {}
        for used, (spent, chosen) in states.items():
            for choice in slide_options(run, index, used):
                total = _add(spent, assignment_cost(run, index, choice))
                state = int(choice in ("end", "anchor"))
                if state not in following or total < following[state][0]:
                    following[state] = (total, (*chosen, choice))
        states = following
    return min(states.values())[1]


def count_restrained(run: SlideRun) -> int:
    """How many straights of a run have nowhere to grow at best."""
    return assign_free_ends(run).count("stuck")


def missing_expansion_mm(run: SlideRun, index: int) -> tuple[int, ...]:
    """Why a stuck straight is stuck: the fewest straights, itself among them, that cannot all be placed even
    with the nodes round them to themselves, other stuck ones left out. They prove that one must stay without
    room. Indices in order; ValueError for a straight that is not stuck.
    """
    choices = assign_free_ends(run)
    if choices[index] != "stuck":
        raise ValueError(f"straight {index} has room to grow")
    others = {i for i, choice in enumerate(choices) if choice == "stuck" and i != index}
    expansion_mm = tuple(0.0 if i in others else mm for i, mm in enumerate(run.expansion_mm))
    alone = SlideRun(expansion_mm, run.nodes, run.min_gap_mm)
    count = len(expansion_mm)
    spans = [(first, first + size - 1) for size in range(1, count + 1) for first in range(count - size + 1)]
    first, last = next((a, b) for a, b in spans if a <= index <= b and count_restrained(alone.part(a, b)))
    return tuple(i for i in range(first, last + 1) if i not in others)


def with_node(run: SlideRun, index: int, node: SlideNode) -> SlideRun:
    """The run with one node changed."""
    nodes = (*run.nodes[:index], node, *run.nodes[index + 1 :])
    return SlideRun(run.expansion_mm, nodes, run.min_gap_mm)


def split_at_node(run: SlideRun, index: int, node: SlideNode) -> SlideRun:
    """The run with a straight parted in its middle by a joint."""
    half = run.expansion_mm[index] / 2.0
    expansion_mm = (*run.expansion_mm[:index], half, half, *run.expansion_mm[index + 1 :])
    nodes = (*run.nodes[: index + 1], node, *run.nodes[index + 1 :])
    return SlideRun(expansion_mm, nodes, run.min_gap_mm)


def required_gap_mm(run: SlideRun, index: int) -> float:
    """The largest gap of a straight length that is free at one end only, mm."""
    return run.gap_mm(index, "end")


def widest_slide_mm(nodes: Sequence[SlideNode]) -> float:
    """The widest gap that a side may be left at any of the nodes, mm: 0 where none may slide."""
    slides = [math.inf if node.slide_mm is None else node.slide_mm for node in nodes if node.free > 0]
    return max(slides, default=0.0)


def _add(cost: Cost, other: Cost) -> Cost:
    return (cost[0] + other[0], cost[1] + other[1], cost[2] + other[2], cost[3] + other[3], cost[4] + other[4])
