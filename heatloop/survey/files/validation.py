"""A dictionary of a file against its tables: every fault of type, name of key and range at once.

Two passes: the first collects the faults; what is faulty is then put aside (see
:mod:`heatloop.survey.files.fields`) so that the second always succeeds and the checks of meaning can still
look at all the rest.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from heatloop.findings.input_errors import Fault
from heatloop.survey.files.fields import MISSING, UNREAD, Table, table_at
from heatloop.survey.files.key_path import Loc, place_words
from heatloop.text.quoting import found_words, nearest, one_line, wanted_name

Kind = TypeVar("Kind", bound=Table)


@dataclass
class Findings:
    """Faults of one file as they are found, each at its place."""

    file: str
    data: dict[str, Any]
    faults: list[Fault] = field(default_factory=list)
    unread: set[Loc] = field(default_factory=set)
    copied: tuple[Loc, ...] = ()
    faulty: set[Loc] = field(default_factory=set)

    def add(self, loc: Loc, found: str, wanted: str) -> None:
        """Note one fault, once; what is copied from elsewhere in the file is told there."""
        self.faulty.add(loc)
        if any(loc[: len(part)] == part for part in self.copied):
            return
        place = place_words(self.data, loc)
        fault = Fault(self.file, one_line(place), one_line(found), one_line(wanted))
        if fault not in self.faults:
            self.faults.append(fault)

    def is_unread(self, loc: Loc) -> bool:
        """Whether `loc`, or what it stands in, could not be read: a fault is told already."""
        return any(loc[:size] in self.unread for size in range(1, len(loc) + 1))

    def is_sound(self, loc: Loc) -> bool:
        """Whether nothing in `loc`, and nothing that it stands in, is unread or at fault."""
        return not any(loc[: len(other)] == other or other[: len(loc)] == loc for other in (*self.unread, *self.faulty))

    def name(self, loc: Loc, what: str, name: str | None, known: Iterable[str]) -> bool:
        """Whether `name` is known (or absent, or unread); a fault where it is not."""
        names = list(known)
        if not name or name in names:
            return True
        self.add(loc, f'"{name}"', wanted_name(what, name, names))
        return False


@dataclass(frozen=True)
class Checked(Generic[Kind]):
    """The tables of a file with whatever could not be read put aside, and the faults so far."""

    table: Kind
    findings: Findings


def check_tables(kind: type[Kind], data: dict[str, Any], file: str, copied: Iterable[Loc] = ()) -> Checked[Kind]:
    """Read `data` as `kind`; `copied` places hold what is copied from elsewhere in the file, whose
    faults are told there."""
    findings = Findings(file, data, copied=tuple(copied))
    repaired: dict[str, Any] = _unshared(data)
    while True:
        try:
            return Checked(kind.model_validate(repaired), findings)
        except ValidationError as error:
            problems = error.errors(include_url=False)
        slips = _misspelt(kind, problems)
        for problem in problems:
            loc: Loc = problem["loc"]
            if loc not in slips.values():
                _tell(findings, kind, problem, slips)
            findings.unread.add(loc)
            _put_aside(repaired, loc, problem["type"] == "extra_forbidden")


def _misspelt(kind: type[Table], problems: list[Any]) -> dict[Loc, Loc]:
    """Unknown keys that look like a required key which is missing beside them."""
    missing = {problem["loc"] for problem in problems if problem["input"] is MISSING}
    slips: dict[Loc, Loc] = {}
    for problem in problems:
        if problem["type"] == "extra_forbidden":
            loc: Loc = problem["loc"]
            table = table_at(kind, loc[:-1])
            close = nearest(str(loc[-1]), table.key_names()) if table else None
            if close is not None and (*loc[:-1], close) in missing:
                slips[loc] = (*loc[:-1], close)
    return slips


def _tell(findings: Findings, kind: type[Table], problem: Any, slips: dict[Loc, Loc]) -> None:
    loc: Loc = problem["loc"]
    if problem["type"] == "extra_forbidden":
        table = table_at(kind, loc[:-1])
        keys = table.key_names() if table else {}
        wanted = f'the key "{slips[loc][-1]}"' if loc in slips else wanted_name("a key", str(loc[-1]), keys)
        findings.add(loc[:-1], f'the key "{loc[-1]}"', wanted)
        return
    found = "nothing" if problem["input"] is MISSING else found_words(problem["input"])
    if problem["type"] == "wanted":
        wanted = problem["msg"]
    else:
        table = table_at(kind, loc)
        wanted = f"one table with the keys {', '.join(table.key_names())}" if table else "a table"
    findings.add(loc, found, wanted)


def _unshared(node: Any) -> Any:
    """A copy in which no table stands in two places, so that each can be mended by itself."""
    if isinstance(node, dict):
        return {key: _unshared(child) for key, child in node.items()}
    return [_unshared(child) for child in node] if isinstance(node, list) else node


def _put_aside(data: Any, loc: Loc, drop: bool) -> None:
    node = data
    for step in loc[:-1]:
        node = node[step]
    if drop:
        del node[loc[-1]]
    else:
        node[loc[-1]] = UNREAD
