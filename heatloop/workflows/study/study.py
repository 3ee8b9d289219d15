"""A study of many dwellings: begun, continued and read."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cache, partial
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.findings.input_errors import InputError, InputIssue, check_given, quoted_value
from heatloop.report.files.export import ReportError
from heatloop.report.files.marked import write_own
from heatloop.results.many_dwellings.study_result import StudyResult, StudyTables
from heatloop.survey.editing import Survey
from heatloop.survey.survey import SurveyData
from heatloop.text.files import UnusableFile, file_bytes
from heatloop.text.formatting import number
from heatloop.text.quoting import single_line
from heatloop.workflows.many_dwellings.size_many import LOT_SIZE
from heatloop.workflows.study.case_table import table_cases
from heatloop.workflows.study.cases import Case, at_flow_temps, folder_cases, is_single_survey, listed_cases, short_name
from heatloop.workflows.study.executors import default_processes, run_here, run_in_processes, run_on
from heatloop.workflows.study.folder import MANIFEST, Manifest, done_tasks, opened, read_manifest, read_table
from heatloop.workflows.study.kinds import named_files
from heatloop.workflows.study.task import TASK_SIZE, Task

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from heatloop.report.plots.figure import Figure
    from heatloop.report.plots.palette import Style

KEPT = "the results so far are kept, and the same study continues with them"


@dataclass(frozen=True, eq=False, repr=False)
class Study(StudyResult):
    """A study of many dwellings, from :func:`heatloop.study` or :func:`heatloop.read_study`.

    Each table is read from the folder when it is first used.

    Attributes
    ----------
    folder : str
        The folder of the results.
    complete : bool
        Whether all dwellings of the study are in it.
    dwellings, rooms, loops, unmet_checks, faults : pandas.DataFrame
        Rows as of :func:`heatloop.size_many`, in the order of the cases; the dwellings also with their survey and the
        values that differ from it.
    by_flow_temp : pandas.DataFrame
        Numbers of cases by outcome of the checks that are made, by flow temperature.
    failed_or_not_sized : pandas.DataFrame
        What each case with a failed check or an error lacks: rooms short of heat and failed checks, or its error.
    check_counts : pandas.DataFrame
        Number of cases that do not meet each check.
    summary : dict
        Numbers of cases by outcome; `no_failed_check` counts those with cautions too.

    Notes
    -----
    A study does not make all checks of a design: thermal movement, the closed system and checks that require other
    states of the system are made by :func:`heatloop.size` only, which gives the verdict of a design.

    Examples
    --------
    >>> import heatloop as hl
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     found = hl.study(["data/mill-annexe/survey.toml"], folder, flow_temps_c=[45.0, 70.0])
    ...     found.by_flow_temp["no_failed_check"].tolist()
    [0, 1]
    """

    def html(self) -> str:
        """The study as one self-contained HTML page: cases with no failed check, and what the others lack.

        Returns
        -------
        str

        Examples
        --------
        >>> import heatloop as hl
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.study(["data/mill-annexe/survey.toml"], folder).html()[:15]
        '<!doctype html>'
        """
        from heatloop.report.study.page import study_page  # here, as workers draw nothing

        return study_page(self)

    def plot(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Share of the cases with no failed check by flow temperature; at one temperature, cases by outcome.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw into; default: a new figure.
        style : {"report", "own"}, default "report"
            Settings of matplotlib: those of the report, or the caller's own.

        Returns
        -------
        Figure

        Examples
        --------
        >>> import heatloop as hl
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.study("data/mill-annexe/survey.toml", folder, flow_temps_c=[45.0, 70.0]).plot().alt_text
        'Share of the cases with no failed check by flow temperature. 45.0 °C: 0 %; 70.0 °C: 100 %.'
        """
        from heatloop.report.plots.study_outcomes import study_plot  # here, as workers draw nothing

        return study_plot(self, ax, style)


def study(
    surveys: str | Path | Iterable[Survey | str | Path],
    folder: str | Path,
    *,
    flow_temps_c: Sequence[float] = (),
    executor: Executor | int | None = None,
    task_size: int = TASK_SIZE,
    progress: Callable[[str], None] | None = None,
) -> Study:
    """Size many dwellings and write their results into a folder; continue a study that was interrupted.

    Parameters
    ----------
    surveys : str, pathlib.Path or iterable of Survey, str or pathlib.Path
        A folder of survey files, a table of cases (CSV or .xlsx), a survey file, or a list of surveys. A table has a
        row for each case: the path of its survey relative to the table in `survey`, a name in `name` (optional), and
        in each other column the values of a key of the survey, such as `project.flow_temp_c`, `project.delta_t_k`
        or `room.Hall.indoor_c`. A blank cell keeps the value of the survey.
    folder : str or pathlib.Path
        Folder for the results: empty, new, or that of the same study.
    flow_temps_c : sequence of float, optional
        Flow temperatures in °C: each survey is sized at each of them. By default at its own.
    executor : concurrent.futures.Executor or int, optional
        Where the work is done: an executor, or a number of processes on this machine; 1 for this process.
        By default as many processes as there are processors.
    task_size : int, default 160
        Number of cases in one task. Results are stored each time a task is complete.
    progress : callable, optional
        Called with a text about the progress.

    Returns
    -------
    Study

    Raises
    ------
    InputError
        If an argument or the table is wrong, with every error; nothing is then calculated. Errors in a survey raise no
        exception: they are rows of the table `faults`.
    ReportError
        If the folder holds another study or other files, cannot be written, or a library is missing.

    See Also
    --------
    size_many : Size many dwellings, with the results in memory.
    read_study : Read the results of a study.

    Notes
    -----
    In a script, processes require that the call is below ``if __name__ == "__main__":``. Processes on other machines
    require the surveys and the folder under the same paths.

    Examples
    --------
    >>> import heatloop as hl
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     found = hl.study("data/mill-annexe", folder, flow_temps_c=[45.0, 55.0, 70.0])
    ...     found.dwellings[["dwelling", "verdict", "short_rooms"]].values.tolist()
    [['survey at 45 °C', 'fail', 1], ['survey at 55 °C', 'fail', 1], ['survey at 70 °C', 'caution', 0]]
    """
    check_given(
        "study",
        surveys=(surveys, Iterable | Path, "a folder, a table, a survey file, or a list of surveys"),
        folder=(folder, str | Path, "the path of a folder"),
        flow_temps_c=(flow_temps_c, Sequence, "a list of temperatures in °C"),
        executor=(executor, Executor | int | None, "an executor, or a number of processes"),
        task_size=(task_size, int, "a whole number of cases"),
    )
    for name, count in (("executor (--jobs)", executor), ("task_size", task_size)):
        if isinstance(count, int) and (isinstance(count, bool) or count < 1):
            raise InputError([InputIssue("study", name, quoted_value(count), "at least 1")])
    _require_pyarrow()
    results = Path(folder)
    say = progress or (lambda _: None)
    say("listing the surveys")
    cases = at_flow_temps(_cases(surveys, results), flow_temps_c)
    manifest = _manifest(cases, task_size)
    with opened(results, manifest) as missing:
        try:
            _run(cases, missing, results, executor, task_size, say)
        except BaseException as error:
            error.add_note(KEPT)
            raise
        found = read_study(results)
        say("writing the page")
        from heatloop.report.study.page import MARKER, PAGE  # here, as pictures are drawn only at the end

        write_own(results, {PAGE: found.html()}, MARKER)
    return found


