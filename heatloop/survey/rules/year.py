"""Rules of a year file: bins and points that are unique, a year of hours, a whole grid of points."""

from __future__ import annotations

from collections.abc import Sequence

from heatloop.survey.energy.model import SourcePerformance, WeatherBin, Year
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.files.year_tables import MAX_HOURS


def check_year(year: Year, findings: IssueCollector) -> None:
    """Report what the keys of a year file contradict in each other."""
    _check_bins(year.bins, findings)
    _check_performance(year.performance, findings)
    if year.backup_price_per_kwh is not None and year.backup_efficiency is None:
        findings.add(("backup_price_per_kwh",), "a price of a backup", "backup_efficiency beside it")


def _check_bins(bins: Sequence[WeatherBin], findings: IssueCollector) -> None:
    """Report temperatures that occur twice, and more hours than a year has."""
    first: dict[float, int] = {}
    for index, one in enumerate(bins):
        if one.outdoor_c in first:
            found = f"{one.outdoor_c:g} °C again, as in number {first[one.outdoor_c] + 1}"
            findings.add(("bin", index, "outdoor_c"), found, "each temperature once")
        first.setdefault(one.outdoor_c, index)
    hours = sum(one.hours for one in bins)
    if hours > MAX_HOURS or hours == 0.0:
        findings.add(("bin",), f"{hours:g} hours together", f"more than 0 and at most {MAX_HOURS:g}, those of a year")


def _check_performance(points: Sequence[SourcePerformance], findings: IssueCollector) -> None:
    """Report points that occur twice, gaps in the grid, and a capacity that only some points have."""
    first: dict[tuple[float, float], int] = {}
    for index, one in enumerate(points):
        at = one.outdoor_c, one.flow_temp_c
        if at in first:
            found = f"outdoor {at[0]:g} °C, flow {at[1]:g} °C again, as in number {first[at] + 1}"
            findings.add(("performance", index), found, "each pair of temperatures once")
        first.setdefault(at, index)
    if any(at != at for pair in first for at in pair):  # a temperature that could not be read, which is reported
        return
    for outdoor_c in sorted({outdoor_c for outdoor_c, _ in first}):
        for flow_temp_c in sorted({flow_temp_c for _, flow_temp_c in first}):
            if (outdoor_c, flow_temp_c) not in first:
                found = f"no row for outdoor {outdoor_c:g} °C, flow {flow_temp_c:g} °C"
                findings.add(("performance",), found, "a row for every pair of its outdoor and flow temperatures")
    without = [index for index, one in enumerate(points) if one.capacity_kw is None]
    if 0 < len(without) < len(points):
        for index in without:
            findings.add(("performance", index, "capacity_kw"), "nothing", "a capacity, as in other rows, or in none")
