"""Sized dwellings: the frozen result of one lot, or of several lots joined."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from heatloop.results.many_dwellings.outcomes import SCOPE_WORDS
from heatloop.results.many_dwellings.tables import DWELLINGS, FAULTS, LOT_LOOPS, LOT_ROOMS, UNMET, Columns
from heatloop.text.column import Column, Kind, TableDescription, count_column
from heatloop.text.formatting import number, plural
from heatloop.text.summary import BulletList, Summary, grid
from heatloop.text.table_set import Table, TableSet

DESCRIPTIONS: tuple[TableDescription, ...] = (DWELLINGS, LOT_ROOMS, LOT_LOOPS, UNMET, FAULTS)

IN_LOT, NOT_SIZED = "in a lot", "not sized"
"""How a dwelling was sized; any other text is that of a dwelling sized by itself, and the reason."""

DTYPES: Mapping[Kind, str] = {
    "number": "float64", "percent": "float64", "figure": "float64", "residual": "float64",
    "count": "Int64", "flag": "bool", "text": "object", "unit": "object", "verdict": "object",
}  # fmt: skip
"""Types of columns, so that tables without rows have them too."""

DWELLINGS_SUMMARY: tuple[Column, ...] = (
    count_column("dwellings", "Dwellings"),
    count_column("in_lots", "Sized in lots"),
    count_column("by_themselves", "Sized by themselves"),
    count_column("not_sized", "Not sized", "dwellings with errors"),
    count_column("failed", "With failed checks", "dwellings with at least one failed check"),
    count_column("caution", "With cautions only", "dwellings with cautions and no failed check"),
)

SHOWN = DWELLINGS.headed(
    {
        "dwelling": "Dwelling",
        "sizing": "Sizing",
        "verdict": "Checks made",
        "short_rooms": "Short rooms",
        "heat_loss_w": "Heat loss",
        "heat_to_rooms_w": "Heat to rooms",
        "pump_flow_l_h": "Pump flow",
        "pump_head_kpa": "Pump head",
    }
)
MAX_SHOWN = 20
"""Dwellings and errors that the printed summary lists."""


@dataclass(frozen=True, eq=False, repr=False)
class SizedDwellings(TableSet):
    """Sized dwellings: one lot of `size_many`, or several lots joined.

    Attributes
    ----------
    dwellings : pandas.DataFrame
        One row for each dwelling, in the order in which they were given: how it was sized, outcome of the checks made
        (all met, caution or fail), numbers of failed checks and cautions, heat, temperatures, and flow and head of the
        pump at the heat source.
    rooms : pandas.DataFrame
        Heat loss, heat to the room and margin of each room.
    loops : pandas.DataFrame
        Flow, temperatures, pressures and valve setting of each loop.
    unmet_checks : pandas.DataFrame
        The checks that are not met. The page "Many dwellings" of the documentation lists the checks that are made.
    faults : pandas.DataFrame
        One row for each error of a dwelling that cannot be sized.
    summary : dict
        Numbers of dwellings, by how they were sized and by the outcome of their checks.

    Examples
    --------
    >>> import heatloop as hl
    >>> lot = next(hl.size_many(["data/mill-annexe/survey.toml", "data/alder-lodge/survey.toml"]))
    >>> lot.dwellings[["rooms", "loops"]].values.tolist()
    [[1, 1], [9, 6]]
    """

    frames: dict[str, pd.DataFrame]

    summary_columns = DWELLINGS_SUMMARY
    _internal = frozenset({"of_columns"})
    dwellings = Table(DWELLINGS)
    rooms = Table(LOT_ROOMS)
    loops = Table(LOT_LOOPS)
    unmet_checks = Table(UNMET)
    faults = Table(FAULTS)

    @property
    def facts(self) -> dict[str, Any]:  # type: ignore[override]
        """The key figures by name."""
        sizing, verdict = self.frames["dwellings"]["sizing"], self.frames["dwellings"]["verdict"]
        missing = int((sizing == NOT_SIZED).sum())
        in_lots = int((sizing == IN_LOT).sum())
        return {
            "dwellings": len(sizing),
            "in_lots": in_lots,
            "by_themselves": len(sizing) - in_lots - missing,
            "not_sized": missing,
            "failed": int((verdict == "fail").sum()),
            "caution": int((verdict == "caution").sum()),
        }

    @classmethod
    def joined(cls, lots: Iterable[SizedDwellings]) -> SizedDwellings:
        """Several lots as one result, in their order.

        Parameters
        ----------
        lots : iterable of SizedDwellings
            The lots of `size_many`. All their rows are held in memory.

        Returns
        -------
        SizedDwellings

        Examples
        --------
        >>> import heatloop as hl
        >>> paths = ["data/mill-annexe/survey.toml", "data/alder-lodge/survey.toml"]
        >>> len(hl.SizedDwellings.joined(hl.size_many(paths, lot_size=1)).rooms)
        10
        """
        held = [lot.frames for lot in lots]
        if not held:
            return cls.of_columns([])
        return cls({name: pd.concat([frames[name] for frames in held], ignore_index=True) for name in held[0]})

    @classmethod
    def of_columns(cls, parts: Sequence[Mapping[str, Columns]], names: Sequence[str] = ()) -> SizedDwellings:
        """The result of columns by table, one set for each part of a lot; `names` of its dwellings in their order."""
        order = {name: place for place, name in enumerate(names)}
        frames = {}
        for description in DESCRIPTIONS:
            tables = [pd.DataFrame(part[description.name]) for part in parts if description.name in part]
            filled = [table for table in tables if len(table)]
            frame = pd.concat(filled, ignore_index=True) if filled else pd.DataFrame(columns=description.names)
            places = frame["dwelling"].map(order).to_numpy(float)
            frame = frame.iloc[np.argsort(places, kind="stable")].reset_index(drop=True)
            types = {column.name: DTYPES[column.kind] for column in description.columns}
            frames[description.name] = frame.reindex(columns=description.names).astype(types)
        return cls(frames)

    def summary_block(self) -> Summary:
        """Numbers of dwellings, the first rows of dwellings, and errors, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> next(hl.size_many(["data/mill-annexe/survey.toml"])).summary_block().title
        '1 dwelling'
        """
        facts, dwellings, faults = self.facts, self.frames["dwellings"], self.frames["faults"]
        sentences = (
            f"Sized in lots: {number(facts['in_lots'])}; by themselves: {number(facts['by_themselves'])}; "
            f"not sized: {number(facts['not_sized'])}.",
            f"Dwellings with failed checks: {number(facts['failed'])}; with cautions only: {number(facts['caution'])}.",
            SCOPE_WORDS,
        )
        listed = dwellings.head(MAX_SHOWN).to_dict("records")
        caption = "Dwellings" if len(dwellings) <= MAX_SHOWN else f"The first {MAX_SHOWN} dwellings"
        points = tuple(f"{row['dwelling']}: {row['fault']}" for row in faults.head(MAX_SHOWN).to_dict("records"))
        return Summary(
            plural(len(dwellings), "dwelling"),
            sentences,
            (grid(caption, listed, SHOWN),) if listed else (),
            (BulletList("Errors", points),) if points else (),
        )

    def __repr__(self) -> str:
        return f"<SizedDwellings: {plural(len(self.frames['dwellings']), 'dwelling')}>"
