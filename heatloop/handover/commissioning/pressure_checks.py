"""Checks of the closed system: vessel, precharge, hot pressure, and the strength test against every part."""

from __future__ import annotations

import math

from heatloop.findings.limits import CheckResult, Limit, check_at_least, check_at_most
from heatloop.handover.commissioning.pressures import BOYLE, EN_12828, PRACTICE, Pressures
from heatloop.physics import pressurisation

VESSEL = Limit("vessel volume", "l", f"{EN_12828}; {BOYLE}", "fit a larger vessel, or a second vessel")
PRECHARGE = Limit(
    "precharge of the vessel", "kPa", f"static head and its margin: {EN_12828}",
    "set the gas charge of the empty vessel before filling: below this, the top of the system can run dry", "caution",
)  # fmt: skip
ROOM_ABOVE = Limit(
    "precharge below the maximum working pressure", "kPa", EN_12828,
    "choose a higher relief setting if all parts allow it, or place the vessel higher in the building",
)  # fmt: skip
HOT = Limit(
    "pressure when hot", "kPa", f"{BOYLE}; margin under the relief valve: {EN_12828}",
    "fit a larger vessel, or choose a lower fill pressure",
)  # fmt: skip
WEAKEST = Limit(
    "maximum pressure of the weakest part", "kPa", "catalogue or survey entry of that part",
    "choose a lower relief setting, or another part",
)  # fmt: skip
TEST = Limit(
    "strength test within the rating of every part", "kPa", "catalogue or survey entry of that part",
    "isolate this part for the test, or obtain its permitted test pressure from the maker", "caution",
)  # fmt: skip

SEAL_PROOF_KPA = 1000.0
"""Usual proof pressure of a seal between profile and fitting, at most (10 bar)."""
SEAL = Limit(
    "strength test within the proof pressure of seals", "kPa", f"{PRACTICE}: a seal is proved at up to 10 bar",
    "choose a lower test pressure, or enter the maker's rating of the seals as max_pressure_kpa of joints and "
    "ends", "caution",
)  # fmt: skip


def pressure_checks(found: Pressures) -> list[CheckResult]:
    """Every limit of the pressures with its verdict."""
    required_kpa = pressurisation.precharge_for_head_kpa(found.static_kpa, found.margin_kpa)
    rows = [
        check_at_least(PRECHARGE, "vessel", found.precharge_kpa, required_kpa),
        check_at_most(ROOM_ABOVE, "vessel", found.precharge_kpa, found.final_kpa),
    ]
    if not math.isnan(found.min_vessel_l):
        rows.append(check_at_least(VESSEL, "vessel", found.vessel_l, found.min_vessel_l))
    if not math.isnan(found.hot_kpa):
        rows.append(check_at_most(HOT, "system", found.hot_kpa, found.final_kpa))
    if any(part.kind in ("joint", "end") for part in found.unrated):
        rows.append(check_at_most(SEAL, "seals of joints and ends", found.test_kpa, SEAL_PROOF_KPA))
    for part in found.parts:
        if part.max_pressure_kpa is not None:
            rows.append(check_at_least(WEAKEST, part.words, part.max_pressure_kpa, found.relief_kpa + found.below_kpa))
            rows.append(check_at_least(TEST, part.words, part.max_pressure_kpa, found.test_kpa))
    return rows
