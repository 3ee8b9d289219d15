"""Pieces, joints and crossings of one chain of walls, in water order."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.layout.joints import AnyFit, JointFit, crossing_for, floor_joint_for, joint_for
from heatloop.layout.model import Piece, PlacedCrossing, PlacedJoint, RunElement, Segment
from heatloop.layout.routes import WallChain, WallSpan
from heatloop.layout.walls import (
    EPS_M,
    WallFeature,
    distinct_positions,
    factor_stretches,
    interrupts_skirting,
    is_straight,
    rounded_length,
    wall_features,
)
from heatloop.survey.loops import Loop
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

StretchKind = Literal["wall", "floor section", "crossing", "stop"]


OF_WALL = "of wall"
"""Ends the name of a stretch that is too short for a piece; what it is beside is named before it."""

STATED = "the survey states a straight joint here"


@dataclass(frozen=True)
class RunStretch:
    """Part of a chain, from `start_along_m` to `end_along_m` along it, with one kind of layout; `what` describes it."""

    start_along_m: float
    end_along_m: float
    kind: StretchKind
    what: tuple[str, ...] = ()

    @property
    def length_m(self) -> float:
        return self.end_along_m - self.start_along_m

    @property
    def carries(self) -> bool:
        return self.kind in ("wall", "floor section")


@dataclass(frozen=True)
class LoopChain:
    """A chain of walls on the route of a loop, with the loop, its profile and the survey."""

    survey: SurveyData
    loop: Loop
    profile: Profile
    chain: WallChain

    def place(self, s: float) -> str:
        """Place in the survey at `s` metres along the chain, in the words of a message."""
        wall, _ = self.chain.place(s, leaving=s > EPS_M)
        return f'loop "{self.loop.name}", room "{self.chain.room.name}", wall {wall}'

    def error(self, s: float, found: str, required: str) -> InputError:
        """The error of one issue at `s` metres along the chain."""
        return InputError([self.survey.fault(self.place(s), found, required)])


def run_stretches(chain: WallChain, profile: Profile) -> tuple[RunStretch, ...]:
    """Stretches of a chain in water order, from the first skirting on it to the last.

    Skirting ends at interruptions and at corners. Where less than the shortest piece is left, this wall belongs to the
    crossing beside it. An interruption at the very start or end is left out: the run starts after it or ends before it.
    """
    cells = _cells(chain, profile)
    min_m = profile.min_piece_m
    parts: list[RunStretch] = []
    for cell in cells:
        if cell.carries and cell.length_m < min_m - EPS_M:
            cell = RunStretch(cell.start_along_m, cell.end_along_m, "crossing", (f"{cell.length_m:.2f} m {OF_WALL}",))
        if parts and not cell.carries and not parts[-1].carries:
            before = parts[-1]
            kind: StretchKind = "stop" if "stop" in (before.kind, cell.kind) else "crossing"
            features = sorted(dict.fromkeys(before.what + cell.what), key=lambda what: what.endswith(OF_WALL))
            parts[-1] = RunStretch(before.start_along_m, cell.end_along_m, kind, tuple(features))
        else:
            parts.append(cell)
    while parts and not parts[0].carries:
        parts.pop(0)
    while parts and not parts[-1].carries:
        parts.pop()
    return tuple(parts)


def layout_chain(on: LoopChain, start: AnyFit, end: AnyFit) -> tuple[RunElement, ...]:
    """Elements of one chain between its `start` and `end`, which the caller adds.

    Raises InputError with all errors of the chain: an obstacle that stops the run, a turn without a joint, a crossing
    without a pipe, an impossible floor section, or a piece that is shorter than its cut deductions.
    """
    faults = _floor_section_faults(on)
    parts = run_stretches(on.chain, on.profile)
    if not any(part.carries for part in parts):
        required = f"at least {on.profile.min_piece_m:g} m of it, or another route"
        raise InputError([*faults, on.survey.fault(on.place(0.0), "no wall suitable for skirting", required)])
    between: list[tuple[JointFit, PlacedJoint | PlacedCrossing]] = []
    carrying = [part for part in parts if part.carries]
    for before, after in pairwise(carrying):
        try:
            if after.start_along_m - before.end_along_m > EPS_M:
                gap = next(p for p in parts if before.end_along_m <= p.start_along_m < after.start_along_m)
                between.append(_crossing(on, gap))
            else:
                between.append(_joint(on, before, after))
        except InputError as error:
            faults += error.issues
    if faults:
        raise InputError(faults)
    elements: list[RunElement] = []
    fits: list[AnyFit] = [start, *(fit for fit, _ in between), end]
    for i, part in enumerate(carrying):
        try:
            elements += _pieces(on, part, fits[i], fits[i + 1])
        except InputError as error:
            faults += error.issues
        if i < len(between):
            elements.append(between[i][1])
    if faults:
        raise InputError(faults)
    return tuple(elements)


def split_cuts_m(length_m: float, ends_m: float, joint_m: float, longest_m: float) -> tuple[float, ...]:
    """Cut lengths of the fewest equal pieces that make up `length_m` of wall.

    `ends_m` is what is taken off at its two ends together, `joint_m` what a straight joint takes off
    each of its pieces, `longest_m` the longest stock length. Equal pieces leave none too short to handle.

    >>> [round(c, 3) for c in split_cuts_m(7.5, 0.1, 0.005, 6.0)]
    [3.695, 3.695]
    """
    count = 1
    while True:
        total_m = length_m - ends_m - 2.0 * joint_m * (count - 1)
        if total_m <= count * longest_m + EPS_M:
            return (total_m / count,) * count
        count += 1


def _cells(chain: WallChain, profile: Profile) -> list[RunStretch]:
    """The chain divided at every interruption and corner; neighbouring parts of one kind are joined."""
    on_chain = _on_chain(chain, profile)
    corners = [span.end_along_m for span in chain.spans if not is_straight(span.turn_deg)]
    edges = [e for a, b, _ in on_chain for e in (a, b)]
    cuts = distinct_positions([0.0, chain.length_m, *corners, *edges])
    cells: list[RunStretch] = []
    for start, stop in pairwise(cuts):
        there = [m for a, b, m in on_chain if a < (start + stop) / 2.0 < b]
        cell = RunStretch(start, stop, *_kind(there))
        corner = any(abs(start - c) < EPS_M for c in corners)
        if cells and not corner and (cells[-1].kind, cells[-1].what) == (cell.kind, cell.what):
            cell = RunStretch(cells.pop().start_along_m, stop, cell.kind, cell.what)
        cells.append(cell)
    return cells


def _on_chain(chain: WallChain, profile: Profile) -> list[tuple[float, float, WallFeature]]:
    """Where each interruption starts and ends on the chain (m), clipped to the walls' routed parts."""
    features: list[tuple[float, float, WallFeature]] = []
    for span in chain.spans:
        for mark in wall_features(chain.room.walls[span.wall - 1], profile, chain.floor_sections):
            a, b = sorted((span.s_of(mark.from_m), span.s_of(mark.to_m)))
            a, b = max(a, span.start_along_m), min(b, span.end_along_m)
            if b - a > EPS_M:
                features.append((a, b, mark))
    return features


