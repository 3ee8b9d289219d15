"""Faults of meaning in the table [system]: what its values say together."""

from __future__ import annotations

from heatloop.survey.place import Loc
from heatloop.survey.system import Additive, WaterSystem
from heatloop.survey.validate import Findings


def check_system(system: WaterSystem, findings: Findings) -> None:
    """Note them all; values may be NaN where the file could not be read."""
    if system.greatest_c is not None and system.greatest_c <= system.fill_c:
        wanted = f"more than fill_c, {system.fill_c:g}"
        findings.add(("system", "greatest_c"), f"{system.greatest_c:g}", wanted)
    for key in ("inhibitor", "cleanser"):
        additive: Additive | None = getattr(system, key)
        if additive is not None:
            _dose(("system", key), additive, findings)
    precharge_kpa = system.vessel.precharge_kpa
    if precharge_kpa is not None and precharge_kpa >= system.relief_kpa:
        wanted = f"less than relief_kpa, {system.relief_kpa:g}"
        findings.add(("system", "vessel", "precharge_kpa"), f"{precharge_kpa:g}", wanted)
    if system.ph is not None and system.ph[0] >= system.ph[1]:
        findings.add(("system", "ph"), f"{system.ph[0]:g} and {system.ph[1]:g}", "two values of pH, the least first")


def _dose(loc: Loc, additive: Additive, findings: Findings) -> None:
    if findings.is_unread(loc) or any(findings.is_unread((*loc, key)) for key in ("per_cent", "dose_ml_per_l")):
        return
    both = additive.per_cent is not None and additive.dose_ml_per_l is not None
    if both or (additive.per_cent is None and additive.dose_ml_per_l is None):
        found = "per_cent and dose_ml_per_l" if both else "no dose"
        findings.add(loc, found, "one of them" if both else "per_cent or dose_ml_per_l, as its label says")
