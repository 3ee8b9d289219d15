"""Rules of the counting rules and packs of a catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from heatloop.survey.catalogue import DRAIN, END_KINDS, JOINT_KINDS, VENT, Catalogue, CountRule
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector

AT_JOINTS = ("joint", "joint-channel")
AT_ENDS = ("end", "end-channel")
AT_SIDES = ("fixed end", "free end")
AT_PIECES = ("piece", "metre", "spacing")
PIECE_KINDS = ("wall", "floor section")


def check_parts(catalogue: Catalogue, findings: IssueCollector) -> None:
    """Report every invalid value in [[fitting]], [[fixing]], [[consumable]] and [[pack]]."""
    units: dict[str, str] = {}
    for loc, rule in _rules(catalogue):
        _rule(loc, rule, catalogue, findings)
        first = units.setdefault(rule.item, rule.unit)
        if rule.item and rule.unit and first and rule.unit != first:
            required = f'"{first}" as in the first rule for "{rule.item}"'
            findings.add((*loc, "unit"), f'"{rule.unit}"', required)
    _packs(catalogue, findings)


def names_at(catalogue: Catalogue, per: str) -> tuple[str, ...]:
    """Names permitted in `at` of a rule, by the unit that the rule counts.

    Empty where the rule counts neither joints, ends nor pieces.
    """
    joints = (*JOINT_KINDS, *(joint.name for joint in catalogue.joints))
    ends = (*END_KINDS, *(end.name for end in catalogue.ends))
    if per in AT_JOINTS:
        known: Iterable[str] = joints
    elif per in AT_ENDS:
        known = ends
    elif per in AT_SIDES:
        known = (*joints, *ends)
    else:
        known = PIECE_KINDS if per in AT_PIECES else ()
    return tuple(dict.fromkeys(known))


def _rules(catalogue: Catalogue) -> Iterator[tuple[Loc, CountRule]]:
    for key, rules in (
        ("fitting", catalogue.fittings),
        ("fixing", catalogue.fixings),
        ("consumable", catalogue.consumables),
    ):
        for index, rule in enumerate(rules):
            yield (key, index), rule


def _rule(loc: Loc, rule: CountRule, catalogue: Catalogue, findings: IssueCollector) -> None:
    if findings.is_unread(loc) or findings.is_unread((*loc, "per")):
        return
    known = names_at(catalogue, rule.per)
    if rule.at and not known:
        findings.add((*loc, "at"), f'at beside per = "{rule.per}"', "no such key, because it is counted everywhere")
    elif not findings.is_unread((*loc, "at")):
        for index, name in enumerate(rule.at):
            countable = f'the name of a part that can be counted per "{rule.per}"'
            findings.name((*loc, "at", index), countable, name, known)
    if not findings.is_unread((*loc, "profiles")):
        profiles = [profile.name for profile in catalogue.profiles]
        for index, name in enumerate(rule.profiles):
            findings.name((*loc, "profiles", index), "the name of a profile of the catalogue", name, profiles)
    spaced = rule.per == "spacing"
    if spaced and rule.spacing_m is None:
        findings.add((*loc, "spacing_m"), "nothing", 'the maximum distance in metres, beside per = "spacing"')
    for key, value in (("spacing_m", rule.spacing_m), ("end_m", rule.end_m)):
        if value is not None and not spaced:
            findings.add(
                (*loc, key), f'{key} beside per = "{rule.per}"', 'no such key, because it belongs to per = "spacing"'
            )


def _packs(catalogue: Catalogue, findings: IssueCollector) -> None:
    items = [rule.item for _, rule in _rules(catalogue)]
    for entries in (catalogue.pipes, catalogue.valves, catalogue.joints, catalogue.ends):
        items += [entry.name for entry in entries]
    items += [pipe.insulation_item for pipe in catalogue.pipes if pipe.insulation_item]
    seen: set[tuple[str, str]] = set()
    for index, pack in enumerate(catalogue.packs):
        loc: Loc = ("pack", index)
        findings.name((*loc, "item"), "the name of an item that is counted", pack.item, (*items, VENT, DRAIN))
        if pack.item and pack.name and (pack.item, pack.name) in seen:
            required = f'another name for each pack of "{pack.item}"'
            findings.add((*loc, "name"), f'"{pack.name}" again', required)
        seen.add((pack.item, pack.name))
