"""Watch a survey file while it is edited, and draw its plan again each time it is saved."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from pathlib import Path

from heatloop.findings.input_errors import InputError
from heatloop.report.drawings.survey_plan.picture import MARKER, SurveyPlan
from heatloop.report.files.marked import require_own, write_own
from heatloop.survey.toml.input_text import file_error
from heatloop.text.quoting import single_line
from heatloop.workflows.surveying.plan import behind_fault, plan

PAGE, PICTURE, NEWS = "plan.html", "plan.svg", "plan.js"

LOOK_S = 0.05
"""Time between two checks of the file: a check takes a few microseconds, on a network drive less than a millisecond."""

Stamp = tuple[int, int, int]


def write_plan(drawn: SurveyPlan, folder: Path) -> tuple[Path, ...]:
    """Write page and picture of a plan; ReportError where another file has the name, or it cannot be written."""
    return write_own(folder, {PAGE: drawn.html(), PICTURE: drawn.svg()}, MARKER)


def watch_plan(
    path: Path, folder: Path, ended: Callable[[], bool] = lambda: False
) -> Generator[SurveyPlan, None, None]:
    """Draw the plan of a file now and each time it is saved; yield each plan after it is written.

    The page in the folder loads every new plan. Editors that save by renaming leave no file for a moment; the function
    waits for it. `ended` is called between checks. When the watch ends, the page keeps the last plan. Raises InputError
    where there is no such file at the start, and ReportError as :func:`write_plan`.
    """
    require_own(folder, (PAGE, PICTURE, NEWS), MARKER)
    if not path.is_file():
        raise file_error(path, "", "no such file", "the path of a survey file, TOML or .xlsx")
    seen: Stamp | None = None
    shown: SurveyPlan | None = None
    try:
        while not ended():
            stamp = _stamp(path)
            if stamp is None or stamp == seen:
                time.sleep(LOOK_S)
                continue
            seen = stamp
            try:
                drawn = plan(path)
            except InputError:  # the file was renamed after the check and before reading
                seen = None
                continue
            shown = drawn if shown is None else behind_fault(shown, drawn)
            _write(shown, path, folder, stamp)
            yield shown
    finally:
        if shown is not None:
            write_plan(shown, folder)
            news = shown.news("", "ended", ended=True)
            write_own(folder, {NEWS: news}, MARKER)


def _stamp(path: Path) -> Stamp | None:
    """A value that changes when a file is saved, in place or by renaming; None while there is no file."""
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_mtime_ns, state.st_size, state.st_ino


def _write(drawn: SurveyPlan, path: Path, folder: Path, stamp: Stamp) -> None:
    words = f"Watching {single_line(path.name)}: the plan follows each time it is saved."
    text = "-".join(map(str, stamp))
    contents: dict[str, str | bytes] = {NEWS: drawn.news(words, text, ended=False), PICTURE: drawn.svg()}
    write_own(folder, {**contents, PAGE: drawn.html(words, text)}, MARKER)
