"""Choice of the free end of each straight length: an exact assignment along a run.

Straights are in a row with a node (joint, crossing or end) before, between and after them. A node lets none, one or
both of its sides slide, each by at most its slide. A straight requires one free end and one fixed end. Where no slide
is wide enough for its whole expansion, a straight anchored in its middle divides the expansion between two free ends. A
straight fixed at both ends can expand only by the elastic allowance of the nodes.

Dynamic programming along the run, over "does the straight before slide into this node", finds the best of all
assignments. If it cannot place a straight, no assignment can. The order of preference is: fewest straights without room
for expansion, least expansion without room, fewest straights that rely on elastic allowance alone, fewest anchors, and
free ends as far along the water as possible (a valve end is then fixed). Source: common practice for the rule (one end
free, one fixed); the search is dynamic programming (Bellman).
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
    """A node at an end of a straight.

    How many of its sides may slide, the widest gap of one (mm; None: not stated), and the elastic allowance of a fixed
    side (mm).
    """

    free: int
    slide_mm: float | None = None
    elastic_allowance_mm: float = 0.0

    def takes(self, gap_mm: float) -> bool:
        """True if a side may slide here with a gap of `gap_mm` when cold."""
        return self.free > 0 and (self.slide_mm is None or gap_mm <= self.slide_mm + EPS_MM)


@dataclass(frozen=True)
class SlideRun:
    """Straights in water order by their expansion (mm), and the nodes around them (one more).

    Also the clearance (mm) that remains at a free end at the maximum temperature.
    """

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
        """The straights from `first` to `last`, both included, with the nodes around them free for these only."""
        return SlideRun(self.expansion_mm[first : last + 1], self.nodes[first : last + 2], self.min_gap_mm)


def slide_options(run: SlideRun, index: int, used: int) -> tuple[Choice, ...]:
    """Choices of a straight where `used` (0 or 1) sides of the node before it slide already."""
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
    """Cost of a choice, the most serious part first; costs of a run are added and compared as tuples."""
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
    """Minimum number of straights of a run that have no room for expansion."""
    return assign_free_ends(run).count("stuck")


def missing_expansion_mm(run: SlideRun, index: int) -> tuple[int, ...]:
    """The smallest group of straights, including this one, that cannot all be placed: the reason why it is restrained.

    The group has the nodes around it to itself, and other restrained straights are left out. It proves that one of them
    must remain without room. Indices in order; ValueError for a straight that is not restrained.
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
    """The run with a straight divided in its middle by a joint."""
    half = run.expansion_mm[index] / 2.0
    expansion_mm = (*run.expansion_mm[:index], half, half, *run.expansion_mm[index + 1 :])
    nodes = (*run.nodes[: index + 1], node, *run.nodes[index + 1 :])
    return SlideRun(expansion_mm, nodes, run.min_gap_mm)


def required_gap_mm(run: SlideRun, index: int) -> float:
    """The largest gap of a straight length that is free at one end only, mm."""
    return run.gap_mm(index, "end")


def widest_slide_mm(nodes: Sequence[SlideNode]) -> float:
    """Widest gap in mm that a side may have at any of the nodes: 0 where none may slide."""
    slides = [math.inf if node.slide_mm is None else node.slide_mm for node in nodes if node.free > 0]
    return max(slides, default=0.0)


def _add(cost: Cost, other: Cost) -> Cost:
    return (cost[0] + other[0], cost[1] + other[1], cost[2] + other[2], cost[3] + other[3], cost[4] + other[4])
