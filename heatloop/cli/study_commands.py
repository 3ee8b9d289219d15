"""Commands that study one survey, or many: improve and study."""

from __future__ import annotations

import argparse
from pathlib import Path

from heatloop.cli.command import answer, exit_status, json_argument, path_words, require_writable, survey_argument
from heatloop.report.files.progress import spinner


def improve_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `improve`."""
    survey_argument(parser)
    parser.add_argument(
        "--prices", metavar="FILE", type=Path, help="the price file (CSV or .xlsx), to rank remedies by price"
    )
    parser.add_argument(
        "--flow-temp",
        metavar="C",
        type=float,
        action="append",
        default=[],
        help="find the cheapest changed design in which no check fails at this flow temperature, °C, instead of that "
        "of the survey; for several temperatures, repeat the option",
    )
    parser.add_argument(
        "--cheapest",
        action="store_true",
        help="find the cheapest changed design in which no check fails, at the flow temperature of the survey (not "
        "required with --flow-temp)",
    )
    parser.add_argument(
        "--year",
        metavar="FILE",
        type=Path,
        help="the year file (TOML): also list the cost of the energy of a year for each cheapest design",
    )
    parser.add_argument(
        "--apply",
        metavar="N",
        type=int,
        action="append",
        default=[],
        help="number of a remedy to apply; to apply several remedies, repeat the option",
    )
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        type=Path,
        help="the new survey file (TOML or .xlsx) for --apply, --cheapest or --flow-temp; with several --flow-temp, "
        "the survey for the lowest of them. An existing file is never overwritten",
    )
    json_argument(parser)


def run_improve(arguments: argparse.Namespace) -> int:
    """Run `improve`."""
    from heatloop.survey.converting import write_survey
    from heatloop.survey.toml.input_text import file_error
    from heatloop.workflows.design import size
    from heatloop.workflows.improve.improve import improve

    output: Path | None = arguments.output
    is_search = arguments.cheapest or bool(arguments.flow_temp)
    if arguments.apply and arguments.cheapest:
        raise file_error("improve", "", "--apply and --cheapest", "one of them")
    if arguments.apply and output is None:
        raise file_error("improve", "", "--apply without -o", "-o FILE, a new file for the changed survey")
    if output is not None and not arguments.apply and not is_search:
        required = "the remedies to apply, --cheapest or --flow-temp"
        raise file_error("improve", "", "-o without --apply, --cheapest or --flow-temp", required)
    if output is not None and output.exists():
        raise file_error(output, "", "a file there already", "another name: nothing is overwritten")
    require_writable(arguments.json, *filter(None, (arguments.survey, arguments.prices, arguments.year)))
    temps_c = arguments.flow_temp or (None if arguments.cheapest else ())
    with spinner(f"sizing {arguments.survey.name}") as say:
        found = improve(arguments.survey, arguments.prices, temps_c, progress=say, year=arguments.year)
    answer(arguments.json, found)
    if output is None:
        return exit_status(found.summary["checks_failed"])
    if arguments.apply:
        changed = found.with_remedies(*arguments.apply)
    else:
        changed = found.cheapest_survey(min(arguments.flow_temp, default=None))
    verdict = size(changed).verdict
    write_survey(changed, output, keep_comments=True)
    remedies = found.remedies.set_index("number")["remedy"]
    print("", *(f"applied: {remedies[number]}" for number in arguments.apply), sep="\n")
    print(f"{path_words(output)}: {verdict.headline}")
    return exit_status(verdict.fails)


def study_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `study`."""
    parser.add_argument(
        "surveys",
        metavar="SURVEYS",
        type=Path,
        help="a folder of survey files, a table of cases (CSV or .xlsx), or a survey file",
    )
    parser.add_argument(
        "-o",
        "--output",
        metavar="RESULTS",
        type=Path,
        required=True,
        help="folder for the results: new, empty, or that of the same study, which is then continued",
    )
    parser.add_argument(
        "--flow-temp",
        metavar="C",
        type=float,
        action="append",
        default=[],
        help="size each survey at this flow temperature, °C; for several temperatures, repeat the option",
    )
    parser.add_argument(
        "--jobs", metavar="N", type=int, help="number of processes (default: as many as there are processors)"
    )
    parser.add_argument(
        "--task-size",
        metavar="N",
        type=int,
        help="number of cases in one task; results are stored each time a task is complete (default: 160)",
    )


def run_study(arguments: argparse.Namespace) -> int:
    """Run `study`."""
    from heatloop.workflows.study.study import study
    from heatloop.workflows.study.task import TASK_SIZE

    with spinner("listing the surveys") as say:
        found = study(
            arguments.surveys,
            arguments.output,
            flow_temps_c=arguments.flow_temp,
            executor=arguments.jobs,
            task_size=TASK_SIZE if arguments.task_size is None else arguments.task_size,
            progress=say,
        )
    print(found)
    return exit_status(found.summary["failed"] + found.summary["not_sized"])
