"""Commands for a survey that is being taken or entered: plan."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.cli.command import DONE, output_argument, path_words, standing, survey_argument

if TYPE_CHECKING:
    from heatloop.report.drawings.survey_plan.picture import SurveyPlan


def plan_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `plan`."""
    survey_argument(parser)
    output_argument(parser)
    parser.add_argument(
        "--watch", action="store_true", help="draw the plan again each time the survey is saved; Ctrl-C ends"
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
    return standing(drawn.issues)


def _print(drawn: SurveyPlan) -> None:
    """Rooms and faults in a line, and each fault by its number on the plan."""
    print(drawn.standing, *drawn.notes, sep="\n")
    for one in drawn.remarks:
        print(f"  {one.number}  {one.words}")


def _watch(survey: Path, folder: Path) -> int:
    from heatloop.workflows.surveying.watch import PAGE, watch_plan

    plans = watch_plan(survey, folder)
    try:
        _print(next(plans))
        print(f"Open {path_words(folder / PAGE)} in a browser; Ctrl-C ends.", flush=True)
        for drawn in plans:
            print(drawn.standing, flush=True)
    except BaseException as error:  # Ctrl-C is the end of a watch and no failure, whatever it is raised as
        plans.close()
        if isinstance(error, Exception | SystemExit):
            raise
        print("No longer watching.", flush=True)
    return DONE
