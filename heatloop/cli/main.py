"""The command line: thin, quiet in a pipe, one line a fault, no traceback.

Heavy parts of the package are imported by the command that needs them, so that help and listings
come at once.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import NoReturn

from heatloop.cli.command import DONE, INTERNAL_FAULT, WRONG_INPUT, Command, tell
from heatloop.cli.design_commands import (
    compare_arguments,
    report_arguments,
    run_compare,
    run_report,
    run_simulate,
    run_size,
    simulate_arguments,
    size_arguments,
)
from heatloop.cli.entry_commands import run_start, start_arguments
from heatloop.cli.site_commands import (
    commission_arguments,
    diagnose_arguments,
    price_arguments,
    run_commission,
    run_diagnose,
    run_price,
)
from heatloop.text.quoting import single_line
from heatloop.text.summary import line_width

EPILOG = """\
examples:
  heatloop start my-house                          begin: a small survey that runs at once
  heatloop size survey.toml                        print rooms, loops and what fails
  heatloop report survey.toml -o report            all documents, for client, fitter, order and check
  heatloop simulate survey.toml --outdoor 5        the operating point at another outdoor temperature
  heatloop compare survey.toml warmer.toml         what differs between two designs
  heatloop price survey.toml --prices prices.csv   the parts list priced
  heatloop commission survey.toml -o site          the sheet for site in today's weather, a file for readings
  heatloop diagnose survey.toml site/readings.csv  what the readings say is wrong

exit status:
  0  done; a design is ready for installation, with or without cautions
  1  the design is not ready for installation; a room is short of heat (rate); a fault is likely (diagnose)
  2  the input is wrong or a file cannot be read or written: one line for each fault
  3  a fault of the program itself: one line, please report it
  130  interrupted
"""

COMMANDS: tuple[Command, ...] = (
    Command(
        "start",
        "begin a folder with a small survey, its catalogue and a notebook",
        ("heatloop start my-house", "heatloop start my-house --drawing plan.dxf --layer ROOMS"),
        start_arguments,
        run_start,
    ),
    Command(
        "size",
        "choose flows and presettings for a survey and print the design",
        ("heatloop size survey.toml", "heatloop size survey.toml --json design.json"),
        size_arguments,
        run_size,
    ),
    Command(
        "report",
        "publish the documents of a design for client, fitter, order and check, with an index",
        (
            "heatloop report survey.toml -o report --prices prices.csv --pdf",
            "heatloop report survey.toml -o report --for client",
        ),
        report_arguments,
        run_report,
    ),
    Command(
        "simulate",
        "calculate the operating point at other conditions: weather, pump, settings or loops isolated",
        (
            "heatloop simulate survey.toml --outdoor 5 --flow-temp 38",
            "heatloop simulate survey.toml --pump-speed 1 --isolate Kitchen",
            "heatloop simulate survey.toml --pump-head 8 --without-thermostats",
        ),
        simulate_arguments,
        run_simulate,
    ),
    Command(
        "compare",
        "print what differs between two designs",
        ("heatloop compare survey.toml warmer.toml", "heatloop compare report/design.json survey.toml"),
        compare_arguments,
        run_compare,
    ),
    Command(
        "price",
        "price the parts list of a survey",
        (
            "heatloop price survey.toml --prices prices.csv",
            "heatloop price survey.toml --prices prices.csv --csv q.csv",
        ),
        price_arguments,
        run_price,
    ),
    Command(
        "commission",
        "write the commissioning sheet for the weather of the day, and a file of readings to fill in",
        ("heatloop commission survey.toml -o site --outdoor 5 --flow-temp 42",),
        commission_arguments,
        run_commission,
    ),
    Command(
        "diagnose",
        "find likely faults from site readings, with probabilities and the next reading to take",
        ("heatloop diagnose survey.toml site/readings.csv --json found.json",),
        diagnose_arguments,
        run_diagnose,
    ),
)


class _Parser(argparse.ArgumentParser):
    """A parser whose faults show what would steer a terminal written out."""

    def error(self, message: str) -> NoReturn:
        """Print usage and the fault, and leave with status 2."""
        super().error(single_line(message))


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    plain = argparse.RawDescriptionHelpFormatter
    top = _Parser(
        "heatloop",
        description="Design of water-heated skirting from a survey of rooms.",
        epilog=EPILOG,
        formatter_class=plain,
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in COMMANDS:
        examples = "\n".join(f"  {example}" for example in command.examples)
        sub = commands.add_parser(
            command.name,
            help=command.about,
            description=command.about[0].upper() + command.about[1:] + ".",
            epilog=f"examples:\n{examples}",
            formatter_class=plain,
        )
        command.arguments(sub)
        sub.set_defaults(run=command.run)
    return top


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status. Whatever it raises, `told` has the words for."""
    _open_streams()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        chosen = parser().parse_args(arguments)
        with line_width(shutil.get_terminal_size().columns):  # 80 where nothing tells
            status: int = chosen.run(chosen)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        _discard_output()
        return DONE


def _open_streams() -> None:
    """Where standard input, output or error was closed before the program began, open nothing in its place: what is
    written there is thrown away, and no file that is opened later takes its number."""
    with suppress(OSError):
        while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
            os.set_inheritable(handle, True)
        os.close(handle)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def _discard_output() -> None:
    """Throw away what is still to be written to standard output, which cannot take it."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def error_message(error: Exception) -> int:
    """Say what went wrong to standard error, one line a fault, and choose the exit status."""
    from heatloop.findings.input_errors import InputError
    from heatloop.report.files.export import ReportError

    if isinstance(error, InputError | ReportError):
        for line in str(error).split("\n"):
            tell(line)
        return WRONG_INPUT
    if type(error) is ArithmeticError:  # a system that has no answer at the conditions asked for
        tell(" ".join(str(error).split()))
        return WRONG_INPUT
    if isinstance(error, OSError):
        try:
            sys.stdout.flush()
        except (OSError, ValueError):
            _discard_output()
        tell(f"{error.filename or 'output'}: {error.strerror or error}")
        return WRONG_INPUT
    if isinstance(error, MemoryError):
        tell("the input: found more than the memory of this machine holds, wanted less of it")
        return WRONG_INPUT
    tell(f"fault of the program: {type(error).__name__}: {' '.join(str(error).split())}")
    return INTERNAL_FAULT
