"""The cases of a study: each is a survey with changed values, from a folder, a table, a file or a list."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.survey.editing import Survey
from heatloop.survey.entry import as_survey, read_survey
from heatloop.survey.survey import SurveyData, at_flow_temp
from heatloop.survey.toml.input_text import file_error
from heatloop.survey.workbook.read_workbook import is_workbook
from heatloop.workflows.study.kinds import is_other_file, is_survey_workbook

FLOW_TEMP = ("project", "flow_temp_c")
MIN_FLOW_C, MAX_FLOW_C = 20.0, 110.0

Keys = tuple[str | int, ...]
"""The keys that lead to a value of a survey: an item of a list by its name, or its number from 1."""


@dataclass(frozen=True)
class Case:
    """One dwelling of a study.

    `survey`: the absolute path of its file, or the survey itself. `origin`: the survey as the results name it.
    `changes`: the values that differ from the survey, each with its keys.
    """

    name: str
    survey: Path | SurveyData
    origin: str
    changes: tuple[tuple[Keys, Any], ...] = ()

    @property
    def changes_text(self) -> str:
        """The changed values in words: `project.flow_temp_c = 45`."""
        return "; ".join(f"{'.'.join(map(str, keys))} = {_shown(value)}" for keys, value in self.changes)

    @property
    def flow_temp_c(self) -> float | None:
        """The changed flow temperature; None if it is that of the survey."""
        return next((float(value) for keys, value in self.changes if keys == FLOW_TEMP), None)

    def changed(self, survey: SurveyData) -> Survey:
        """The survey with the changed values of this case, checked. InputError with all faults.

        Loops with a flow temperature of their own above a changed flow temperature of the source are lowered to it.
        """
        base = survey if self.flow_temp_c is None else at_flow_temp(survey, self.flow_temp_c)
        changes: dict[str | int, Any] = {}
        for keys, value in self.changes:
            table = changes
            for key in keys[:-1]:
                table = table.setdefault(key, {})
            table[keys[-1]] = value
        return as_survey(base).with_values(changes)  # type: ignore[arg-type]

    def read(self) -> SurveyData:
        """The survey without the changes."""
        return read_survey(self.survey) if isinstance(self.survey, Path) else self.survey


def folder_cases(folder: Path, results: Path) -> list[Case]:
    """The surveys in a folder and its subfolders, in the order of their paths.

    Catalogues, year files and price workbooks are not surveys. The folder `results` is left out.
    """
    paths = [path for path in _files_below(folder, results.absolute()) if not is_other_file(path)]
    if not paths:
        raise file_error(folder, "", "no survey", "a folder with survey files (TOML or .xlsx)")
    shown = [path.relative_to(folder).as_posix() for path in paths]
    return [Case(name, path.absolute(), at) for name, path, at in zip(_names(shown), paths, shown, strict=True)]


def listed_cases(surveys: Iterable[object]) -> list[Case]:
    """Surveys and paths of survey files, in their order. InputError where one is neither, or there is none."""
    held = list(surveys)
    issues = [
        InputIssue("study", f"survey {number}", quoted_value(item), "a Survey, or the path of a survey file")
        for number, item in enumerate(held, start=1)
        if not isinstance(item, SurveyData | str | Path)
    ]
    if not held:
        issues.append(InputIssue("study", "surveys", "no survey", "at least one"))
    if issues:
        raise InputError(issues)
    origins = [item.project.name if isinstance(item, SurveyData) else Path(str(item)).as_posix() for item in held]
    names = _names(origins)
    return [
        Case(name, item if isinstance(item, SurveyData) else Path(str(item)).absolute(), origin)
        for name, item, origin in zip(names, held, origins, strict=True)
    ]


def is_single_survey(path: Path) -> bool:
    """Whether a file is one survey, and not a table of cases."""
    return path.suffix.lower() == ".toml" or (is_workbook(path) and is_survey_workbook(path))


def at_flow_temps(cases: Sequence[Case], flow_temps_c: Sequence[float]) -> list[Case]:
    """Each case at each of these flow temperatures; the cases themselves if there are none."""
    issues = [
        InputIssue("study", "flow_temps_c", quoted_value(temp), f"numbers from {MIN_FLOW_C:g} to {MAX_FLOW_C:g} °C")
        for temp in flow_temps_c
        if not is_number(temp) or not MIN_FLOW_C <= temp <= MAX_FLOW_C
    ]
    if flow_temps_c and any(case.flow_temp_c is not None for case in cases):
        found = "flow temperatures in a column of the table, too"
        issues.append(InputIssue("study", "flow_temps_c", found, "them in one of both places"))
    if issues:
        raise InputError(issues)
    temps = sorted(dict.fromkeys(map(float, flow_temps_c)))
    if not temps:
        return list(cases)
    return [
        replace(case, name=f"{case.name} at {temp:g} °C", changes=(*case.changes, (FLOW_TEMP, temp)))
        for case in cases
        for temp in temps
    ]


def short_name(path: str) -> str:
    """The name of a survey file for a table: its path without its ending, and without a last part `survey`."""
    stem = path.rsplit("/", 1)[-1].rpartition(".")[0]
    bare = path[: len(path) - len(path.rsplit("/", 1)[-1])] + stem if stem else path
    return bare.removesuffix("/survey") if bare.count("/") else bare


def unique(names: Iterable[str]) -> list[str]:
    """The names, each that occurs again with a number after it."""
    used: set[str] = set()
    found = []
    for name in names:
        free, number = name, 1
        while free in used:
            number += 1
            free = f"{name} ({number})"
        used.add(free)
        found.append(free)
    return found


def _names(shown: Sequence[str]) -> list[str]:
    """Short names; the path itself where two would be the same."""
    short = [short_name(path) for path in shown]
    count = Counter(short)
    return unique(name if count[name] == 1 else path for name, path in zip(short, shown, strict=True))


def _files_below(folder: Path, results: Path) -> Iterator[Path]:
    found = []
    for top, folders, files in os.walk(folder):
        here = Path(top)
        folders[:] = [name for name in folders if not name.startswith(".") and (here / name).absolute() != results]
        found += [here / name for name in files if name.lower().endswith((".toml", ".xlsx"))]
    yield from sorted(path for path in found if not path.name.startswith((".", "~$")))


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