def read_study(folder: str | Path) -> Study:
    """Read the results of a study, also of one that is not complete.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder of the results.

    Returns
    -------
    Study

    Raises
    ------
    ReportError
        If the folder has no study, or a library is missing.

    See Also
    --------
    study : Size many dwellings and write their results.

    Examples
    --------
    >>> import heatloop as hl
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = hl.study(["data/mill-annexe/survey.toml"], folder)
    ...     hl.read_study(folder).summary["dwellings"]
    1
    """
    _require_pyarrow()
    place = Path(folder)
    manifest = read_manifest(place)
    if manifest is None:
        raise ReportError(f"{single_line(str(place))}: found no {MANIFEST}; required: the folder of a study")
    done = sorted(number for number in done_tasks(place) if number < manifest.tasks)
    return Study(StudyTables(partial(read_table, place, done)), str(place), len(done) == manifest.tasks)


def _run(
    cases: Sequence[Case],
    missing: Sequence[int],
    folder: Path,
    executor: Executor | int | None,
    task_size: int,
    say: Callable[[str], None],
) -> None:
    """Run the tasks that are not done."""
    run, place = uuid.uuid4().hex, str(folder.absolute())
    tasks = (Task(n, tuple(cases[n * task_size : (n + 1) * task_size]), place, run) for n in missing)
    done = len(cases) - sum(len(cases[n * task_size : (n + 1) * task_size]) for n in missing)
    say(f"{number(done)} of {number(len(cases))} cases")
    for count in _running(tasks, len(missing), executor):
        done += count
        say(f"{number(done)} of {number(len(cases))} cases")


def _running(tasks: Iterator[Task], count: int, executor: Executor | int | None) -> Iterator[int]:
    if isinstance(executor, Executor):
        return run_on(executor, tasks)
    processes = min(count, default_processes() if executor is None else executor)
    return run_here(tasks) if processes <= 1 else run_in_processes(tasks, processes)


def _cases(surveys: str | Path | Iterable[object], results: Path) -> list[Case]:
    if isinstance(surveys, SurveyData) or not isinstance(surveys, str | Path):
        return listed_cases([surveys] if isinstance(surveys, SurveyData) else surveys)
    path = Path(surveys)
    if path.is_dir():
        return folder_cases(path, results)
    if not is_single_survey(path):
        return table_cases(path)
    (case,) = listed_cases([surveys])
    return [replace(case, name=short_name("/".join(path.absolute().parts[-2:])))]


def _manifest(cases: Sequence[Case], task_size: int) -> Manifest:
    """The manifest of a study: it depends on the cases, and on the contents of their files and catalogues."""

    @cache
    def content(path: Path) -> str:
        try:
            return hashlib.sha256(file_bytes(path)).hexdigest()
        except (OSError, ValueError, UnusableFile):  # its fault is a row of the results
            return "not readable"

    @cache
    def survey_content(path: Path) -> tuple[str, ...]:
        return content(path), *(content(named) for named in named_files(path))

    described, files = hashlib.sha256(), hashlib.sha256()
    for case in cases:
        described.update(json.dumps([case.name, case.origin, case.changes_text]).encode())
        if isinstance(case.survey, Path):
            named = [case.survey.parent / str(value) for keys, value in case.changes if keys[-1] == "catalogue"]
            parts = (*survey_content(case.survey), *map(content, named))
        else:
            parts = (hashlib.sha256(repr(case.survey).encode()).hexdigest(),)
        files.update(json.dumps(parts).encode())
    version = metadata.version("heatloop")
    return Manifest(version, len(cases), described.hexdigest(), files.hexdigest(), LOT_SIZE, task_size)


def _require_pyarrow() -> None:
    try:
        import pyarrow.parquet  # noqa: F401  here, because only studies require it
    except ModuleNotFoundError:
        how = 'pip install "heatloop[study]", or pip install -e ".[study]" in a checkout'
        reason = 'requires pyarrow, which is not installed; install heatloop with its optional part "study"'
        raise ReportError(f"study: {reason}: {how}") from None
