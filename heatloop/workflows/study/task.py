"""One task of a study: its cases sized and written, in whichever process it runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from heatloop.findings.input_errors import InputError
from heatloop.results.many_dwellings.sized_dwellings import NOT_SIZED, SizedDwellings
from heatloop.results.many_dwellings.study_result import STORED
from heatloop.survey.survey import SurveyData
from heatloop.workflows.many_dwellings.size_many import LOT_SIZE, size_many
from heatloop.workflows.study.cases import Case
from heatloop.workflows.study.folder import write_task

TASK_SIZE = 2 * LOT_SIZE
"""Dwellings of a task, some seconds of work: less than a thousandth is lost by handing it out, and little by a stop."""


@dataclass(frozen=True)
class Task:
    """The cases of a task, and the folder of the results. `run`: the same text for all tasks of a run."""

    number: int
    cases: tuple[Case, ...]
    folder: str
    run: str


def run_task(task: Task) -> int:
    """Size the cases of a task, write their rows, and return their number."""
    write_task(Path(task.folder), task.number, case_rows(task.cases))
    return len(task.cases)


def case_rows(cases: Sequence[Case]) -> dict[str, pd.DataFrame]:
    """The rows of these cases by table, in their order."""
    surveys: list[SurveyData | Path] = []
    read: list[Case] = []
    faulty: list[tuple[Case, Exception]] = []
    held: tuple[object, SurveyData] | None = None
    for case in cases:
        if not case.changes:
            surveys.append(case.survey)
            read.append(case)
            continue
        try:
            if held is None or held[0] != case.survey:  # successive cases of one survey read it once
                held = case.survey, case.read()
            surveys.append(case.changed(held[1]))
            read.append(case)
        except (InputError, ArithmeticError) as error:
            faulty.append((case, error))
    parts = [lot.frames for lot in _sized(surveys, [case.name for case in read])]
    parts += [_fault_rows(case.name, error) for case, error in faulty]
    order = {case.name: place for place, case in enumerate(cases)}
    frames = {}
    for description in STORED:
        filled = [part[description.name] for part in parts if len(part[description.name])]
        frame = pd.concat(filled, ignore_index=True) if filled else parts[0][description.name]
        places = frame["dwelling"].map(order).to_numpy(float)
        frames[description.name] = frame.iloc[np.argsort(places, kind="stable")].reset_index(drop=True)
    frames["dwellings"] = _with_cases(frames["dwellings"], frames["faults"], cases)
    return frames


def _sized(surveys: Sequence[SurveyData | Path], names: Sequence[str]) -> Iterator[SizedDwellings]:
    """The rows of the surveys in lots. If an error of the program stops a lot, its dwellings are sized one by one."""
    for first in range(0, len(surveys), LOT_SIZE):
        some, their_names = surveys[first : first + LOT_SIZE], names[first : first + LOT_SIZE]
        try:
            yield from size_many(some, their_names)  # type: ignore[arg-type]
        except (OSError, MemoryError):
            raise
        except Exception:  # of any kind: it must not stop thousands of others
            for survey, name in zip(some, their_names, strict=True):
                yield _alone(survey, name)


def _alone(survey: SurveyData | Path, name: str) -> SizedDwellings:
    try:
        return next(size_many([survey], [name]))  # type: ignore[list-item]
    except (OSError, MemoryError):
        raise
    except Exception as error:  # of any kind: it is the fault of this dwelling
        words = " ".join(str(error).split())
        return SizedDwellings(_fault_rows(name, RuntimeError(f"error of the program: {type(error).__name__}: {words}")))


def _fault_rows(name: str, error: Exception) -> dict[str, pd.DataFrame]:
    """The rows of a dwelling that cannot be sized, one in `faults` for each line of the error."""
    lines = str(error).splitlines() or [type(error).__name__]
    columns: dict[str, Mapping[str, list[str]]] = {
        "faults": {"dwelling": [name] * len(lines), "fault": lines},
        "dwellings": {"dwelling": [name], "sizing": [NOT_SIZED], "verdict": [""], "index_loop": [""]},
    }
    return SizedDwellings.of_columns([columns]).frames  # type: ignore[list-item]


def _with_cases(dwellings: pd.DataFrame, faults: pd.DataFrame, cases: Sequence[Case]) -> pd.DataFrame:
    """The dwellings with survey, changes and first fault, and the flow temperature of those that cannot be sized."""
    first = faults.drop_duplicates("dwelling").set_index("dwelling")["fault"].to_dict()
    changed = pd.Series([case.flow_temp_c for case in cases], dwellings.index, dtype=float)
    return dwellings.assign(
        survey=[case.origin for case in cases],
        changes=[case.changes_text for case in cases],
        fault=[first.get(name, "") for name in dwellings["dwelling"]],
        flow_temp_c=dwellings["flow_temp_c"].fillna(changed),
    )
