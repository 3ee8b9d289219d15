"""Commands for a survey that is being taken or entered: plan, form."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.cli.command import DONE, exit_status, output_argument, path_words, survey_argument

if TYPE_CHECKING:
    from heatloop.report.drawings.survey_plan.picture import SurveyPlan

FORMS = "survey-forms.pdf"


def plan_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `plan`."""
    survey_argument(parser)
    output_argument(parser)
    parser.add_argument(
        "--watch", action="store_true", help="draw the plan again each time the survey is saved; stop with Ctrl-C"
    )


def run_plan(arguments: argparse.Namespace) -> int:
    """Run `plan`."""
    from heatloop.workflows.surveying.plan import plan
    from heatloop.workflows.surveying.watch import PAGE, PICTURE, write_plan

    survey: Path = arguments.survey
    folder: Path = arguments.output
    if arguments.watch:
        return _watch(survey, folder)
    drawn = plan(survey)
    write_plan(drawn, folder)
    print(path_words(folder / PAGE), path_words(folder / PICTURE), sep="\n")
    _print(drawn)
    return exit_status(drawn.issues)


def _print(drawn: SurveyPlan) -> None:
    """Rooms and faults in a line, and each fault by its number on the plan."""
    print(drawn.standing, *drawn.notes, sep="\n")
    for remark in drawn.remarks:
        print(f"  {remark.number}  {remark.words}")


def _watch(survey: Path, folder: Path) -> int:
    from heatloop.workflows.surveying.watch import PAGE, watch_plan

    plans = watch_plan(survey, folder)
    try:
        _print(next(plans))
        print(f"Open {path_words(folder / PAGE)} in a browser; stop with Ctrl-C.", flush=True)
        for drawn in plans:
            print(drawn.standing, flush=True)
    except BaseException as error:  # Ctrl-C is the end of a watch and no failure, whatever it is raised as
        plans.close()
        if isinstance(error, Exception | SystemExit):
            raise
        print("No longer watching.", flush=True)
    return DONE


def form_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `form`."""
    parser.add_argument(
        "survey",
        metavar="SURVEY",
        type=Path,
        nargs="?",
        help="a survey (TOML or .xlsx); its rooms are filled in on the forms",
    )
    output_argument(parser)
    parser.add_argument(
        "--large-plans",
        action="store_true",
        help="add a page with a larger plan of each room whose plan does not fit at 1:50 (drawn at 1:100, for example)",
    )
    parser.add_argument(
        "--rooms",
        metavar="N",
        type=int,
        help="number of blank sheets, one for each room; only without SURVEY (default: 4)",
    )


def run_form(arguments: argparse.Namespace) -> int:
    """Run `form`."""
    from heatloop.report.files.marked import write_own
    from heatloop.survey.toml.input_text import file_error
    from heatloop.text.formatting import plural
    from heatloop.workflows.surveying.form import ROOMS, form

    if arguments.survey is not None and arguments.rooms is not None:
        raise file_error("form", "--rooms", "beside SURVEY", "one of them: a survey has as many sheets as rooms")
    if arguments.survey is None and arguments.large_plans:
        raise file_error("form", "--large-plans", "no SURVEY", "a survey, whose rooms are drawn")
    rooms = ROOMS if arguments.rooms is None else arguments.rooms
    forms = form(arguments.survey, rooms, large_plans=arguments.large_plans)
    (path,) = write_own(arguments.output, {FORMS: forms.pdf()}, "/Creator (heatloop)", "heatloop form")
    print(f"{path_words(path)}: {plural(len(forms.sheets), 'sheet')} of A4, to be printed at 100 %")
    return DONE