def _kind(there: list[WallFeature]) -> tuple[StretchKind, tuple[str, ...]]:
    """Kind of a place with these overlapping marks; priority: stop, crossing, floor section."""
    order: tuple[Literal["stop", "crossing", "floor section"], ...] = ("stop", "crossing", "floor section")
    for kind in order:
        features = tuple(dict.fromkeys(m.what for m in there if m.kind == kind))
        if features:
            return kind, features
    return "wall", ()


def _joint(on: LoopChain, before: RunStretch, after: RunStretch) -> tuple[JointFit, PlacedJoint]:
    """The joint where two stretches meet: by the turn, or a transition between wall and floor."""
    s = after.start_along_m
    turn = _turn_at(on.chain, s)
    changes = before.kind != after.kind
    fit = floor_joint_for(on.survey.catalogue, turn) if changes else joint_for(on.survey.catalogue, turn)
    if fit is None:
        found = f"a turn of {turn:g} degrees that no {'transition to the floor' if changes else 'joint'} can make"
        required = f"a joint in the catalogue whose turn_deg takes in {turn:g}"
        raise on.error(s, found, required)
    reason = "two floor sections side by side" if is_straight(turn) else f"turn of {turn:g} degrees"
    if changes:
        reason = f"{(after if after.kind == 'floor section' else before).what[0]} as a floor section"
    return fit, _joint_at(on.chain, s, fit, turn, reason)


