"""Read a survey and its catalogue from files."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.energy.model import Year
from heatloop.survey.files.catalogue_tables import CatalogueTable
from heatloop.survey.files.key_path import Loc, location_text
from heatloop.survey.files.loop_tables import generated_opening_name
from heatloop.survey.files.survey_tables import RoomTable, SurveyTable
from heatloop.survey.files.validation import IssueCollector, check_tables
from heatloop.survey.files.year_tables import YearTable
from heatloop.survey.rules.catalogue import check_catalogue
from heatloop.survey.rules.routes import rooms_on_route
from heatloop.survey.rules.survey_rules import check_survey
from heatloop.survey.rules.water_system import SUPPLIES_NOTHING
from heatloop.survey.rules.year import check_year
from heatloop.survey.survey import AnySurvey, SurveyData
from heatloop.survey.toml.toml_reader import load_toml
from heatloop.survey.workbook.read_workbook import is_workbook, workbook_tables
from heatloop.survey.workbook.sheets import CATALOGUE_SHEETS, SheetSet
from heatloop.text.quoting import brief

HELD_IN_PYTHON = "catalogue held in Python"
"""Stands for the name of a catalogue's file while a survey is checked that names none."""

ROOM_KEYS = frozenset(RoomTable.key_names())


def load_tables(path: Path, sheets: SheetSet) -> tuple[dict[str, Any], dict[str, str] | None]:
    """The tables of a file (TOML or workbook) and, for a workbook, the cells by their places in words.

    Raises InputError where the file cannot be read, or headings and rows of its sheets cannot be interpreted.
    """
    if is_workbook(path):
        return workbook_tables(path, sheets)
    if path.suffix.lower() == ".csv" and path.is_file():
        found = "a CSV file, such as prices, readings or a list of rooms"
        raise InputError([InputIssue(str(path), "", found, "a TOML file or a workbook (.xlsx)")])
    return load_toml(path, sheets.kind.list_names()), None


def read_catalogue(path: str | Path) -> Catalogue:
    """Read a catalogue from a file (TOML or workbook); raises InputError with all its errors."""
    catalogue, findings = _catalogue(Path(path))
    if findings.faults:
        raise InputError(findings.faults, more=findings.more)
    return catalogue


def read_year(path: str | Path) -> Year:
    """Read a year file (TOML): weather, performance of the source and prices.

    Parameters
    ----------
    path : str or pathlib.Path
        Path of the file.

    Returns
    -------
    Year
        A frozen value; `dataclasses.replace` changes a price or the bins.

    Raises
    ------
    InputError
        If the file cannot be read or has faults. Every fault is listed.

    See Also
    --------
    yearly_energy : Heat, energy and running cost of a year.

    Examples
    --------
    >>> import heatloop as hl
    >>> year = hl.read_year("data/alder-lodge/year.toml")
    >>> year.currency, len(year.bins)
    ('EUR', 11)
    """
    path = Path(path)
    checked = check_tables(YearTable, load_toml(path, YearTable.list_names()), str(path))
    findings, year = checked.findings, checked.table.value(str(path))
    check_year(year, findings)
    if findings.faults:
        raise InputError(findings.faults, more=findings.more)
    return year


def survey_of(
    tables: dict[str, Any],
    path: Path | None,
    catalogue: Catalogue | None = None,
    cells: Mapping[str, str] | None = None,
) -> SurveyData:
    """The survey in the tables of a file; `path` locates the catalogue and is the file name in messages.

    A `catalogue` that is given replaces the one stated in the survey. `cells`: for a workbook, the cell of every place.
    Raises InputError with all errors of survey and catalogue.
    """
    draft = _draft_of(tables, path, catalogue, cells)
    findings = draft.findings
    faults = [*findings.faults, *draft.stock_faults]
    if faults:
        readable = None if draft.stock is None or draft.stock_faults else _readable(draft.survey, findings)
        raise InputError(faults, readable, findings.more + draft.more)
    return draft.survey


def read_again(
    tables: dict[str, Any], path: Path | None, catalogue: Catalogue | None, cells: Mapping[str, str] | None = None
) -> SurveyData:
    """The survey in tables, with a catalogue that may be in no file."""
    project = tables.get("project")
    if catalogue is None or not isinstance(project, dict) or project.get("catalogue") != "":
        return survey_of(tables, path, catalogue, cells)
    survey = survey_of({**tables, "project": {**project, "catalogue": HELD_IN_PYTHON}}, path, catalogue, cells)
    return replace(survey, project=replace(survey.project, catalogue=""))


_AS_READ = "_as_read"


