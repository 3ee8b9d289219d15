"""Commands that study a survey: improve."""

from __future__ import annotations

import argparse
from pathlib import Path

from heatloop.cli.command import answer, json_argument, path_words, room_for, standing, survey_argument
from heatloop.report.files.progress import spinner


def improve_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `improve`."""
    survey_argument(parser)
    parser.add_argument(
        "--prices", metavar="FILE", type=Path, help="the price file (CSV or .xlsx), to rank remedies by price"
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
        help="the new survey file for --apply (TOML or .xlsx). An existing file is never overwritten",
    )
    json_argument(parser)


def run_improve(arguments: argparse.Namespace) -> int:
    """Run `improve`."""
    from heatloop.survey.toml.input_text import file_error
    from heatloop.workflows.design import size
    from heatloop.workflows.improve.improve import improve

    output: Path | None = arguments.output
    if bool(arguments.apply) != (output is not None):
        given = "--apply without -o" if output is None else "-o without --apply"
        raise file_error("improve", "", given, "both: the remedies to apply, and a new file for the changed survey")
    if output is not None and output.exists():
        raise file_error(output, "", "a file there already", "another name: nothing is overwritten")
    room_for(arguments.json, arguments.survey)
    with spinner(f"sizing {arguments.survey.name}") as say:
        found = improve(arguments.survey, arguments.prices, say)
        changed = size(found.with_remedies(*arguments.apply))
        verdict = changed.verdict
    answer(arguments.json, found)
    if output is not None:
        found.save(output, *arguments.apply)
        remedies = found.remedies.set_index("number")["remedy"]
        print("", *(f"applied: {remedies[number]}" for number in arguments.apply), sep="\n")
        print(f"{path_words(output)}: {verdict.headline}")
    return standing(verdict.fails)
