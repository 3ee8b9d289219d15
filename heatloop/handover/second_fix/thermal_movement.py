"""Thermal movement of the skirting: each straight length with its free end, its fixed end and the gap to leave.

A straight length is the metal between two places where it can be fixed or slide: one piece, or several joined by
straight joints that do not slide. It is assumed at the maximum flow temperature along its whole length, from the
installation temperature: the cautious side. The catalogue states which joints and ends let metal slide (`free_end`,
`slide_mm`, `elastic_allowance_mm`). One free and one fixed end for each straight length, one free side at an inside
corner and none at an outside corner, is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from heatloop.findings.limits import CheckResult, Limit, check_at_most
from heatloop.handover.second_fix.sliding_ends import (
    Choice,
    SlideNode,
    SlideRun,
    assign_free_ends,
    count_restrained,
    missing_expansion_mm,
    required_gap_mm,
    split_at_node,
    widest_slide_mm,
    with_node,
)
from heatloop.hydraulics.from_survey import supply_temp_c
from heatloop.layout.model import PlacedEnd, PlacedJoint
from heatloop.layout.piece_ends import Meets, PlacedPiece, cut_deduction_mm, kind_and_name
from heatloop.physics.thermal_expansion import thermal_expansion_mm
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData

SIDES = {"none": 0, "one": 1, "both": 2}
REMEDIES = 3
"""Maximum number of recommendations for one straight length."""


ROOM_TO_GROW = Limit(
    "room for thermal movement", "mm", "free ends, slides and elastic allowance of the catalogue",
    "fit a joint or end that lets the straight length slide",
)  # fmt: skip


@dataclass(frozen=True)
class StraightLength:
    """One straight length: its pieces in water order, and its metal length (m) from end to end."""

    pieces: tuple[PlacedPiece, ...]
    length_m: float

    @property
    def loop(self) -> str:
        return self.pieces[0].loop

    @property
    def label(self) -> str:
        """Its pieces by label, from the left."""
        ordered = self.pieces if self.rightward else self.pieces[::-1]
        return " + ".join(placed.piece.label for placed in ordered)

    @property
    def rightward(self) -> bool:
        return self.pieces[0].piece.rightward

    @property
    def start(self) -> Meets:
        return self.pieces[0].start

    @property
    def end(self) -> Meets:
        return self.pieces[-1].end


@dataclass(frozen=True)
class StraightMovement:
    """Movement of one straight length: expansion (mm) from installation to hottest (°C), fixing, and gaps.

    The gap (mm) is left at each free end. `reason` and `remedies`: of a restrained length without room for expansion.
    """

    straight: StraightLength
    hottest_c: float
    expansion_mm: float
    choice: Choice
    gap_mm: float
    reason: str = ""
    remedies: tuple[str, ...] = ()

    @property
    def anchored(self) -> bool:
        return self.choice == "anchor"

    @property
    def free(self) -> tuple[Meets, ...]:
        """Description of its free ends."""
        start = (self.straight.start,) if self.choice in ("start", "anchor") else ()
        end = (self.straight.end,) if self.choice in ("end", "anchor") else ()
        return (*start, *end)

    @property
    def held(self) -> tuple[Meets, ...]:
        """Description of its fixed ends."""
        start = () if self.choice in ("start", "anchor") else (self.straight.start,)
        end = () if self.choice in ("end", "anchor") else (self.straight.end,)
        return (*start, *end)


@dataclass(frozen=True)
class MovementPlan:
    """All straight lengths, fitted at `installation_temp_c` (°C) with `min_gap_mm` left when hottest."""

    moves: tuple[StraightMovement, ...]
    installation_temp_c: float
    min_gap_mm: float

    @property
    def possible(self) -> bool:
        """True if all straight lengths are free to expand."""
        return all(move.choice != "stuck" for move in self.moves)

    def rise_k(self, move: StraightMovement) -> float:
        """Temperature rise (K) of a straight length from installation to its hottest."""
        return move.hottest_c - self.installation_temp_c


def plan_movement(
    survey: SurveyData, pieces: Sequence[PlacedPiece], installation_temp_c: float = 10.0, min_gap_mm: float = 1.0
) -> MovementPlan:
    """Free and fixed ends of all straight lengths, the best possible assignment on each run.

    Pieces of rooms estimated before a survey are left out: their corners are not known. Raises ValueError
    for a fitting temperature above the hottest, or a clearance below 0.
    """
    if not min_gap_mm >= 0.0:
        raise ValueError(f"min_gap_mm = {min_gap_mm:g}: must be 0 or above")
    catalogue = survey.catalogue
    moves: list[StraightMovement] = []
    for straights in runs(catalogue, pieces):
        loop = survey.loop(straights[0].loop)
        hottest = hottest_c(survey, loop)
        if not installation_temp_c <= hottest:
            raise ValueError(
                f"installation_temp_c = {installation_temp_c:g}: must be at most {hottest:g}, "
                f"the hottest of loop {loop.name}"
            )
        rise_k = hottest - installation_temp_c
        expansion_mm = tuple(_expansion_mm(straight, rise_k) for straight in straights)
        ends = (straights[0].start, *(straight.end for straight in straights))
        run = SlideRun(expansion_mm, tuple(node_of(catalogue, meets) for meets in ends), min_gap_mm)
        for index, choice in enumerate(assign_free_ends(run)):
            restraint: tuple[str, tuple[str, ...]] = ("", ())
            if choice == "stuck":
                restraint = (_why(run, straights, index), remedies(catalogue, run, straights, index))
            moves.append(
                StraightMovement(
                    straights[index], hottest, expansion_mm[index], choice, run.gap_mm(index, choice), *restraint
                )
            )
    return MovementPlan(tuple(moves), installation_temp_c, min_gap_mm)


def movement_checks(plan: MovementPlan) -> list[CheckResult]:
    """Checks of expansion (mm): that of each restrained straight length, 0 for all others, with recommendations."""
    rows = []
    for move in plan.moves:
        stuck = move.choice == "stuck"
        limit = replace(ROOM_TO_GROW, remedy="; ".join(move.remedies)) if move.remedies else ROOM_TO_GROW
        rows.append(check_at_most(limit, move.straight.label, move.expansion_mm if stuck else 0.0, 0.0))
    return rows


def hottest_c(survey: SurveyData, loop: Loop) -> float:
    """Maximum flow temperature of a loop, °C: that of the source, or of its mixing valve."""
    temps = [supply_temp_c(survey, loop)]
    max_c = survey.source.max_flow_temp_c
    mixed = loop.flow_temp_c is not None
    name = loop.trunk
    while name is not None:
        trunk = survey.trunk(name)
        mixed = mixed or trunk.mixed_to_c is not None
        name = trunk.from_trunk
    if max_c is not None and not mixed:
        temps.append(max_c)
    return max(temps)


def runs(catalogue: Catalogue, pieces: Sequence[PlacedPiece]) -> tuple[tuple[StraightLength, ...], ...]:
    """Pieces as straight lengths, grouped into runs whose neighbours share a joint or crossing."""
    lines: list[list[list[PlacedPiece]]] = []
    before: PlacedPiece | None = None
    for placed in pieces:
        if placed.estimate:
            before = None
            continue
        if before is None or before.end is not placed.start:
            lines.append([[placed]])
        elif is_rigid(catalogue, placed.start):
            lines[-1][-1].append(placed)
        else:
            lines[-1].append([placed])
        before = placed
    return tuple(tuple(_straight(catalogue, line) for line in run) for run in lines)


def is_rigid(catalogue: Catalogue, meets: Meets) -> bool:
    """True for a straight joint in which neither side slides: the pieces beside it are one straight length."""
    return isinstance(meets, PlacedJoint) and meets.kind == "straight" and node_of(catalogue, meets).free == 0


def node_of(catalogue: Catalogue, meets: Meets) -> SlideNode:
    """Sliding and elastic allowance of a joint, crossing or end, by its catalogue entry.

    Without an entry a crossing lets one side slide and a transition to the floor none. An end without a statement is
    fixed if it is a valve end, and free otherwise (common practice).
    """
    kind, name = kind_and_name(catalogue, meets)
    if not name:
        return SlideNode(int(kind == "crossing"))
    if isinstance(meets, PlacedEnd):
        end = catalogue.end(name)
        free = end.free_end or ("none" if kind == "valve end" else "one")
        return SlideNode(SIDES[free], end.slide_mm, end.elastic_allowance_mm)
    joint = catalogue.joint(name)
    return SlideNode(SIDES[joint.free_end], joint.slide_mm, joint.elastic_allowance_mm)


def remedies(catalogue: Catalogue, run: SlideRun, straights: Sequence[StraightLength], index: int) -> tuple[str, ...]:
    """Changes with which a restrained straight length could expand, each tested on the run; at most three."""
    restrained = count_restrained(run)
    worked: list[str] = []
    for text, changed in _changes(catalogue, run, straights, index):
        choices = assign_free_ends(changed)
        if choices.count("stuck") < restrained and len(worked) < REMEDIES:
            anchored = len(choices) == len(straights) and choices[index] == "anchor"
            worked.append(f"{text}, and an anchor in its middle" if anchored else text)
    return tuple(worked)


def _changes(
    catalogue: Catalogue, run: SlideRun, straights: Sequence[StraightLength], index: int
) -> Iterator[tuple[str, SlideRun]]:
    yield from _parting(catalogue, run, straights[index], index)
    group = missing_expansion_mm(run, index)
    first, last = group[0], group[-1]
    required_mm = required_gap_mm(run, index)
    for position in (index, index + 1):
        node = run.nodes[position]
        if node.free and not node.takes(required_mm):
            text = f"a wider slide at {_node_words(straights, position)}: {required_mm:.1f} mm"
            yield text, with_node(run, position, SlideNode(node.free, required_mm, node.elastic_allowance_mm))
    for position, other in ((index, index + 1), (index + 1, index)):
        node, beyond = run.nodes[position], run.nodes[other]
        if not node.free and beyond.free and not beyond.takes(required_mm):
            text = f"let {_node_words(straights, position)} slide as wide as its other end"
            yield text, with_node(run, position, SlideNode(1, beyond.slide_mm, node.elastic_allowance_mm))
    for position in range(first, last + 2):
        node = run.nodes[position]
        where = _node_words(straights, position)
        if not node.free and position in (0, len(straights)):
            yield (
                f"let {where} slide, on pipes that follow",
                with_node(run, position, SlideNode(1, None, node.elastic_allowance_mm)),
            )
        elif not node.free:
            yield (
                f"a joint that lets one side slide at {where}",
                with_node(run, position, SlideNode(1, None, node.elastic_allowance_mm)),
            )
    for position in range(first + 1, last + 1):
        where = _node_words(straights, position)
        yield f"split the run at {where}: an end of its own on each side", with_node(run, position, SlideNode(2))


def _parting(
    catalogue: Catalogue, run: SlideRun, straight: StraightLength, index: int
) -> Iterator[tuple[str, SlideRun]]:
    """A sliding straight joint in the middle of a straight length, if both halves are long enough to be pieces."""
    if straight.length_m < 2.0 * straight.pieces[0].profile.min_piece_m:
        return
    sliding = next((j for j in catalogue.joints if j.kind == "straight" and j.free_end != "none"), None)
    if sliding is not None:
        node = SlideNode(SIDES[sliding.free_end], sliding.slide_mm, sliding.elastic_allowance_mm)
        yield f'part {straight.label} by the joint "{sliding.name}", which slides', split_at_node(run, index, node)
    else:
        text = f"part {straight.label} by a straight joint whose two sides slide (none in the catalogue)"
        yield text, split_at_node(run, index, SlideNode(2))


def _why(run: SlideRun, straights: Sequence[StraightLength], index: int) -> str:
    """Why a straight length is restrained: the smallest group that proves it."""
    group = missing_expansion_mm(run, index)
    first, last = group[0], group[-1]
    nodes = run.nodes[first : last + 2]
    sides = sum(node.free for node in nodes)
    expansion = f"expands {run.expansion_mm[index]:.1f} mm"
    if len(group) == 1 and not sides:
        kinds = " and ".join(_kind(meets) for meets in (straights[index].start, straights[index].end))
        return f"{expansion}, fixed at both ends ({kinds})"
    if len(group) == 1:
        required, widest = required_gap_mm(run, index), widest_slide_mm(nodes)
        return f"{expansion}: requires a gap of {required:.1f} mm, its ends take at most {widest:.1f} mm"
    names = f"{len(group)} straight lengths from {straights[first].label} to {straights[last].label}"
    enough = "" if sides < len(group) else ", not all wide enough"
    return f"{expansion}: {names} share {sides} free {'end' if sides == 1 else 'ends'}{enough}"


def _expansion_mm(straight: StraightLength, rise_k: float) -> float:
    expansion = straight.pieces[0].profile.expansion_1_k
    return thermal_expansion_mm(straight.length_m, expansion, rise_k) if expansion > 0.0 else 0.0


def _straight(catalogue: Catalogue, line: Sequence[PlacedPiece]) -> StraightLength:
    """Pieces in one line: their cut lengths and the joints between them."""
    joints_m = sum(2.0 * cut_deduction_mm(catalogue, placed.end) / 1000.0 for placed, _ in pairwise(line))
    return StraightLength(tuple(line), sum(placed.piece.cut_m for placed in line) + joints_m)


def _kind(meets: Meets) -> str:
    return meets.kind if isinstance(meets, PlacedJoint | PlacedEnd) else "crossing"


def _node_words(straights: Sequence[StraightLength], position: int) -> str:
    """A node in words: its kind and the straight lengths beside it."""
    if position == 0:
        return f"the {_kind(straights[0].start)} of {straights[0].label}"
    if position == len(straights):
        return f"the {_kind(straights[-1].end)} of {straights[-1].label}"
    return f"the {_kind(straights[position].start)} of {straights[position - 1].label} and {straights[position].label}"
