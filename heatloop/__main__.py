"""The command line: thin, quiet in a pipe, one line a fault, no traceback.

Heavy parts of the package are imported by the command that needs them, so that help and listings
come at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

DONE, FAILS_A_CHECK, WRONG_INPUT, INTERNAL_FAULT, INTERRUPTED = 0, 1, 2, 3, 130

EPILOG = """\
examples:
  heatloop size survey.toml                   print rooms, loops and what fails
  heatloop size survey.toml --json out.json   the same answers for a program
  heatloop report survey.toml -o report       a page, a workbook, CSV and JSON

exit status:
  0  done, every limit is met
  1  done, and the design fails a check
  2  the input is wrong or a file cannot be read or written: one line for each fault
  3  a fault of the program itself: one line, please report it
  130  interrupted
"""


@dataclass(frozen=True)
class Command:
    """One subcommand: its name, what it does in a line, an example, its arguments and what runs it.

    `run` gets the parsed arguments and returns the exit status.
    """

    name: str
    about: str
    example: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def _survey_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("survey", metavar="SURVEY", type=Path, help="the survey file (TOML)")


def _size_arguments(parser: argparse.ArgumentParser) -> None:
    _survey_argument(parser)
    parser.add_argument("--json", metavar="FILE", type=Path, help="also write the answers as JSON")


def _size(arguments: argparse.Namespace) -> int:
    import heatloop
    from heatloop.report.export import write_json
    from heatloop.report.text import design_text

    design = heatloop.size(arguments.survey)
    if arguments.json:
        write_json(arguments.json, design.to_dict())
    print(design_text(design.summary, design.tables))
    return _standing(design.summary["checks_failed"])


def _report_arguments(parser: argparse.ArgumentParser) -> None:
    _survey_argument(parser)
    parser.add_argument("-o", "--output", metavar="FOLDER", type=Path, required=True, help="where to put the files")


def _report(arguments: argparse.Namespace) -> int:
    import json

    from heatloop.report.publish import publish

    published = publish(arguments.survey, arguments.output, _progress(sys.stderr))
    summary = json.loads(published.json_file.read_text(encoding="utf-8"))["summary"]
    print(f"page      {published.page}")
    print(f"workbook  {published.workbook}")
    print(f"figures   {published.json_file} and {len(published.csv)} CSV files beside it")
    return _standing(summary["checks_failed"])


COMMANDS: tuple[Command, ...] = (
    Command(
        "size",
        "choose flows and presettings for a survey and print the design",
        "heatloop size survey.toml --json design.json",
        _size_arguments,
        _size,
    ),
    Command(
        "report",
        "publish the design as a page, a workbook, CSV and JSON",
        "heatloop report survey.toml -o report",
        _report_arguments,
        _report,
    ),
)


def _standing(checks_failed: object) -> int:
    return FAILS_A_CHECK if checks_failed else DONE


def _progress(stream: TextIO) -> Callable[[int, int, str], None] | None:
    """Steps on one line of a terminal; nothing at all where the stream is a pipe or a file."""
    if not stream.isatty():
        return None

    def show(done: int, total: int, what: str) -> None:
        end = "\n" if done == total else ""
        stream.write(f"\r\x1b[K[{done:>2} of {total}] {what[:60]}{end}")
        stream.flush()

    return show


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    plain = argparse.RawDescriptionHelpFormatter
    top = argparse.ArgumentParser(
        "heatloop",
        description="Design of water-heated skirting from a survey of rooms.",
        epilog=EPILOG,
        formatter_class=plain,
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in COMMANDS:
        sub = commands.add_parser(
            command.name,
            help=command.about,
            description=command.about[0].upper() + command.about[1:] + ".",
            epilog=f"example:\n  {command.example}",
            formatter_class=plain,
        )
        command.arguments(sub)
        sub.set_defaults(run=command.run)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; faults go to standard error, one line each."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    chosen = parser().parse_args(arguments)
    try:
        status: int = chosen.run(chosen)
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        _tell("interrupted; no file was changed")
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:
        return _failed(error)


def _failed(error: Exception) -> int:
    """Say what went wrong in plain lines and choose the exit status."""
    from heatloop.report.errors import ReportError
    from heatloop.survey.faults import SurveyError

    if isinstance(error, SurveyError | ReportError):
        for line in str(error).splitlines():
            _tell(line)
        return WRONG_INPUT
    if isinstance(error, OSError):
        _tell(f"{error.filename or 'file'}: {error.strerror or error}")
        return WRONG_INPUT
    _tell(f"fault of the program: {type(error).__name__}: {' '.join(str(error).split())}")
    return INTERNAL_FAULT


def _tell(line: str) -> None:
    print(f"heatloop: {line}", file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
