"""The result of a study: rows of all dwellings, read from its folder when they are first used."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from heatloop.results.many_dwellings.outcomes import ALL_MET, SCOPE_WORDS
from heatloop.results.many_dwellings.sized_dwellings import DTYPES, NOT_SIZED
from heatloop.results.many_dwellings.tables import DWELLING, DWELLINGS, FAULTS, LOT_LOOPS, LOT_ROOMS, UNMET
from heatloop.text.column import Column, TableDescription, count_column, number_column, share_column, text_column
from heatloop.text.formatting import number, plural, short_listing
from heatloop.text.summary import BulletList, Summary, grid
from heatloop.text.table_set import Table, TableSet, table_frame

SURVEY = text_column("survey", "Survey", "file of the survey, or the name of its project")

STUDY_DWELLINGS = replace(
    DWELLINGS,
    about="One row for each dwelling, also for one that cannot be sized: its figures are then empty, with its error.",
    columns=(
        DWELLING,
        SURVEY,
        text_column("changes", "Changes", "values that differ from the survey"),
        *DWELLINGS.columns[1:],
        text_column("fault", "Error", "first error of a dwelling that cannot be sized"),
    ),
)

STORED: tuple[TableDescription, ...] = (STUDY_DWELLINGS, LOT_ROOMS, LOT_LOOPS, UNMET, FAULTS)
"""Tables that the folder of a study has, the dwellings first."""

UNFAILED: tuple[Column, ...] = (
    count_column("no_failed_check", "No failed check", "no check that is made fails; with and without cautions"),
    count_column("caution", "Of these with cautions", "cases without a failed check, but with cautions"),
)
"""Columns of the cases without a failed check."""

BY_FLOW_TEMP = TableDescription(
    "by_flow_temp",
    "By flow temperature",
    "One row for each flow temperature studied, to 0.1 °C. Counted are the checks that are made of many dwellings; "
    "others are made only by size. The last row, without a temperature, has the cases whose survey cannot be read.",
    (
        number_column("flow_temp_c", "Flow temperature at the source", "°C", 1),
        count_column("dwellings", "Cases"),
        *UNFAILED,
        count_column("failed", "With failed checks"),
        count_column("not_sized", "Not sized", "cases with errors"),
        share_column("no_failed_check_share", "No failed check", "share of the cases of this row"),
    ),
)

FAILED_OR_NOT_SIZED = TableDescription(
    "failed_or_not_sized",
    "Cases with failed checks or errors",
    "One row for each case with a failed check or an error, those with the smallest shortage of heat first.",
    (
        DWELLING,
        SURVEY,
        number_column("flow_temp_c", "Flow temperature at the source", "°C", 1),
        count_column("short_rooms", "Rooms short of heat"),
        number_column("shortage_w", "Shortage of these rooms", "W", 0, "sum of all rooms that are short of heat"),
        text_column("max_shortage_room", "Room with the largest shortage"),
        number_column("max_shortage_w", "Its shortage", "W", 0),
        text_column("failed_checks", "Failed checks"),
        text_column("fault", "Error", "the reason if the case cannot be sized"),
    ),
)

CHECK_COUNTS = TableDescription(
    "check_counts",
    "Checks by number of cases",
    "One row for each check that a case does not meet, those that most cases fail first.",
    (
        text_column("check", "Check"),
        count_column("failed", "Cases that fail it"),
        count_column("caution", "Cases with a caution only"),
    ),
)

SUMMARY: tuple[Column, ...] = (
    count_column("dwellings", "Cases"),
    *UNFAILED,
    count_column("failed", "With failed checks"),
    count_column("not_sized", "Not sized", "cases with errors"),
)

SHOWN = {
    BY_FLOW_TEMP.name: BY_FLOW_TEMP.headed(
        {
            "flow_temp_c": "Flow temp.",
            "dwellings": "Cases",
            "no_failed_check": "No failed check",
            "caution": "Of these with cautions",
            "failed": "With failed checks",
            "not_sized": "Not sized",
            "no_failed_check_share": "No failed check",
        }
    ),
    CHECK_COUNTS.name: CHECK_COUNTS.headed({"check": "Check", "failed": "Fail", "caution": "Caution only"}),
}
"""Columns of the printed summary, with short headings."""
MAX_TEMPS = 12
"""Flow temperatures that are listed although they are not those of a sweep."""
MAX_SHOWN = 20
"""Rows and faults that the printed summary lists."""


@dataclass(frozen=True, eq=False, repr=False)
class StudyResult(TableSet):
    """The tables of a study, each read when it is first used.

    `folder`: where the results are. `complete`: whether all dwellings have been sized.
    """

    frames: Mapping[str, pd.DataFrame]
    folder: str
    complete: bool

    summary_columns = SUMMARY
    _internal = frozenset({"title", "is_sweep", "has_few_temps"})
    dwellings = Table(STUDY_DWELLINGS)
    rooms = Table(LOT_ROOMS)
    loops = Table(LOT_LOOPS)
    unmet_checks = Table(UNMET)
    faults = Table(FAULTS)
    by_flow_temp = Table(BY_FLOW_TEMP)
    failed_or_not_sized = Table(FAILED_OR_NOT_SIZED)
    check_counts = Table(CHECK_COUNTS)

    @property
    def facts(self) -> dict[str, Any]:  # type: ignore[override]
        """The key figures by name."""
        counts = outcomes(self.frames["dwellings"]).value_counts()
        figures = {name: int(counts.get(name, 0)) for name in ("caution", "failed", "not_sized")}
        unfailed = int(counts.get("all_met", 0)) + figures["caution"]
        return {"dwellings": len(self.frames["dwellings"]), "no_failed_check": unfailed, **figures}

    @property
    def title(self) -> str:
        """How many dwellings; where there are fewer surveys, how many cases, surveys and flow temperatures."""
        dwellings = self.frames["dwellings"]
        count, surveys = len(dwellings), dwellings["survey"].nunique()
        if surveys == count:
            return f"Study of {plural(count, 'dwelling')}"
        temps = dwellings["flow_temp_c"].round(1).nunique()
        return f"Study of {plural(count, 'case')}: {plural(surveys, 'survey')}" + (
            f", {plural(temps, 'flow temperature')}" * (temps > 1)
        )

    @property
    def is_sweep(self) -> bool:
        """Whether every survey was sized at each of several flow temperatures."""
        by_temp = self.frames[BY_FLOW_TEMP.name].dropna(subset=["flow_temp_c"])
        surveys = self.frames["dwellings"]["survey"].nunique()
        return len(by_temp) > 1 and bool((by_temp["dwellings"] >= surveys).all())

    @property
    def has_few_temps(self) -> bool:
        """Whether the flow temperatures are so few, or such, that they are listed one by one."""
        return self.is_sweep or len(self.frames[BY_FLOW_TEMP.name]) <= MAX_TEMPS

    def summary_block(self) -> Summary:
        """Numbers of cases, by flow temperature, the checks that most fail, and errors.

        Examples
        --------
        >>> import heatloop as hl
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.study(["data/mill-annexe/survey.toml"], folder).summary_block().title
        'Study of 1 dwelling'
        """
        facts, faults = self.facts, self.frames["faults"]
        sentences = [
            f"Cases with no failed check: {number(facts['no_failed_check'])}, of these with cautions: "
            f"{number(facts['caution'])}; with failed checks: {number(facts['failed'])}; not sized: "
            f"{number(facts['not_sized'])}.",
            SCOPE_WORDS,
            f"Results: {self.folder}.",
        ]
        if not self.complete:
            sentences.insert(0, "Not complete: the same study with this folder continues it.")
        grids = [
            grid(description.title, frame.head(MAX_SHOWN).to_dict("records"), SHOWN[description.name])
            for description in (BY_FLOW_TEMP, CHECK_COUNTS)
            if len(frame := self.frames[description.name]) and (description is CHECK_COUNTS or self.has_few_temps)
        ]
        points = tuple(f"{row['dwelling']}: {row['fault']}" for row in faults.head(MAX_SHOWN).to_dict("records"))
        return Summary(self.title, tuple(sentences), tuple(grids), (BulletList("Errors", points),) if points else ())

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {plural(len(self.frames['dwellings']), 'dwelling')} in {self.folder}>"


class StudyTables(Mapping[str, pd.DataFrame]):
    """The tables of a study by name: those that are stored, by a function that reads one, and those made of them.

    Each is read or made when it is first used, and kept.
    """

    def __init__(self, read: Callable[[str], pd.DataFrame]) -> None:
        self._read, self._held = read, dict[str, pd.DataFrame]()

    def __getitem__(self, name: str) -> pd.DataFrame:
        if name not in self._held:
            self._held[name] = MADE[name](self) if name in MADE else self._read(name)
        return self._held[name]

    def __iter__(self) -> Iterator[str]:
        yield from (description.name for description in STORED)
        yield from MADE

    def __len__(self) -> int:
        return len(STORED) + len(MADE)


def outcomes(dwellings: pd.DataFrame) -> pd.Series[str]:
    """For each case `all_met` (of the checks that are made), `caution`, `failed` or `not_sized`."""
    words = dwellings["verdict"].map({ALL_MET: "all_met", "caution": "caution", "fail": "failed"})
    return words.mask(dwellings["sizing"] == NOT_SIZED, "not_sized").astype(object)


def _by_flow_temp(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    dwellings = tables["dwellings"]
    held = pd.DataFrame({"flow_temp_c": dwellings["flow_temp_c"].round(1), "outcome": outcomes(dwellings)})
    rows = []
    for temp, group in held.groupby("flow_temp_c", dropna=False):
        counts = group["outcome"].value_counts()
        caution, good = int(counts.get("caution", 0)), int(counts.get("all_met", 0))
        rows.append(
            {
                "flow_temp_c": float(temp),  # type: ignore[arg-type]
                "dwellings": len(group),
                "no_failed_check": good + caution,
                "caution": caution,
                "failed": int(counts.get("failed", 0)),
                "not_sized": int(counts.get("not_sized", 0)),
                "no_failed_check_share": (good + caution) / len(group),
            }
        )
    return typed(BY_FLOW_TEMP, table_frame(BY_FLOW_TEMP, rows))


def _failed_or_not_sized(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    dwellings, rooms, unmet = (tables[name] for name in ("dwellings", "rooms", "unmet_checks"))
    held = dwellings[outcomes(dwellings).isin(["failed", "not_sized"])]
    short = rooms[(rooms["margin_w"] < 0.0) & rooms["dwelling"].isin(held["dwelling"])].sort_values("margin_w")
    by_dwelling = short.groupby("dwelling")
    total, worst = by_dwelling["margin_w"].sum(), short.drop_duplicates("dwelling").set_index("dwelling")
    failed = unmet[unmet["verdict"] == "fail"].groupby("dwelling")["check"].agg(_checks_in_words)
    names, rooms_of, checks_of = held["dwelling"], worst["room"].to_dict(), failed.to_dict()
    frame = pd.DataFrame(
        {
            "dwelling": names,
            "survey": held["survey"],
            "flow_temp_c": held["flow_temp_c"],
            "short_rooms": held["short_rooms"],
            "shortage_w": names.map(-total),
            "max_shortage_room": [rooms_of.get(name, "") for name in names],
            "max_shortage_w": names.map(-worst["margin_w"]),
            "failed_checks": [checks_of.get(name, "") for name in names],
            "fault": held["fault"],
        }
    )
    sized = frame.assign(_fault=frame["fault"] != "", _short_w=frame["shortage_w"].fillna(0.0))
    order = sized.sort_values(["_fault", "_short_w"], kind="stable").index
    return typed(FAILED_OR_NOT_SIZED, frame.loc[order].reset_index(drop=True))


def _checks_in_words(checks: pd.Series[str]) -> str:
    return short_listing(dict.fromkeys(checks))


def _check_counts(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    unmet = tables["unmet_checks"]
    worst = unmet.assign(fails=unmet["verdict"] == "fail").groupby(["check", "dwelling"])["fails"].any().reset_index()
    counts = worst.groupby("check")["fails"].agg(failed="sum", every="count").reset_index()
    counts["caution"] = counts["every"] - counts["failed"]
    counts = counts.sort_values(["failed", "caution", "check"], ascending=[False, False, True])
    return typed(CHECK_COUNTS, counts[CHECK_COUNTS.names].reset_index(drop=True))


MADE: Mapping[str, Callable[[Mapping[str, pd.DataFrame]], pd.DataFrame]] = {
    BY_FLOW_TEMP.name: _by_flow_temp,
    FAILED_OR_NOT_SIZED.name: _failed_or_not_sized,
    CHECK_COUNTS.name: _check_counts,
}
"""Tables that are made of the stored ones."""


def typed(description: TableDescription, frame: pd.DataFrame) -> pd.DataFrame:
    """A table with the types of its description, so that tables without rows have them too."""
    types = {column.name: DTYPES[column.kind] for column in description.columns}
    return frame.reindex(columns=description.names).astype(types)