def _crossing(on: LoopChain, gap: RunStretch) -> tuple[JointFit, PlacedCrossing]:
    """Plain pipe past one interruption, with its depth at both sides."""
    chain, obstacle = on.chain, _listed(gap.what)
    if gap.kind == "stop":
        required = "a route that ends before it, or a crossing of its own between two route items"
        raise on.error(gap.start_along_m, f"{obstacle} that the run may not pass", required)
    rule = on.loop.crossing
    if rule is None:
        required = f'crossing = {{ pipe = "...", depth_m = ... }} in loop "{on.loop.name}"'
        raise on.error(gap.start_along_m, f"{obstacle} to cross and no pipe for it", required)
    fit = crossing_for(on.survey.catalogue)
    wall, from_m = chain.place(gap.start_along_m, leaving=True)
    to_wall, to_m = chain.place(gap.end_along_m)
    depth_m = _drop_m(chain, on.profile, gap, rule.depth_m)
    length_m = rounded_length(gap.length_m + 2.0 * depth_m)
    room = chain.room.name
    return fit, PlacedCrossing(
        obstacle, rule.pipe, length_m, fit.zeta, room, room, wall, from_m, to_m, to_wall, depth_m
    )


def _drop_m(chain: WallChain, profile: Profile, gap: RunStretch, usual_m: float) -> float:
    """Depth (m) at each side of a crossing: the largest of what it passes; `usual_m` where none is stated."""
    passed = [
        mark
        for start, end, mark in _on_chain(chain, profile)
        if min(end, gap.end_along_m) - max(start, gap.start_along_m) > EPS_M
    ]
    return max((usual_m if mark.depth_m is None else mark.depth_m for mark in passed), default=usual_m)


def _pieces(on: LoopChain, part: RunStretch, start: AnyFit, end: AnyFit) -> list[RunElement]:
    """The pieces of one stretch: divided where the survey states straight joints, then where stock is too short."""
    ends_m = start.cut_deduction_m + end.cut_deduction_m
    longest_m = max(on.profile.stock_m)
    straight = JointFit("straight", "", 0.0, 0.0)
    required_along_m = _required_along_m(on, part)
    if required_along_m or part.length_m - ends_m > longest_m + EPS_M:
        found_straight = joint_for(on.survey.catalogue, 0.0)
        if found_straight is None:
            found = f"{part.length_m:.2f} m of wall (a turn of 0 degrees that no joint can make)"
            required = f"a straight joint in the catalogue, stock being {longest_m:g} m at most"
            raise on.error(part.start_along_m, found, required)
        straight = found_straight
    elements: list[RunElement] = []
    edges = [part.start_along_m, *required_along_m, part.end_along_m]
    for i, (from_along_m, to_along_m) in enumerate(pairwise(edges)):
        first, last = start if i == 0 else straight, straight if i < len(required_along_m) else end
        if i:
            elements.append(_joint_at(on.chain, from_along_m, straight, 0.0, STATED))
        elements += _parted(on, RunStretch(from_along_m, to_along_m, part.kind, part.what), first, straight, last)
    return elements


def _required_along_m(on: LoopChain, part: RunStretch) -> list[float]:
    """Positions on the chain of stated straight joints within a stretch on the wall, in water order.

    Joints that would leave less than the shortest piece on either side are left out.
    """
    required = sorted(
        span.s_of(joint.at_m)
        for joint in on.loop.straight_joints
        for span in on.chain.spans
        if (joint.room, joint.wall) == (on.chain.room.name, span.wall)
        and min(span.enter_m, span.leave_m) <= joint.at_m <= max(span.enter_m, span.leave_m)
    )
    kept: list[float] = []
    for s in required if part.kind == "wall" else ():
        before_along_m = kept[-1] if kept else part.start_along_m
        if min(s - before_along_m, part.end_along_m - s) >= on.profile.min_piece_m - EPS_M:
            kept.append(s)
    return kept


def _parted(on: LoopChain, part: RunStretch, start: AnyFit, straight: JointFit, end: AnyFit) -> list[RunElement]:
    """One stretch in the smallest number of equal pieces that the stock length allows."""
    ends_m = start.cut_deduction_m + end.cut_deduction_m
    longest_m = max(on.profile.stock_m)
    cuts = split_cuts_m(part.length_m, ends_m, straight.cut_deduction_m, longest_m)
    if cuts[0] <= EPS_M:
        found = f"{part.length_m:.3f} m of wall, all taken off by {start.kind} and {end.kind}"
        raise on.error(part.start_along_m, found, f"more than {ends_m:.3f} m of wall, or a route without this stretch")
    reason = (
        f"{part.length_m:.2f} m is longer than the longest stock length of {longest_m:g} m: "
        f"{len(cuts)} pieces of equal length, so that none is short and no joint is near a corner"
    )
    elements: list[RunElement] = []
    s = part.start_along_m
    for i, cut_m in enumerate(cuts):
        left = start if i == 0 else straight
        right = end if i == len(cuts) - 1 else straight
        stop = part.end_along_m if right is end else s + left.cut_deduction_m + cut_m + right.cut_deduction_m
        if i:
            elements.append(_joint_at(on.chain, s, straight, 0.0, reason))
        elements.append(_piece(on.chain, RunStretch(s, stop, part.kind, part.what), cut_m, left, right))
        s = stop
    return elements


