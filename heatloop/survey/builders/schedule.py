"""Survey for a first quotation from a client's schedule of rooms."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.builders.loops import crossing, loop, tails, valves
from heatloop.survey.builders.rooms import room
from heatloop.survey.builders.whole import survey
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.editing import Survey
from heatloop.survey.loops import Loop
from heatloop.survey.read import read_catalogue
from heatloop.survey.survey import Project
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.survey.workbook.cell_values import is_blank
from heatloop.survey.workbook.read_workbook import is_workbook, sheet_titles, workbook_pages
from heatloop.text.quoting import brief, closest_name

if TYPE_CHECKING:
    import pandas as pd

TEXTS = ("name",)
NUMBERS = ("indoor_c", "estimated_wall_m", "heat_loss_w", "area_m2", "level_m")
KEYS = (*TEXTS, *NUMBERS)
"""Columns of a schedule of rooms; all but its loss, or its area, and its level it has to."""

TAILS_M = 5.0
"""Length of the tails of each loop where none is given, metres one way."""


def survey_from_schedule(
    schedule: str | Path | pd.DataFrame,
    catalogue: str | Path | Catalogue,
    outdoor_c: float,
    flow_temp_c: float,
    *,
    columns: Mapping[str, str] | None = None,
    heat_w_m2: float | None = None,
    profile: str | None = None,
    tails_m: float = TAILS_M,
    name: str = "Estimate",
    delta_t_k: float = Project.delta_t_k,
) -> Survey:
    """A survey for a first quotation from a schedule of rooms: one loop for each room, without surveyed walls.

    Parameters
    ----------
    schedule : str, pathlib.Path or pandas.DataFrame
        A row for each room, as a CSV file with commas, the first sheet of a workbook, or a data frame. Columns: `name`,
        `indoor_c` in °C, `estimated_wall_m` (wall that can carry skirting, in m), and `heat_loss_w` in W or `area_m2`;
        `level_m` where needed. Other columns are ignored.
    catalogue : str, pathlib.Path or Catalogue
        The catalogue, or its file.
    outdoor_c : float
        Design outdoor temperature in °C.
    flow_temp_c : float
        Flow temperature at the source in °C.
    columns : mapping of str to str, optional
        Heading in the schedule for each of these column names, where it differs.
    heat_w_m2 : float, optional
        Heat loss per floor area in W/m², for rooms of which only the area is known.
    profile : str, optional
        Profile of the catalogue; default: its first.
    tails_m : float, default 5.0
        Length of the tails of each loop in m, one way.
    name : str, default "Estimate"
        Title of the report.
    delta_t_k : float, default 7.0
        Design drop of the loops in K.

    Returns
    -------
    Survey

    Raises
    ------
    InputError
        If the schedule has no such columns, or the survey has faults; all of them are listed.

    Examples
    --------
    >>> import heatloop as hl, pandas as pd
    >>> rooms = pd.DataFrame({"Room": ["Den", "Hall"], "C": [20, 18], "W": [500, 300], "wall": [6.0, 4.0]})
    >>> survey = hl.survey_from_schedule(
    ...     rooms, "data/alder-lodge/catalogue.toml", -3.0, 50.0,
    ...     columns={"name": "Room", "indoor_c": "C", "heat_loss_w": "W", "estimated_wall_m": "wall"},
    ... )
    >>> [room.heat_loss_w for room in survey.rooms]
    [500.0, 300.0]
    """
    file = str(schedule) if isinstance(schedule, str | Path) else "schedule"
    headings, rows = _table(Path(schedule)) if isinstance(schedule, str | Path) else _of_frame(schedule)
    places = _places(file, headings, columns or {}, heat_w_m2)
    stock = catalogue if isinstance(catalogue, Catalogue) else read_catalogue(catalogue)
    chosen = profile or next((stocked.name for stocked in stock.profiles), "")
    rooms, loops = [], []
    for row in rows:
        held = {key: row[place] for key, place in places.items() if place < len(row) and not is_blank(row[place])}
        if not held:
            continue
        values = {key: str(value).strip() if key in TEXTS else _number(value) for key, value in held.items()}
        area_m2 = values.pop("area_m2", None)
        if "heat_loss_w" not in values and heat_w_m2 is not None and isinstance(area_m2, float):
            values["heat_loss_w"] = round(area_m2 * heat_w_m2, 1)
        if "heat_loss_w" in values:
            values["heat_loss_source"] = f"list of rooms, {Path(file).name}"
        drafted_room = room(values.pop("name", ""), values.pop("indoor_c", None), **values)  # type: ignore[arg-type]
        rooms.append(drafted_room)
        loops.append(_loop(drafted_room.name, chosen, tails_m, stock, drafted_room))
    return survey(name, outdoor_c, flow_temp_c, rooms, loops, catalogue, delta_t_k=delta_t_k)


def _loop(name: str, profile: str, tails_m: float, stock: Catalogue, row: Any) -> Loop:
    """A loop of one room with the first pipe of the catalogue, its first thermostatic and its first other valve."""
    pipe = next((item.name for item in stock.pipes), "")
    closing = next((item.name for item in stock.valves if item.kvs_m3_h is not None), None)
    setting = next((item.name for item in stock.valves if item.kvs_m3_h is None), None)
    return loop(
        name, profile, tails(pipe, tails_m), row, valves=valves(closing, setting), crossing=crossing(pipe),
        sensor_room=name if closing else None,
    )  # fmt: skip


def _number(value: Any) -> Any:
    """A cell as a Python number; any other text unchanged, so that it is reported."""
    if isinstance(value, str):
        try:
            return float(value)
        except ValueError:
            return value.strip()
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def _places(
    file: str, headings: tuple[Any, ...], columns: Mapping[str, str], heat_w_m2: float | None
) -> dict[str, int]:
    """The column of each key; InputError where a required column is missing."""
    named = [str(heading).strip() for heading in headings]
    issues = [
        InputIssue(file, "columns", f'"{brief(key)}"', closest_name("a column of a list of rooms", key, KEYS))
        for key in columns
        if key not in KEYS
    ]
    needed = ["name", "indoor_c", "estimated_wall_m", "area_m2" if heat_w_m2 is not None else "heat_loss_w"]
    if heat_w_m2 is not None and columns.get("heat_loss_w", "heat_loss_w") in named:
        needed.remove("area_m2")
    for key in (key for key in KEYS if key in needed or key in columns):
        heading = columns.get(key, key)
        if heading not in named:
            nearest = closest_name("a heading of the list of rooms", heading, named)
            required = f"{nearest}; or --column {key}=HEADING (in Python: columns)"
            issues.append(InputIssue(file, f"the column {key}", f'no heading "{brief(heading)}"', required))
    if issues:
        raise InputError(issues)
    return {key: named.index(columns.get(key, key)) for key in KEYS if columns.get(key, key) in named}


def _table(path: Path) -> tuple[tuple[Any, ...], list[tuple[Any, ...]]]:
    """Headings and rows of a CSV file, or of the first sheet of a workbook."""
    if not is_workbook(path):
        import csv

        records = csv.reader(input_text(path, "a CSV file of rooms").splitlines(), skipinitialspace=True)
        lines: list[tuple[Any, ...]] = [tuple(record) for record in records if any(map(str.strip, record))]
    else:
        title = sheet_titles(path)[0]
        page = next(page for page in workbook_pages(path, (title,)) if page.is_known)
        cells: dict[int, dict[int, Any]] = {}
        for row, column, value, _ in page.cells:
            cells.setdefault(row, {})[column] = value
        width = max((column for held in cells.values() for column in held), default=0)
        lines = [tuple(held.get(place) for place in range(1, width + 1)) for _, held in sorted(cells.items())]
    if not lines:
        raise file_error(path, "", "no table", f"a header row, such as {', '.join(KEYS[:4])}, and a row for each room")
    return lines[0], lines[1:]


def _of_frame(frame: pd.DataFrame) -> tuple[tuple[Any, ...], list[tuple[Any, ...]]]:
    """Headings and rows of a data frame, blank cells as None."""
    rows = [tuple(None if cell != cell else cell for cell in row) for row in frame.astype(object).to_numpy().tolist()]
    return tuple(frame.columns), rows
