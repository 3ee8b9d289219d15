"""Remedies for what a design misses, with their effects: tables and their summary."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.text.column import (
    Column,
    TableDescription,
    change_column,
    count_column,
    figure_column,
    flag_column,
    number_column,
    text_column,
)
from heatloop.text.formatting import escape_control_characters, number, plural, significant, unit_text
from heatloop.text.summary import BulletList, Summary, SummaryTable, grid
from heatloop.text.table_set import Table, TableSet

REMEDIES = TableDescription(
    "remedies",
    "Remedies",
    "Each change of the survey that was tried, the best first for each check that is not met.",
    (
        count_column("number", "No.", "number of the remedy, by which it is applied; the same with and without prices"),
        text_column("check", "Check", "the check that it is for"),
        text_column("location", "Location", "of the check"),
        text_column("kind", "Kind"),
        text_column("remedy", "Remedy", "the smallest change that resolves the check, otherwise the largest possible"),
        flag_column("resolves", "Resolves", "the check is met with this change alone"),
        figure_column("before", "Before", "calculated value of the check; for a room that is short of heat its margin"),
        figure_column("after", "After", "the same with the change"),
        figure_column("limit", "Limit"),
        Column("unit", "Unit", kind="unit"),
        count_column("checks_failed", "Checks failed", "with the change, of the whole design"),
        count_column("checks_caution", "Cautions", "with the change, of the whole design"),
        text_column("min_margin_room", "Smallest margin in", "the room with the smallest margin with the change"),
        change_column("min_margin_w", "Smallest margin", "W", 0, "margin of this room"),
        number_column("removed_w_k", "Heat loss removed", "W/K", 1, "of the whole house, per kelvin to outdoors"),
        change_column("profile_added_m", "Profile added", "m", 2),
        change_column("price_change", "Price change", "", 2, "of the fitted parts, without waste, packs and labour"),
        flag_column("other_work", "Other work", "its cost is not in the parts list, such as that of a window"),
        text_column("assumed", "Assumed", "to be confirmed before the survey is changed"),
        text_column("not_possible", "Not possible", "the reason"),
    ),
)

REMEDY_ROOMS = TableDescription(
    "remedy_rooms",
    "Effect on rooms",
    "Margin of every heated room with each remedy.",
    (
        count_column("number", "No.", "number of the remedy"),
        text_column("room", "Room"),
        change_column("margin_before_w", "Margin before", "W", 0, "heat to the room less heat loss and back loss"),
        change_column("margin_after_w", "Margin after", "W", 0),
        change_column("change_w", "Change", "W", 0),
    ),
)

REMEDY_PARTS = TableDescription(
    "remedy_parts",
    "Effect on parts",
    "Parts that each remedy adds or removes; only parts whose quantity changes.",
    (
        count_column("number", "No.", "number of the remedy"),
        text_column("item", "Item"),
        text_column("part_unit", "Unit"),
        figure_column("before", "Before", "quantity fitted"),
        figure_column("after", "After", "quantity fitted"),
        figure_column("change", "Change"),
        change_column("price_change", "Price change", "", 2, "a dash where the item has no price"),
    ),
)

BY_FLOW_TEMP = TableDescription(
    "cheapest_surveys",
    "Cheapest design by flow temperature",
    "Combination of remedies of the least cost with which no check fails, at each flow temperature.",
    (
        number_column("flow_temp_c", "Flow temperature", "°C", 1),
        count_column("rooms_short", "Rooms short", "rooms that are short of heat in the present survey"),
        count_column("checks_failed", "Checks failed", "in the present survey"),
        flag_column("found", "Found", "a survey with which no check fails was found"),
        text_column("remedies", "Remedies", "blank where the present survey passes"),
        count_column("changes", "Changes"),
        change_column("profile_added_m", "Profile added", "m", 2),
        change_column("price_change", "Price change", "", 2, "of the fitted parts, without waste, packs and labour"),
        number_column("yearly_cost", "Energy of a year", "", 0, "cost in the currency of the year file, with the "
                      "remedies and the weather curve; a dash without a year file"),
        count_column("checks_caution", "Cautions", "with the remedies"),
        change_column("bound", "Lower bound", "", 2, "lowest price change with which a combination can still pass "
                      "(without prices: profile added, m); a dash if no combination passes"),
        count_column("tried", "Combinations sized"),
        text_column("assumed", "Assumed", "to be confirmed before the survey is changed"),
        text_column("note", "Note", "the reason if none was found"),
    ),
)  # fmt: skip

IMPROVEMENT_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    text_column("headline", "Verdict of the present survey"),
    count_column("checks_failed", "Checks failed", "of the present survey"),
    count_column(
        "shortcomings", "Checks with remedies", "failed checks, and cautions about draught, cold glass and hot surfaces"
    ),
    count_column("remedies", "Remedies"),
    count_column("resolving", "Remedies sufficient by themselves", "each resolves its check"),
    count_column("tried", "Designs calculated"),
    text_column("currency", "Currency", "blank without a price file"),
    text_column("year", "Year", "name of the year file; blank without one"),
    text_column("year_currency", "Currency of the year"),
    text_column("measure", "Measure", "by which remedies are ranked"),
    text_column("without_remedy", "Checks without a remedy"),
    text_column("missing_prices", "Items without a price", "in no price change"),
)

WORDS = (text_column("number", "No."), text_column("remedy", "Remedy"), text_column("outcome", "Outcome"))
"""First columns of the remedies as shown."""


@dataclass(frozen=True, eq=False, repr=False)
class ImprovementResult(TableSet):
    """Remedies for every check that a survey misses, as tables."""

    frames: Mapping[str, pd.DataFrame]
    facts: Mapping[str, Any]

    summary_columns = IMPROVEMENT_SUMMARY
    remedies = Table(REMEDIES)
    remedy_rooms = Table(REMEDY_ROOMS)
    remedy_parts = Table(REMEDY_PARTS)
    cheapest_surveys = Table(BY_FLOW_TEMP)

    def summary_block(self) -> Summary:
        """The verdict and the remedies for each check, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.improve("data/mill-annexe/survey.toml").summary_block().title
        'Mill Annexe, remedies'
        """
        facts = self.facts
        sentences = (str(facts["headline"]), *self._sentences())
        return Summary(f"{facts['project']}, remedies", sentences, tuple(self._grids()), tuple(self._points()))

    def _sentences(self) -> list[str]:
        facts = self.facts
        if not facts["shortcomings"]:
            return [
                "No check fails, and there is no caution about draught, cold glass or hot surfaces: no remedy is "
                "required."
            ]
        count, resolving = facts["remedies"], facts["resolving"]
        sufficient = "is sufficient by itself for its" if resolving == 1 else "are sufficient by themselves for their"
        sentences = [
            f"{plural(count, 'remedy', 'remedies')}. For each check the best is first. Each is the smallest change "
            "found that resolves its check. If no change of this kind resolves it, the largest possible change is "
            f"listed. {resolving} {sufficient} check. "
            f"{plural(facts['tried'], 'design was', 'designs were')} calculated.",
            "Smallest margin: that of the room with the least margin in the whole house.",
        ]
        if (self.frames[REMEDIES.name]["unit"] == "W").any():
            sentences.append('For the check "heat to the room", Outcome states the margin in W.')
        if facts["currency"]:
            sentences.append(
                f"Price: change in the price of the fitted parts, {facts['currency']}. Not included: waste, "
                "unused parts of packs, labour. A dash: the cost is not in the parts list."
            )
        else:
            sentences.append("Profile added: a dash where the remedy adds none.")
        if len(by_temp := self.frames[BY_FLOW_TEMP.name]):
            sentences += self._search_sentences(by_temp)
        if facts["missing_prices"]:
            sentences.append(f"Without a price, and in no price change: {facts['missing_prices']}.")
        if facts["without_remedy"]:
            sentences.append(f"No remedy is tried for {facts['without_remedy']}.")
        return sentences

    def _search_sentences(self, by_temp: pd.DataFrame) -> list[str]:
        """By what the least costly survey is chosen, and whether the least cost is proved."""
        cost = by_temp["price_change" if self.facts["currency"] else "profile_added_m"]
        sentences = [
            "Cheapest design: combinations keep the flow temperature of the survey, or the flow temperature requested. "
            "A remedy that changes it, or whose cost is not in the parts list (such as work on the building), is not "
            "part of a combination."
        ]
        if not self.facts["currency"]:
            sentences.append(
                "Without prices, the cheapest design is that with the least profile added, and of equals the one with "
                "the fewest changes."
            )
        if self.facts["year"]:
            sentences.append(
                f"Energy of a year: cost in {self.facts['year_currency']}, with the weather curve; "
                f"{escape_control_characters(self.facts['year'])}."
            )
        if (by_temp["found"] & (by_temp["bound"] < cost - 0.005)).any():
            sentences.append(
                "Lower bound below the cost: the search ended early, and a combination may exist that costs less, but "
                "not less than the lower bound."
            )
        return sentences

    def _grids(self) -> list[SummaryTable]:
        """The remedies of each check."""
        cost = {"price_change": "Price"} if self.facts["currency"] else {"profile_added_m": "Profile added"}
        figures = REMEDIES.headed({"checks_failed": "Fails", "checks_caution": "Cautions"})
        margin = REMEDIES.headed({"min_margin_w": "Smallest margin"})
        columns = (*WORDS, *figures, *margin, *REMEDIES.headed(cost))
        grids = []
        for (check, location), group in self.frames[REMEDIES.name].groupby(["check", "location"], sort=False):
            rows = group.to_dict("records")
            shown = [{**row, "number": str(row["number"]), "outcome": _outcome(row)} for row in rows]
            shown = [row | _without_figure(row) for row in shown]
            before, limit = (_value(rows[0][side], rows[0]["unit"]) for side in ("before", "limit"))
            margin_of = "margin " if rows[0]["unit"] == "W" else ""
            grids.append(grid(f"{location} – {check}: {margin_of}{before}, limit {limit}", shown, columns))
        if len(by_temp := self.frames[BY_FLOW_TEMP.name]):
            grids.append(self._cheapest_grid(by_temp, cost))
        return grids

    def _cheapest_grid(self, by_temp: pd.DataFrame, cost: Mapping[str, str]) -> SummaryTable:
        """The least costly survey at each flow temperature."""
        rows = [
            row | {"remedies": row["remedies"] or row["note"] or "none: no check fails"}
            for row in by_temp.to_dict("records")
        ]
        heads = {"flow_temp_c": "Flow", "rooms_short": "Rooms short before", "remedies": "Remedies", **cost}
        if self.facts["year"]:
            heads["yearly_cost"] = "Energy of a year"
        heads |= {"bound": "Lower bound", "checks_caution": "Cautions", "tried": "Combinations calculated"}
        return grid(
            "Cheapest design in which no check fails, at a fixed flow temperature", rows, BY_FLOW_TEMP.headed(heads)
        )

    def _points(self) -> list[BulletList]:
        """What remedies assume, why some are not possible, and the order of the remedies."""
        rows = self.frames[REMEDIES.name].to_dict("records")
        lists = (("Assumed", "assumed"), ("Not possible", "not_possible"))
        points = [
            BulletList(caption, tuple(f"{row['number']}: {row[name]}." for row in rows if row[name]))
            for caption, name in lists
        ]
        if rows:
            points.append(BulletList("Order of the remedies for each check", self._order()))
        return [some for some in points if some.items]

    def _order(self) -> tuple[str, ...]:
        """The keys by which remedies are ordered, the first one first."""
        return (
            "Remedies that resolve the check are first.",
            "Then: fewer failed checks.",
            "Then: remedies with a known cost.",
            "Then: in a room that remains short of heat, a greater margin.",
            f"Then: {'lower price' if self.facts['currency'] else 'less profile added, because no prices are given'}.",
            "Then: fewer cautions.",
            "Then: the kind of remedy.",
        )

    def __repr__(self) -> str:
        return f"<Improvement of {self.facts['project']!r}: {plural(self.facts['remedies'], 'remedy', 'remedies')}>"


def _without_figure(row: Mapping[Any, Any]) -> dict[str, float]:
    """Costs that have no figure in the remedies as shown: of work outside the parts list, and of no profile."""
    other_work = {"price_change": math.nan} if row["other_work"] else {}
    none_added = {"profile_added_m": math.nan} if abs(row["profile_added_m"]) < 0.005 else {}
    return other_work | none_added


def _outcome(row: Mapping[Any, Any]) -> str:
    if row["not_possible"]:
        return "not possible"
    return f"{'resolved' if row['resolves'] else 'not enough'}: {_value(row['after'], row['unit'])}"


def _value(value: float, unit: object) -> str:
    words = number(value, 0, sign=True) if unit == "W" else significant(value)
    return f"{words} {unit_text(unit)}".strip()