def marked_as_read(survey: AnySurvey) -> AnySurvey:
    """The same survey, marked as one that the reader has made and checked.

    A survey cannot be changed, and `dataclasses.replace` makes a copy without the mark. So a marked survey need not be
    checked again before it is sized.
    """
    vars(survey)[_AS_READ] = True
    return survey


def is_as_read(survey: SurveyData) -> bool:
    """Whether a survey is as the reader has made it."""
    return _AS_READ in vars(survey)


@dataclass(frozen=True)
class _Draft:
    """The readable part of a survey, its errors, and its catalogue with its errors."""

    survey: SurveyData
    findings: IssueCollector
    stock: Catalogue | None
    stock_faults: tuple[InputIssue, ...]
    more: int


def _other_file(tables: Mapping[str, Any]) -> str:
    """The kind of another file whose tables these are, in words; empty where it is not clear."""
    if "profile" in tables:
        return "a catalogue"
    return "a year file" if {"bin", "performance"} & tables.keys() else ""


def _draft_of(
    tables: dict[str, Any], path: Path | None, catalogue: Catalogue | None, cells: Mapping[str, str] | None
) -> _Draft:
    file = "survey" if path is None else str(path)
    if "project" not in tables and (other := _other_file(tables)):
        required = "those of a survey: [project], [[room]], [[loop]]"
        raise InputError([InputIssue(file, "", f"the tables of {other}", required)])
    data, copied = copy_template_rooms(_one_source(tables))
    checked = check_tables(SurveyTable, data, file, copied, cells)
    findings, table = checked.findings, checked.table
    stock, stock_faults, more = (catalogue, (), 0) if catalogue is not None else _catalogue_of(table, path, findings)
    survey = _survey(table, stock or Catalogue(), path, findings.cells)
    check_survey(survey, table, stock, findings)
    return _Draft(survey, findings, stock, stock_faults, more)


@dataclass(frozen=True)
class SurveyDraft:
    """The readable part of a survey: in place of an unreadable number it has NaN, of a text or list an empty one.

    `issues`: all errors. `more`: the number of errors that are not described. `places`: for every room, its place in
    the words of the messages.
    """

    survey: SurveyData
    issues: tuple[InputIssue, ...]
    more: int
    places: tuple[str, ...]


def read_draft(
    tables: dict[str, Any],
    path: Path | None,
    catalogue: Catalogue | None = None,
    cells: Mapping[str, str] | None = None,
) -> SurveyDraft:
    """Read as :func:`survey_of` does, and return the errors with the survey; missing loops are not an error.

    Raises InputError for the tables of a catalogue or a year file.
    """
    draft = _draft_of(tables, path, catalogue, cells)
    findings = draft.findings
    own = [issue for issue in findings.faults if draft.survey.loops or not _is_lack_of_loops(issue)]
    rooms = range(len(draft.survey.rooms))
    places = tuple(location_text(findings.data, ("room", index)) for index in rooms)
    return SurveyDraft(draft.survey, (*own, *draft.stock_faults), findings.more + draft.more, places)


def _is_lack_of_loops(issue: InputIssue) -> bool:
    """Whether an error is that there are no loops."""
    return issue.place == "loop" or issue.found.endswith(SUPPLIES_NOTHING)


def _readable(survey: SurveyData, findings: IssueCollector) -> SurveyData | None:
    """The survey with only those loops that no error concerns, directly or in the walls of a room on their routes."""
    numbers = {room.name: number for number, room in enumerate(survey.rooms)}
    sound = {
        room.name
        for room in survey.rooms
        if all(findings.is_sound(("room", numbers[room.name], key)) for key in ("name", "walls", "estimated_wall_m"))
    }
    loops = tuple(
        loop
        for number, loop in enumerate(survey.loops)
        if findings.is_sound(("loop", number)) and all(name in sound for name in rooms_on_route(loop))
    )
    return replace(survey, loops=loops) if loops else None


def _catalogue(path: Path) -> tuple[Catalogue, IssueCollector]:
    """A catalogue and its errors; unreadable values are NaN, empty text or an empty list."""
    tables, cells = load_tables(path, CATALOGUE_SHEETS)
    if "project" in tables and "profile" not in tables:
        required = "those of a catalogue: [[profile]], [[joint]], [[end]], [[pipe]], [[valve]]"
        raise InputError([InputIssue(str(path), "", "the tables of a survey", required)])
    checked = check_tables(CatalogueTable, tables, str(path), cells=cells)
    catalogue = checked.table.value()
    check_catalogue(catalogue, checked.findings)
    return catalogue, checked.findings


