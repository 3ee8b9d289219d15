"""Parts that all commands share: exit statuses, common arguments, the line on standard error."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.text.quoting import single_line

if TYPE_CHECKING:
    from heatloop.text.table_set import TableSet


DONE, FAILS_A_CHECK, WRONG_INPUT, INTERNAL_FAULT = 0, 1, 2, 3


@dataclass(frozen=True)
class Command:
    """One subcommand: its name, a line on its purpose, examples, its arguments and the function that runs it.

    `run` gets the parsed arguments and returns the exit status.
    """

    name: str
    about: str
    examples: tuple[str, ...]
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def survey_argument(parser: argparse.ArgumentParser) -> None:
    """Add the survey file."""
    parser.add_argument("survey", metavar="SURVEY", type=Path, help="the survey file (TOML or .xlsx)")


def output_argument(parser: argparse.ArgumentParser) -> None:
    """Add the folder for the files."""
    parser.add_argument(
        "-o",
        "--output",
        metavar="FOLDER",
        type=Path,
        required=True,
        help="folder for the files; created if it does not exist",
    )


def json_argument(parser: argparse.ArgumentParser) -> None:
    """Add the option for JSON."""
    parser.add_argument(
        "--json",
        metavar="FILE",
        type=Path,
        help="also write the results to this file as JSON; if FILE is -, print only the JSON",
    )


def require_writable(file: Path | None, *inputs: Path, header: Sequence[str] = ()) -> None:
    """Raise ReportError before the calculation if a file cannot be written, or was not written by heatloop."""
    if file is not None and str(file) != "-":
        from heatloop.report.files import export

        export.require_writable(file, header, inputs)


def answer(file: Path | None, result: TableSet) -> None:
    """Print the results and write the requested JSON file; `-` prints the JSON only."""
    if file is None:
        print(result)
        return
    from heatloop.report.files.export import json_text, write_json  # here, because a listing does without

    if str(file) == "-":
        print(json_text(result.to_dict()), end="")
        return
    write_json(file, result.to_dict())
    print(result)


def path_words(path: object) -> str:
    """A path as it is printed: on one line, whatever its name holds."""
    return single_line(str(path))


@contextmanager
def extra(name: str, modules: Sequence[str]) -> Iterator[None]:
    """Raise ReportError with the installation command if one of these modules of an extra is missing."""
    try:
        yield
    except ModuleNotFoundError as error:
        missing = (error.name or "").partition(".")[0]
        if missing not in modules:
            raise
        from heatloop.report.files.export import ReportError

        reason = f'requires {missing}, which is not installed; install heatloop with its optional part "{name}"'
        how = f'pip install "heatloop[{name}]", or pip install -e ".[{name}]" in a checkout'
        raise ReportError(f"report: {reason}: {how}") from None


@contextmanager
def option_names(call: str, options: Mapping[str, str]) -> Iterator[None]:
    """Name in each issue of the function `call` the option that was typed; `options`: options by their arguments."""
    from heatloop.findings.input_errors import InputError

    try:
        yield
    except InputError as error:
        issues = [
            replace(issue, place=options.get(issue.place, issue.place)) if issue.file == call else issue
            for issue in error.issues
        ]
        raise InputError(issues, error.partial, error.more) from None


def exit_status(missed: object) -> int:
    """Exit status of a completed command: 1 if anything failed, otherwise 0."""
    return FAILS_A_CHECK if missed else DONE


def print_error(line: str) -> None:
    """Print one line on standard error, control characters escaped; ignore a stream that cannot be written to."""
    with suppress(OSError, ValueError):
        print(f"heatloop: {single_line(line)}", file=sys.stderr, flush=True)
