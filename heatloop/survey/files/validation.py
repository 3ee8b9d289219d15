"""Validation of the contents of a file by its tables: every error of type, key name and range is found in one run.

There are two passes. The first collects the errors. Faulty values are then set aside (see
:mod:`heatloop.survey.files.fields`), so that the second pass always succeeds and later checks have all other values.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Set
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.files.fields import MISSING, TEXT_UNREAD, UNREAD, FileTable, table_at
from heatloop.survey.files.key_path import Loc, location_text, place_in_file
from heatloop.text.quoting import brief, closest_name, found_text, single_line, suggestion

RENAMED_KEYS: Mapping[str, str] = {
    "take_off_mm": "cut_deduction_mm",
    "give_mm": "elastic_allowance_mm",
    "sill": "floor_section",
    "down_w_mk": "downward_loss_w_mk",
    "band_percent": "tolerance_percent",
    "first_fix_m": "allowance_m",
    "sills": "floor_sections",
    "like": "copy_of",
    "usable_wall_m": "estimated_wall_m",
    "heat_loss_by": "heat_loss_source",
    "crossing_drop_m": "crossing_depth_m",
    "drop_m": "depth_m",
    "greatest_c": "max_temp_c",
    "top_m": "highest_point_m",
    "sweep_m_s": "purge_velocity_m_s",
    "other_water": "additional_volume",
    "min_open_water_l": "min_always_open_water_l",
}
"""Renamed keys of surveys and catalogues, with their present names."""

MAX_FAULTS = 200
"""Faults of one file that are put into words; the rest are counted."""

MAX_GUESSES = 200
"""Unknown keys of one file that are compared with the known ones."""

Kind = TypeVar("Kind", bound=FileTable)


@dataclass
class IssueCollector:
    """Collector of the errors of one file, each with its place."""

    file: str
    data: dict[str, Any]
    faults: list[InputIssue] = field(default_factory=list)
    unread: set[Loc] = field(default_factory=set)
    copied: frozenset[Loc] = frozenset()
    faulty: set[Loc] = field(default_factory=set)
    more: int = 0
    cells: Mapping[str, str] = field(default_factory=dict)
    _reported: set[InputIssue] = field(default_factory=set)
    _counted: set[tuple[Loc, str, str]] = field(default_factory=set)

    def add(self, loc: Loc, found: str, required: str) -> None:
        """Add one issue, once. A copied value is reported at its origin. Beyond `MAX_FAULTS` issues are counted in
        `more`."""
        self.faulty.add(loc)
        if _within(loc, self.copied):
            return
        if len(self.faults) >= MAX_FAULTS:
            self.count(loc, found, required)
            return
        place = place_in_file(location_text(self.data, loc), self.cells)
        fault = InputIssue(self.file, single_line(place), single_line(found), single_line(required))
        if fault not in self._reported:
            self._reported.add(fault)
            self._counted.add((loc, found, required))
            self.faults.append(fault)

    def count(self, loc: Loc, found: str, required: str) -> None:
        """Count an error that is not described, once."""
        if (loc, found, required) not in self._counted:
            self._counted.add((loc, found, required))
            self.more += 1

    def is_unread(self, loc: Loc) -> bool:
        """Whether `loc`, or a table that contains it, could not be read; the error is then already reported."""
        return _within(loc, self.unread)

    def is_sound(self, loc: Loc) -> bool:
        """Whether `loc`, and all that contains it, has been read without an error."""
        if _within(loc, self.unread) or _within(loc, self.faulty) or () in self.faulty:
            return False
        return not any(other[: len(loc)] == loc for other in (*self.unread, *self.faulty))

    def name(self, loc: Loc, kind: str, name: str | None, known: Iterable[str]) -> bool:
        """Check that `name` is known (or absent, or unread); otherwise record an error.

        No fault where one of the known names is itself unread, which is reported, and none is like `name`: it may be
        that one.
        """
        names = known if isinstance(known, Collection) else list(known)
        if not name or name in names:
            return True
        if TEXT_UNREAD in names:
            names = [one for one in names if one != TEXT_UNREAD]
            if len(self.faulty) > MAX_GUESSES or suggestion(name, names) is None:
                self.faulty.add(loc)
                return False
        if len(self.faults) < MAX_FAULTS:
            self.add(loc, f'"{brief(name)}"', closest_name(kind, name, names))
        else:
            self.faulty.add(loc)
            self.count(loc, name, kind)
        return False


def _within(loc: Loc, places: Set[Loc]) -> bool:
    """Whether `loc`, or something that contains it, is one of the places."""
    return bool(places) and any(loc[:size] in places for size in range(1, len(loc) + 1))


@dataclass(frozen=True)
class ValidatedTable(Generic[Kind]):
    """The tables of a file, with everything unreadable set aside, and the errors so far."""

    table: Kind
    findings: IssueCollector


def check_tables(
    kind: type[Kind],
    data: dict[str, Any],
    file: str,
    copied: Iterable[Loc] = (),
    cells: Mapping[str, str] | None = None,
) -> ValidatedTable[Kind]:
    """Read `data` as `kind`; errors of values copied within the file are reported at their origin (`copied`).

    `cells`: the cells of a workbook by their places in words; None for other files.
    """
    findings = IssueCollector(file, data, copied=frozenset(copied), cells=cells or {})
    repaired: dict[str, Any] = _unshared(data)
    while True:
        try:
            return ValidatedTable(kind.model_validate(repaired), findings)
        except ValidationError as error:
            problems = error.errors(include_url=False)
        renamed = _renamed(kind, repaired, problems)
        slips = {**_misspelt(kind, repaired, problems), **renamed}
        meant, stated = set(slips.values()), set(renamed.values())
        required = stated | {problem["loc"] for problem in problems if problem["input"] is MISSING}
        certain = {old: new for old, new in slips.items() if new in required}
        for problem in problems:
            loc: Loc = problem["loc"]
            if loc in stated:
                continue
            if loc not in meant:
                _report(findings, kind, problem, certain)
            if loc in renamed:
                table = _parent(repaired, loc)
                table[renamed[loc][-1]] = table.pop(loc[-1])
                continue
            findings.unread.add(loc)
            _put_aside(repaired, loc, problem["type"] == "extra_forbidden")
        for loc in set(slips.values()) - stated:
            findings.unread.add(loc)
            _put_aside(repaired, loc, False)


def _renamed(kind: type[FileTable], data: dict[str, Any], problems: list[Any]) -> dict[Loc, Loc]:
    """Keys with their old names, each with its place under the new name, under which they are read."""
    renamed: dict[Loc, Loc] = {}
    for problem in problems:
        loc: Loc = problem["loc"]
        new = RENAMED_KEYS.get(str(loc[-1])) if problem["type"] == "extra_forbidden" else None
        table = table_at(kind, loc[:-1]) if new else None
        if new and table and new in table.key_names() and new not in _parent(data, loc):
            renamed[loc] = (*loc[:-1], new)
    return renamed


def _misspelt(kind: type[FileTable], data: dict[str, Any], problems: list[Any]) -> dict[Loc, Loc]:
    """Unknown keys that resemble a key missing from the same table, each with the place of this key.

    The value of the missing key is set aside, so that its absence is not a second error.
    """
    slips: dict[Loc, Loc] = {}
    unknown = [problem["loc"] for problem in problems if problem["type"] == "extra_forbidden"]
    for loc in unknown[:MAX_GUESSES]:
        table, own = table_at(kind, loc[:-1]), _parent(data, loc)
        close = suggestion(str(loc[-1]), table.key_names()) if table else None
        if close is not None and close not in own and (*loc[:-1], close) not in slips.values():
            slips[loc] = (*loc[:-1], close)
    return slips


def _report(findings: IssueCollector, kind: type[FileTable], problem: Any, slips: dict[Loc, Loc]) -> None:
    loc: Loc = problem["loc"]
    if len(findings.faults) >= MAX_FAULTS:
        findings.faulty.add(loc)
        findings.count(loc, problem["type"], "")
        return
    if problem["type"] == "extra_forbidden":
        table = table_at(kind, loc[:-1])
        keys = table.key_names() if table else {}
        required = f'the key "{slips[loc][-1]}"' if loc in slips else closest_name("a key", str(loc[-1]), keys)
        findings.add(loc[:-1], f'the key "{brief(str(loc[-1]))}"', required)
        return
    found = "nothing" if problem["input"] is MISSING else found_text(problem["input"])
    if problem["type"] == "requirement":
        required = problem["ctx"]["in_cell"] if findings.cells else problem["msg"]
    else:
        table = table_at(kind, loc)
        required = _table_words(table, loc, problem["input"])
    findings.add(loc, found, required)


def _table_words(table: type[FileTable] | None, loc: Loc, found: Any) -> str:
    """The requirement where a table has to be."""
    if table is None:
        return "a table"
    if len(loc) == 1 and isinstance(found, list):
        return f"[{loc[0]}] in single brackets, once"
    return f"one table with the keys {', '.join(table.key_names())}"


def _unshared(node: Any) -> Any:
    """A copy in which no table occurs in two places, so that each can be corrected separately."""
    if isinstance(node, dict):
        return {key: _unshared(child) for key, child in node.items()}
    return [_unshared(child) for child in node] if isinstance(node, list) else node


def _parent(data: Any, loc: Loc) -> Any:
    """The table or list that contains a place."""
    for step in loc[:-1]:
        data = data[step]
    return data


def _put_aside(data: Any, loc: Loc, drop: bool) -> None:
    node = _parent(data, loc)
    if drop:
        del node[loc[-1]]
    else:
        node[loc[-1]] = UNREAD
