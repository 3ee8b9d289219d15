"""Quantities of a design: joints, ends, valves, pipe, and items of the catalogue's counting rules.

First everything that can be counted is listed: a joint, the channels that pass it, an end, a piece, a fixed end, a
metre ... Then each rule of the catalogue selects the occurrences that it states. The same rules apply to any profile,
whatever its channels. Skirting that is estimated before a survey counts as pieces of an assumed length with an inside
corner between each two, and is marked an estimate.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from heatloop.handover.parts.model import ItemKind
from heatloop.handover.second_fix.brackets import fixing_positions_m
from heatloop.handover.second_fix.thermal_movement import MovementPlan
from heatloop.layout.joints import joint_for
from heatloop.layout.model import Layout, PlacedEnd
from heatloop.layout.piece_ends import JointPosition, Meets, PlacedPiece, kind_and_name
from heatloop.layout.pipework import PipeLength
from heatloop.survey.catalogue import DRAIN, VENT, Catalogue, CountPer, CountRule, PartUnit
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

SQUARE_DEG = 90.0
NO_SKIRTING = "no skirting"
"""In place of the profile for a loop of other emitters only: no rule that names profiles applies."""


@dataclass(frozen=True)
class CountedFeature:
    """An occurrence that rules count: `amount` in the unit `per`, with the names that `at` may select.

    `length_m` of a piece; `profile` is empty where it belongs to none.
    """

    per: CountPer
    amount: float
    names: tuple[str, ...] = ()
    loop: str = ""
    profile: str = ""
    length_m: float = 0.0
    estimate: bool = False


@dataclass(frozen=True)
class Fitted:
    """The layout as fitted: every piece, every joint, crossing and end, and their thermal movement."""

    pieces: tuple[PlacedPiece, ...]
    places: tuple[JointPosition, ...]
    movement: MovementPlan


@dataclass(frozen=True)
class ItemQuantity:
    """Quantity of an item in its unit, with its loops, the estimated part and the counting rule."""

    item: str
    kind: ItemKind
    unit: PartUnit
    quantity: float
    allowance: float
    loops: tuple[str, ...]
    estimated: float
    note: str


def occurrences(
    survey: SurveyData, layout: Layout, fitted: Fitted, water_l: float, estimate_piece_m: float
) -> tuple[CountedFeature, ...]:
    """Everything that rules can count. `water_l` is the water of the whole system, `estimate_piece_m` the
    length of a piece where a room is estimated before a survey."""
    catalogue = survey.catalogue
    features: list[CountedFeature] = []
    for place in fitted.places:
        per: Literal["joint", "end"] = "end" if isinstance(place.meets, PlacedEnd) else "joint"
        names = kind_and_name(catalogue, place.meets)
        features += _with_channels(CountedFeature(per, 1, names, place.loop, place.profile.name), place.profile)
    for placed in fitted.pieces:
        if placed.estimate:
            features += _assumed(catalogue, placed, estimate_piece_m)
        else:
            features += _piece(placed, placed.piece.cut_m, False)
    for move in fitted.movement.moves:
        profile = move.straight.pieces[0].profile.name
        features.append(CountedFeature("straight", 1, (), move.straight.loop, profile))
        if move.anchored:
            features.append(CountedFeature("anchor", 1, (), move.straight.loop, profile))
        sides: tuple[tuple[CountPer, tuple[Meets, ...]], ...] = (("fixed end", move.held), ("free end", move.free))
        for side, ends in sides:
            for meets in ends:
                names = kind_and_name(catalogue, meets)
                features.append(CountedFeature(side, 1, names, move.straight.loop, profile))
    return (*features, *_whole(survey, layout, fitted.pieces, water_l))


def direct_quantities(
    survey: SurveyData, features: Iterable[CountedFeature], lays: Sequence[PipeLength]
) -> tuple[ItemQuantity, ...]:
    """Items without a rule: other emitters, joints and ends by name, vents and drains of ends, valves, pipe and
    insulation.

    A joint or end that a [[fitting]] rule counts is listed by its fittings and is not a separate item."""
    catalogue = survey.catalogue
    tallies: dict[tuple[ItemKind, str], list[CountedFeature]] = {}
    for feature in features:
        if feature.per == "valve":
            tallies.setdefault(("valve", feature.names[0]), []).append(feature)
        if feature.per != "joint" and feature.per != "end":
            continue
        kind, name = feature.names
        if not any(_makes_up(rule, feature) for rule in catalogue.fittings):
            tallies.setdefault((feature.per, name or f"{kind}, not in the catalogue"), []).append(feature)
        if feature.per == "end":
            end = catalogue.end(name)
            for item, has in ((VENT, end.vent), (DRAIN, end.drain)):
                if has:
                    tallies.setdefault(("fitting", item), []).append(feature)
    order = ("joint", "end", "fitting", "valve")
    counted = [
        _count(item, kind, counted_here)
        for (kind, item), counted_here in sorted(tallies.items(), key=lambda pair: order.index(pair[0][0]))
    ]
    return (*_emitters(survey), *counted, *_pipes(catalogue, lays))


def _emitters(survey: SurveyData) -> Iterator[ItemQuantity]:
    """Other emitters that are not existing, by name."""
    required = [(loop.name, item) for loop in survey.loops for item in loop.emitters if not item.existing]
    for name in dict.fromkeys(item.emitter for _, item in required):
        own = [(loop, item) for loop, item in required if item.emitter == name]
        loops = tuple(dict.fromkeys(loop for loop, _ in own))
        rooms = ", ".join(dict.fromkeys(item.room for _, item in own))
        yield ItemQuantity(name, "emitter", "piece", float(len(own)), 0.0, loops, 0.0, f"in {rooms}")


def rule_counts(catalogue: Catalogue, features: Sequence[CountedFeature]) -> tuple[ItemQuantity, ...]:
    """Quantities by the rules of the catalogue, one row for each item; several rules for an item are added up."""
    rows: dict[tuple[ItemKind, str], list[ItemQuantity]] = {}
    ruled: tuple[tuple[ItemKind, tuple[CountRule, ...]], ...] = (
        ("fitting", catalogue.fittings),
        ("fixing", catalogue.fixings),
        ("consumable", catalogue.consumables),
    )
    for kind, rules in ruled:
        for rule in rules:
            rows.setdefault((kind, rule.item), []).append(rule_count(kind, rule, features))
    return tuple(_sum(counts) for counts in rows.values())


def rule_count(kind: ItemKind, rule: CountRule, features: Iterable[CountedFeature]) -> ItemQuantity:
    """Quantity by one rule, with its spares (for pieces a whole number)."""
    picked = [feature for feature in features if _picks(rule, feature)]
    weights = [_amount(rule, feature) for feature in picked]
    quantity = rule.quantity * math.fsum(weights)
    estimated = rule.quantity * math.fsum(w for w, t in zip(weights, picked, strict=True) if t.estimate)
    spares = quantity * rule.spares_percent / 100.0
    if rule.unit == "piece":
        spares = float(math.ceil(spares - 1e-9))
    return ItemQuantity(rule.item, kind, rule.unit, quantity, spares, _loops(picked), estimated, rule_text(rule))


def rule_text(rule: CountRule) -> str:
    """A rule in plain words, without its item."""
    where = f" at {', '.join(rule.at)}" if rule.at else ""
    if rule.spacing_m is None:
        return f"{rule.quantity:g} per {rule.per}{where}"
    ends = "" if rule.end_m is None else f", the first within {rule.end_m:g} m of each end"
    return f"{rule.quantity:g} at most every {rule.spacing_m:g} m{where}{ends}"


def _makes_up(rule: CountRule, feature: CountedFeature) -> bool:
    """True if a rule counts the fittings of this joint or end, whole or by channel."""
    return rule.per in (feature.per, f"{feature.per}-channel") and _names(rule, feature)


def _picks(rule: CountRule, feature: CountedFeature) -> bool:
    # "spacing" is a way to count along pieces
    return feature.per == ("piece" if rule.per == "spacing" else rule.per) and _names(rule, feature)


def _names(rule: CountRule, feature: CountedFeature) -> bool:
    """True if `at` and `profiles` of a rule include this occurrence."""
    at = not rule.at or any(name in rule.at for name in feature.names)
    return at and (not rule.profiles or not feature.profile or feature.profile in rule.profiles)


def _amount(rule: CountRule, feature: CountedFeature) -> float:
    if rule.spacing_m is None:
        return feature.amount
    return feature.amount * len(fixing_positions_m(feature.length_m, rule.spacing_m, rule.end_m))


def _with_channels(feature: CountedFeature, profile: Profile) -> list[CountedFeature]:
    """A joint or an end, and the channels of its profile that pass it."""
    per: CountPer = "joint-channel" if feature.per == "joint" else "end-channel"
    return [feature, replace(feature, per=per, amount=feature.amount * len(profile.channels))]


def _piece(placed: PlacedPiece, length_m: float, estimate: bool, pieces: int = 1) -> list[CountedFeature]:
    kind = ("floor section",) if placed.piece.floor_section is not None else ("wall",)
    loop, profile = placed.loop, placed.profile.name
    return [
        CountedFeature("piece", pieces, kind, loop, profile, length_m, estimate),
        CountedFeature("metre", pieces * length_m, kind, loop, profile, estimate=estimate),
    ]


def _assumed(catalogue: Catalogue, placed: PlacedPiece, estimate_piece_m: float) -> list[CountedFeature]:
    """Skirting estimated before a survey.

    Equal pieces with an inside corner between each two; one end of each piece is free and one fixed.
    """
    length_m = placed.piece.tape_m
    pieces = max(1, math.ceil(length_m / estimate_piece_m - 1e-9))
    corner = joint_for(catalogue, SQUARE_DEG)
    names = (corner.kind, corner.name) if corner else ("inside corner", "")
    loop, profile = placed.loop, placed.profile.name
    features = _piece(placed, length_m / pieces, True, pieces)
    if pieces > 1:
        corners = CountedFeature("joint", pieces - 1, names, loop, profile, estimate=True)
        features += _with_channels(corners, placed.profile)
    sides: tuple[CountPer, ...] = ("straight", "fixed end", "free end")
    for per in sides:
        features.append(CountedFeature(per, pieces, () if per == "straight" else names, loop, profile, estimate=True))
    return features


def _whole(
    survey: SurveyData, layout: Layout, pieces: Sequence[PlacedPiece], water_l: float
) -> Iterator[CountedFeature]:
    """Loops, runs, valves and rooms, and the water content of the system."""
    for loop in survey.loops:
        profile = loop.profile or NO_SKIRTING
        yield CountedFeature("loop", 1, (), loop.name, profile)
        if loop.arms:
            yield CountedFeature("run", len(layout.loop(loop.name).arms), (), loop.name, profile)
        for valves in (loop.valves, *loop.arm_valves):
            for name in (valves.flow, valves.return_):
                if name is not None:
                    yield CountedFeature("valve", 1, (name,), loop.name, profile)
    seen: set[str] = set()
    for placed in pieces:
        if placed.piece.room not in seen:
            seen.add(placed.piece.room)
            name = placed.profile.name
            yield CountedFeature("room", 1, (), placed.loop, name, estimate=placed.estimate)
    yield CountedFeature("litre", water_l)


def _pipes(catalogue: Catalogue, lays: Sequence[PipeLength]) -> Iterator[ItemQuantity]:
    for pipe in catalogue.pipes:
        own = [lay for lay in lays if lay.pipe == pipe.name]
        if not own:
            continue
        net_m = math.fsum(lay.total_m for lay in own)
        allowance_m = math.fsum(lay.total_allowance_m for lay in own)
        waste_m = (net_m + allowance_m) * pipe.waste_percent / 100.0
        loops = tuple(dict.fromkeys(lay.loop for lay in own if lay.loop))
        by_use = ", ".join(
            f"{use}s {math.fsum(lay.total_m for lay in own if lay.use == use):.1f} m"
            for use in ("trunk", "tail", "crossing")
            if any(lay.use == use for lay in own)
        )
        note = f"{by_use}; additional at first fix {allowance_m:.1f} m, cutting waste {waste_m:.1f} m"
        yield ItemQuantity(pipe.name, "pipe", "m", net_m, allowance_m + waste_m, loops, 0.0, note)
        if pipe.insulation_item:
            waste_m = net_m * pipe.waste_percent / 100.0
            yield ItemQuantity(pipe.insulation_item, "insulation", "m", net_m, waste_m, loops, 0.0, "as the pipe")


def _count(item: str, kind: ItemKind, features: Sequence[CountedFeature]) -> ItemQuantity:
    """A number of pieces of an item, without allowance."""
    quantity = math.fsum(feature.amount for feature in features)
    estimated = math.fsum(feature.amount for feature in features if feature.estimate)
    return ItemQuantity(item, kind, "piece", quantity, 0.0, _loops(features), estimated, "")


def _sum(counts: Sequence[ItemQuantity]) -> ItemQuantity:
    first = counts[0]
    notes = dict.fromkeys(count.note for count in counts)
    return ItemQuantity(
        first.item,
        first.kind,
        first.unit,
        math.fsum(count.quantity for count in counts),
        math.fsum(count.allowance for count in counts),
        tuple(dict.fromkeys(loop for count in counts for loop in count.loops)),
        math.fsum(count.estimated for count in counts),
        "; ".join(notes),
    )


def _loops(features: Iterable[CountedFeature]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(feature.loop for feature in features if feature.loop))
