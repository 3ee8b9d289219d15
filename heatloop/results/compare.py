"""Compare two designs: differences in summary, rooms, loops and checks."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Literal

import pandas as pd

from heatloop.text.column import TableDescription, figure_column, text_column
from heatloop.text.table_set import table_frame

SAME = 1e-6
"""Relative difference below which two figures count as equal."""

COMPARISON = TableDescription(
    "comparison",
    "Comparison",
    "Differences between two designs: one row for each quantity of the job, a room or a loop, and each verdict.",
    (
        text_column("what", "What", "job, room, loop or check"),
        text_column("name", "Name", "the room, the loop, or the subject of the check"),
        text_column("quantity", "Quantity", "a column or key figure by its name, or the check"),
        figure_column("before", "Before"),
        figure_column("after", "After"),
        figure_column("change", "Change", "after less before"),
    ),
)
SUMMARY = (
    "outdoor_c", "flow_temp_c", "return_temp_c", "heat_loss_w", "heat_to_rooms_w", "pump_flow_l_h", "pump_head_kpa",
    "index_loop", "water_content_l", "verdict", "checks_failed", "checks_caution",
)  # fmt: skip
ROOM = ("indoor_c", "heat_loss_w", "heat_to_rooms_w", "margin_w", "heated_length_m")
LOOP = (
    "rooms", "heated_length_m", "flow_l_h", "flow_temp_c", "return_temp_c", "heat_to_rooms_w", "pressure_drop_kpa",
    "max_velocity_m_s", "water_content_l", "valve_setting",
)  # fmt: skip

Tables = Mapping[str, pd.DataFrame]

What = Literal["job", "room", "loop", "check"]
"""Subject of a row of the comparison."""

NAMED: tuple[tuple[What, str, tuple[str, ...]], ...] = (("room", "rooms", ROOM), ("loop", "loops", LOOP))
"""Items compared by name: the kind, its table, and the columns compared."""


def differences(before: tuple[Mapping[str, Any], Tables], after: tuple[Mapping[str, Any], Tables]) -> pd.DataFrame:
    """Differences between two designs, each given by its summary and its tables; no rows without differences.

    Columns: `what` (job, room, loop, check), `name`, `quantity` (a name with its unit), its value `before` and `after`
    (None where there is none) and the `change` of figures, after less before. A room or loop that only one of them has
    is one row, present or None. Of checks, the verdicts are compared.
    """
    rows = _differing("job", "", before[0], after[0], SUMMARY)
    for kind, table, quantities in NAMED:
        old, new = _by_key(before[1][table], [kind]), _by_key(after[1][table], [kind])
        for (name,) in dict.fromkeys([*old, *new]):
            old_row, new_row = old.get((name,)), new.get((name,))
            if old_row is None or new_row is None:
                rows.append(_row(kind, name, kind, "present" if old_row else None, "present" if new_row else None))
            else:
                rows += _differing(kind, name, old_row, new_row, quantities)
    old, new = (_by_key(tables["checks"], ["check", "location"]) for tables in (before[1], after[1]))
    for key in dict.fromkeys([*old, *new]):
        verdicts = [None if (row := side.get(key)) is None else row["verdict"] for side in (old, new)]
        if verdicts[0] != verdicts[1] and set(verdicts) != {None, "pass"}:
            rows.append(_row("check", str(key[1]), str(key[0]), *verdicts))
    compared = table_frame(COMPARISON, rows)
    # set as they are: pandas 3 makes a column of words and None one of text, in which None is NaN
    for side in ("before", "after"):
        compared[side] = pd.Series([row[side] for row in rows], index=compared.index, dtype=object)
    return compared


def _by_key(frame: pd.DataFrame, names: Sequence[str]) -> dict[tuple[str, ...], dict[Hashable, Any]]:
    return {tuple(str(row[name]) for name in names): row for row in frame.to_dict("records")}


def _differing(
    kind: What, name: str, before: Mapping[Any, Any], after: Mapping[Any, Any], quantities: Sequence[str]
) -> list[dict[str, Any]]:
    pairs = ((q, _plain(before.get(q)), _plain(after.get(q))) for q in quantities)
    return [
        _row(kind, name, q, old_value, new_value)
        for q, old_value, new_value in pairs
        if not _same(old_value, new_value)
    ]


def _row(kind: What, name: str, quantity: str, before: object, after: object) -> dict[str, Any]:
    figures = _is_figure(before) and _is_figure(after)
    change = float(after) - float(before) if figures else math.nan  # type: ignore[arg-type]
    return dict(zip(COMPARISON.names, (kind, name, quantity, before, after, change), strict=True))


def _plain(value: Any) -> Any:
    """A plain value; None where there is none."""
    value = value.item() if hasattr(value, "item") else value
    return None if value is None or value != value else value


def _is_figure(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _same(value: Any, other: Any) -> bool:
    if _is_figure(value) and _is_figure(other):
        return math.isclose(value, other, rel_tol=SAME, abs_tol=1e-9)
    return bool(value == other)