def _catalogue_of(
    table: SurveyTable, path: Path | None, findings: IssueCollector
) -> tuple[Catalogue | None, tuple[InputIssue, ...], int]:
    """The catalogue of a survey, its errors and how many more there are; None where none can be read."""
    named = table.project.catalogue
    if not named:
        return None, (), 0
    folder = Path() if path is None else path.parent
    place = folder / named
    if not _exists(place):
        required = f"the path of the catalogue from the survey's own folder, {folder}"
        findings.add(("project", "catalogue"), f'"{brief(named)}", where there is no file', required)
        return None, (), 0
    try:
        catalogue, checked = _catalogue(place)
    except InputError as error:
        return None, error.issues, error.more
    return catalogue, tuple(checked.faults), checked.more


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _one_source(data: dict[str, Any]) -> dict[str, Any]:
    """A single [[source]] is read as [source]."""
    source = data.get("source")
    if isinstance(source, list) and len(source) == 1:
        return {**data, "source": source[0]}
    return data


def _survey(table: SurveyTable, catalogue: Catalogue, path: Path | None, cells: Mapping[str, str]) -> SurveyData:
    rooms = tuple(room.value() for room in table.room)
    by_name = {room.name: room for room in rooms}
    return SurveyData(
        project=table.project.value(),
        building=table.building.value(),
        build_ups=tuple(item.value() for item in table.build_up),
        spaces=tuple(item.value() for item in table.space),
        rooms=rooms,
        source=table.source.value(),
        trunks=tuple(item.value() for item in table.trunk),
        loops=tuple(item.value(by_name) for item in table.loop),
        catalogue=catalogue,
        path=path,
        cells=cells,
        system=table.system.value(),
        bypasses=tuple(item.value() for item in table.bypass),
        first_fix=table.first_fix.value(),
        document=table.document.value(),
        quotation=table.quotation.value(),
    )


def copy_template_rooms(data: dict[str, Any]) -> tuple[dict[str, Any], tuple[Loc, ...]]:
    """Add to every room that is a `copy_of` another the keys that it lacks; return also the copied places.

    A room that is a copy of itself, or of no existing room, is not changed. The given tables are not changed.
    """
    rooms = data.get("room")
    if not isinstance(rooms, list):
        return data, ()
    taken = _Likes({room["name"]: room for room in rooms if _is_named(room)})
    whole = [taken.whole(room) for room in rooms]
    copied: list[Loc] = [
        ("room", index, key)
        for index, (room, full) in enumerate(zip(rooms, whole, strict=True))
        if isinstance(room, dict)
        for key in full
        if key not in room
    ]
    return {**data, "room": whole}, tuple(copied)


def _is_named(room: Any) -> bool:
    return isinstance(room, dict) and isinstance(room.get("name"), str)


class _Likes:
    """Keys that rooms copy from other rooms; each room is resolved once."""

    def __init__(self, by_name: dict[str, Any]) -> None:
        self._by_name = by_name
        self._given: dict[str, dict[str, Any]] = {}

    def whole(self, room: Any) -> Any:
        """One room with the keys of the rooms from which it is copied, nearest first; other keys are absent."""
        if not _is_named(room):
            return room
        full = dict(room)
        for key, value in self._taken(room).items():
            if key == "diagonals" and "walls" in room:  # those of other walls
                continue
            if key not in full:
                full[key] = _walls(value, room["name"]) if key == "walls" else copy.deepcopy(value)
        return full

    def _taken(self, room: dict[str, Any]) -> dict[str, Any]:
        """Keys of the rooms from which a room is copied, directly or indirectly."""
        chain: dict[str, dict[str, Any]] = {}
        other, first = self._next(room), room["name"]
        while other is not None and other["name"] not in chain and other["name"] != first:
            if other["name"] in self._given:
                break
            chain[other["name"]] = other
            other = self._next(other)
        circle = other is not None and other["name"] not in self._given
        taken = {} if other is None or circle else self._given[other["name"]]
        for name, keys in reversed(chain.items()):
            taken = {**taken, **{key: value for key, value in keys.items() if key in ROOM_KEYS}}
            if not circle:
                self._given[name] = taken
        return taken

    def _next(self, room: dict[str, Any]) -> dict[str, Any] | None:
        template = room.get("copy_of", room.get("like"))  # the old key is reported where the tables are checked
        return self._by_name.get(template) if isinstance(template, str) else None


def _walls(walls: Any, room: str) -> Any:
    """Walls copied from another room; their named openings become separate openings, named after the new room."""
    walls = copy.deepcopy(walls)
    for wall in walls if isinstance(walls, list) else []:
        openings = wall.get("openings") if isinstance(wall, dict) else None
        for opening in openings if isinstance(openings, list) else []:
            if _is_named(opening):
                opening["name"] = generated_opening_name(opening["name"], room)
    return walls