def _piece(chain: WallChain, part: RunStretch, cut_m: float, left: AnyFit, right: AnyFit) -> Piece:
    """The single piece of a stretch; it gets its label when the whole layout is known."""
    start_along_m, end_along_m = part.start_along_m, part.end_along_m
    rightward = chain.spans[0].rightward
    wall, from_m = chain.place(start_along_m) if rightward else chain.place(end_along_m, leaving=True)
    hot_from = start_along_m + (0.0 if left.heated else left.cut_deduction_m)
    hot_to = end_along_m - (0.0 if right.heated else right.cut_deduction_m)
    return Piece(
        label="",
        room=chain.room.name,
        wall=wall,
        from_m=from_m,
        to_m=rounded_length(from_m + end_along_m - start_along_m),
        cut_m=rounded_length(cut_m),
        segments=_segments(chain, hot_from, hot_to, part.kind == "floor section"),
        rightward=rightward,
        floor_section=part.what[0] if part.kind == "floor section" else None,
    )


def _segments(chain: WallChain, start_along_m: float, end_along_m: float, in_floor: bool) -> tuple[Segment, ...]:
    """The heated stretch divided by walls and covers, in water order."""
    segments: list[Segment] = []
    for span in chain.spans:
        a, b = max(start_along_m, span.start_along_m), min(end_along_m, span.end_along_m)
        if b - a <= EPS_M:
            continue
        covers = [] if in_floor else _covers(chain, span)
        segments += [
            Segment(rounded_length(y - x), factor, span.wall) for x, y, factor in factor_stretches(a, b, covers)
        ]
    return tuple(segments)


def _covers(chain: WallChain, span: WallSpan) -> list[tuple[float, float, float]]:
    wall = chain.room.walls[span.wall - 1]
    edges = [(*sorted((span.s_of(c.start_m), span.s_of(c.end_m))), c.factor) for c in wall.covered]
    return [(a, b, factor) for a, b, factor in edges]


def _joint_at(chain: WallChain, s: float, fit: JointFit, turn_deg: float, reason: str) -> PlacedJoint:
    wall, at_m = chain.place(s, leaving=True)
    return PlacedJoint(fit.kind, fit.name, chain.room.name, wall, at_m, turn_deg, fit.zeta, reason)


def _turn_at(chain: WallChain, s: float) -> float:
    return next((span.turn_deg for span in chain.spans if abs(span.end_along_m - s) < EPS_M), 0.0)


def _floor_section_faults(on: LoopChain) -> list[InputIssue]:
    """Errors of the openings that the route lists as floor sections."""
    survey, profile, chain = on.survey, on.profile, on.chain
    openings = {
        o.name: o
        for span in chain.spans
        for o in chain.room.walls[span.wall - 1].openings
        if o.name is not None
        and o.start_m < max(span.enter_m, span.leave_m) - EPS_M
        and o.end_m > min(span.enter_m, span.leave_m) + EPS_M
    }
    issues: list[InputIssue] = []
    place = f'loop "{on.loop.name}", room "{chain.room.name}", floor_sections'
    for name in dict.fromkeys(chain.floor_sections):
        if name not in openings:
            known = ", ".join(f'"{n}"' for n in openings) or "none"
            issues.append(survey.fault(place, f'"{name}"', f"an opening on the route ({known})"))
        elif profile.floor_section is None:
            required = "a profile with a rating as floor section, or a crossing there"
            issues.append(survey.fault(place, f'"{name}" with profile "{profile.name}"', required))
        elif not interrupts_skirting(openings[name], profile):
            required = "no floor section: the skirting runs on the wall below it"
            issues.append(survey.fault(place, f'"{name}" above the skirting', required))
    return issues


def _listed(names: tuple[str, ...]) -> str:
    beside = " beside it" if len(names) > 1 and names[-1].endswith(OF_WALL) else ""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}{beside}"
