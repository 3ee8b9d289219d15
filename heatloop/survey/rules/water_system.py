"""Rules of source, pumps, trunks, bypasses and antifreeze."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.rules.catalogue import check_rising
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Additive, Antifreeze, PumpCurve, Trunk, WaterSystem

SUPPLIES_NOTHING = "which supplies nothing"
"""Found of a trunk that no loop joins, which is no fault before the first loop is entered."""


def check_distribution(survey: SurveyData, findings: IssueCollector) -> None:
    """Report every error between the source and the tails of the loops."""
    _pump(("source", "pump"), survey.source.pump, findings)
    _trunks(survey, findings)
    names = trunk_names(survey)
    for index, bypass in enumerate(survey.bypasses):
        findings.name(("bypass", index, "trunk"), 'the name of a trunk, or "source"', bypass.trunk, names)
    _antifreeze(survey.project.antifreeze, findings)


def trunk_names(survey: SurveyData) -> list[str]:
    """The names of all trunks."""
    return [trunk.name for trunk in survey.trunks]


def _pump(loc: Loc, pump: PumpCurve | None, findings: IssueCollector) -> None:
    if pump is None or findings.is_unread(loc):
        return
    check_rising((*loc, "flow_m3_h"), pump.flow_m3_h, "flows that rise", findings)
    for index, (before, head) in enumerate(pairwise(pump.head_kpa), start=1):
        if head > before:
            required = "heads that fall as the flow rises"
            findings.add((*loc, "head_kpa", index), f"{head:g} after {before:g}", required)
            break
    lists = [(*loc, "flow_m3_h"), (*loc, "head_kpa")]
    flows, heads = len(pump.flow_m3_h), len(pump.head_kpa)
    if any(findings.is_unread(place) for place in lists):
        return
    if flows != heads:
        findings.add((*loc, "head_kpa"), f"{heads} values", f"{flows}, one for each of flow_m3_h")
    ways = {"speed": pump.speed, "constant_kpa": pump.constant_kpa, "proportional_kpa": pump.proportional_kpa}
    stated = [key for key, value in ways.items() if value is not None]
    if len(stated) > 1:
        findings.add(loc, " and ".join(stated), "one of them, because a pump has one control mode")
    if pump.proportional_m3_h is not None and pump.proportional_kpa is None:
        findings.add((*loc, "proportional_kpa"), "nothing", "the differential at the flow proportional_m3_h")


def _trunks(survey: SurveyData, findings: IssueCollector) -> None:
    starts = {trunk.name: trunk.from_trunk for trunk in survey.trunks}
    reported: set[str] = set()
    reverse: dict[str | None, str] = {}
    for index, trunk in enumerate(survey.trunks):
        loc: Loc = ("trunk", index)
        if trunk.name == "source":
            findings.add((*loc, "name"), '"source"', "another name: this one is the source itself")
        findings.name((*loc, "from"), 'the name of a trunk, or "source"', trunk.from_trunk, trunk_names(survey))
        chain, start = [trunk.name], trunk.from_trunk
        while start and start not in chain:
            chain.append(start)
            start = starts.get(start)
        if start and start == trunk.name and trunk.name not in reported:
            reported.update(chain)
            found = " from ".join(f'"{name}"' for name in [*chain, start])
            findings.add((*loc, "from"), found, "trunks that begin at the source")
        _pump((*loc, "pump"), trunk.pump, findings)
        _trunk(loc, trunk, reverse, findings)
        _leads_on(loc, trunk, survey, findings)


def _trunk(loc: Loc, trunk: Trunk, reverse: dict[str | None, str], findings: IssueCollector) -> None:
    if trunk.pump is not None and trunk.mixed_to_c is None and not findings.is_unread((*loc, "mixed_to_c")):
        findings.add((*loc, "pump"), "a pump without mixed_to_c", "the source's pump, or a trunk that is mixed")
    if not trunk.reverse_return:
        return
    if trunk.mixed_to_c is not None:
        required = "mixed_to_c on the trunk before it: the row begins after the mixing point"
        findings.add((*loc, "reverse_return"), "true with mixed_to_c", required)
    other = reverse.setdefault(trunk.from_trunk, trunk.name)
    if other != trunk.name:
        required = f'one trunk in a row; "{other}" starts there too'
        findings.add((*loc, "reverse_return"), "true on a second trunk from the same place", required)


def _leads_on(loc: Loc, trunk: Trunk, survey: SurveyData, findings: IssueCollector) -> None:
    """Check that every trunk supplies a loop, a trunk or a bypass."""
    if any(findings.is_unread((*loc, key)) for key in ("name", "from")):
        return
    users: Mapping[str, list[str | None]] = {
        "loop": [loop.trunk for loop in survey.loops],
        "trunk": [other.from_trunk for other in survey.trunks],
        "bypass": [bypass.trunk for bypass in survey.bypasses],
    }
    known = {*trunk_names(survey), None}
    if any(name not in known for names in users.values() for name in names):
        return  # an unknown name is already reported, and may refer to this trunk
    if not any(trunk.name in names for names in users.values()):
        findings.add((*loc, "name"), f'"{trunk.name}", {SUPPLIES_NOTHING}', "a loop, trunk or bypass that joins it")


def _antifreeze(antifreeze: Antifreeze | None, findings: IssueCollector) -> None:
    loc: Loc = ("project", "antifreeze")
    if antifreeze is None or findings.is_unread(loc):
        return
    keys = ("percent_by_volume", "mass_fraction")
    if any(findings.is_unread((*loc, key)) for key in keys):
        return
    stated = [key for key in keys if getattr(antifreeze, key) is not None]
    if len(stated) != 1:
        found = " and ".join(stated) if stated else "no strength"
        findings.add(loc, found, "percent_by_volume or mass_fraction, one of them")


def check_system(system: WaterSystem, findings: IssueCollector) -> None:
    """Report all errors of the closed system; values may be NaN where the file could not be read."""
    if system.max_temp_c is not None and system.max_temp_c <= system.fill_c:
        required = f"more than fill_c, {system.fill_c:g}"
        findings.add(("system", "max_temp_c"), f"{system.max_temp_c:g}", required)
    for key in ("inhibitor", "cleanser"):
        additive: Additive | None = getattr(system, key)
        if additive is not None:
            _dose(("system", key), additive, findings)
    precharge_kpa = system.vessel.precharge_kpa
    if precharge_kpa is not None and precharge_kpa >= system.relief_kpa:
        required = f"less than relief_kpa, {system.relief_kpa:g}"
        findings.add(("system", "vessel", "precharge_kpa"), f"{precharge_kpa:g}", required)
    if system.ph is not None and system.ph[0] >= system.ph[1]:
        findings.add(("system", "ph"), f"{system.ph[0]:g} and {system.ph[1]:g}", "two values of pH, the smaller first")


def _dose(loc: Loc, additive: Additive, findings: IssueCollector) -> None:
    if findings.is_unread(loc) or any(findings.is_unread((*loc, key)) for key in ("per_cent", "dose_ml_per_l")):
        return
    both = additive.per_cent is not None and additive.dose_ml_per_l is not None
    if both or (additive.per_cent is None and additive.dose_ml_per_l is None):
        found = "per_cent and dose_ml_per_l" if both else "no dose"
        findings.add(loc, found, "one of them" if both else "per_cent or dose_ml_per_l, as its label states")
