"""The command line: one line for each error, no traceback, no progress in a pipe.

Large parts of the package are imported by the command that needs them, so that help is shown at once.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import NoReturn

from heatloop.cli.command import DONE, INTERNAL_FAULT, WRONG_INPUT, Command, print_error
from heatloop.cli.decision_commands import lowest_flow_arguments, run_lowest_flow
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
from heatloop.cli.entry_commands import (
    check_arguments,
    convert_arguments,
    estimate_arguments,
    run_check,
    run_convert,
    run_estimate,
    run_start,
    start_arguments,
)
from heatloop.cli.plan_commands import form_arguments, plan_arguments, run_form, run_plan
from heatloop.cli.site_commands import (
    commission_arguments,
    diagnose_arguments,
    price_arguments,
    run_commission,
    run_diagnose,
    run_price,
)
from heatloop.cli.study_commands import improve_arguments, run_improve, run_study, study_arguments
from heatloop.text.quoting import single_line
from heatloop.text.summary import line_width

EXIT_STATUSES = """\
  0    completed without a failure; cautions are allowed
  1    completed, with this result:
         size, report, price, commission   a check of the design fails
         improve                           a check of the design (with -o: of the new design) fails
         study                             a check of a dwelling fails, or a dwelling cannot be sized
         compare                           a check of the AFTER design fails
         plan                              the survey has input errors
         estimate                          at each flow temperature, at least one room has too little wall
         simulate                          a room is below its temperature
         diagnose                          a fault is likely, or several faults remain possible
  2    an input is invalid, or a file cannot be read or written; one line is printed for each error:
         check                             completed; the survey has input errors
         every other command               not completed
  3    not completed: error of the program itself; please report the line printed
  130  interrupted with Ctrl-C
"""
"""Every exit status and its meaning, as in the help text and in the documentation."""

EPILOG = f"""\
examples:
  heatloop start my-house                          start a project: a small survey that can be sized
  heatloop check survey.xlsx --mark                list all input errors; mark their cells in red
  heatloop form -o forms --rooms 8                 write blank survey forms
  heatloop plan survey.toml -o plan --watch        draw the rooms and the errors during entry
  heatloop convert survey.toml survey.xlsx         write a survey as a workbook (.xlsx), or a workbook as TOML
  heatloop estimate --help                         print the options of an estimate without a survey
  heatloop size survey.toml                        print rooms, loops and failed checks
  heatloop report survey.toml -o report            write all documents and an index page
  heatloop simulate survey.toml --outdoor 5        calculate flow rates and heat at 5 °C outdoors
  heatloop compare survey.toml warmer.toml         compare two designs
  heatloop improve survey.toml                     list remedies for each failed check
  heatloop lowest-flow-temperature survey.toml     find the lowest flow temperature and the weather curve
  heatloop study surveys -o out --flow-temp 45     find dwellings with no failed check at 45 °C
  heatloop price survey.toml --prices prices.csv   price the parts list
  heatloop commission survey.toml -o site          write the commissioning sheet and a form for readings
  heatloop diagnose survey.toml site/readings.csv  find likely faults from readings

exit status:
{EXIT_STATUSES}"""

COMMANDS: tuple[Command, ...] = (
    Command(
        "start",
        "create a folder with a small survey, its catalogue and a notebook, or with the rooms of a drawing",
        (
            "heatloop start my-house",
            "heatloop start my-house --workbook",
            "heatloop start my-house --drawing plan.dxf --layer ROOMS",
            "heatloop start my-house --drawing plan.dxf --layer GROUND --level 0 --layer UPPER --level 2.65",
        ),
        start_arguments,
        run_start,
    ),
    Command(
        "check",
        "list all input errors of a survey (`heatloop size` checks the design)",
        ("heatloop check survey.toml", "heatloop check survey.xlsx --mark"),
        check_arguments,
        run_check,
    ),
    Command(
        "form",
        "write survey forms as an A4 PDF, blank or with the rooms of a survey filled in",
        ("heatloop form -o forms --rooms 8", "heatloop form survey.toml -o forms"),
        form_arguments,
        run_form,
    ),
    Command(
        "plan",
        "draw the rooms of a survey, also of an unfinished one, with numbered input errors and a list of them",
        ("heatloop plan survey.toml -o plan", "heatloop plan survey.toml -o plan --watch"),
        plan_arguments,
        run_plan,
    ),
    Command(
        "convert",
        "convert a survey, a catalogue or a price file to a workbook, or a workbook to a TOML or CSV file",
        ("heatloop convert survey.toml survey.xlsx", "heatloop convert catalogue.xlsx catalogue.toml"),
        convert_arguments,
        run_convert,
    ),
    Command(
        "estimate",
        "estimate skirting length and price by flow temperature from a list of rooms; list rooms with too little wall",
        (
            "heatloop estimate rooms.csv --catalogue catalogue.toml --outdoor -3 --page answer.html",
            "heatloop estimate rooms.csv --catalogue catalogue.toml --prices prices.csv --outdoor -3 --flow-temp 50",
        ),
        estimate_arguments,
        run_estimate,
    ),
    Command(
        "size",
        "size a survey: calculate flow rates and valve settings, check all limits, and print the design",
        ("heatloop size survey.toml", "heatloop size survey.toml --json design.json"),
        size_arguments,
        run_size,
    ),
    Command(
        "report",
        "write the documents of a design, one folder for each kind of reader, and an index",
        (
            "heatloop report survey.toml -o report --prices prices.csv --pdf",
            "heatloop report survey.toml -o report --for client",
        ),
        report_arguments,
        run_report,
    ),
    Command(
        "simulate",
        "calculate flow rates, temperatures and heat in other weather, with other settings or isolated loops",
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
        "compare two designs and print the differences",
        ("heatloop compare survey.toml warmer.toml", "heatloop compare report/data/design.json survey.toml"),
        compare_arguments,
        run_compare,
    ),
    Command(
        "improve",
        "list remedies for failed checks and for cautions about draught, cold glass or hot surfaces; apply them",
        (
            "heatloop improve survey.toml --prices prices.csv",
            "heatloop improve survey.toml --apply 1 -o better.toml",
        ),
        improve_arguments,
        run_improve,
    ),
    Command(
        "lowest-flow-temperature",
        "find the lowest flow temperature at which all rooms are warm, and the weather curve",
        (
            "heatloop lowest-flow-temperature survey.toml",
            "heatloop lowest-flow-temperature survey.toml --presettings kept --json lowest.json",
        ),
        lowest_flow_arguments,
        run_lowest_flow,
    ),
    Command(
        "study",
        "size many dwellings, or one with many changes; list those with no failed check, and what the others lack",
        (
            "heatloop study surveys -o results --flow-temp 45",
            "heatloop study cases.csv -o results --jobs 4",
            "heatloop study survey.toml -o results --flow-temp 40 --flow-temp 45 --flow-temp 50",
        ),
        study_arguments,
        run_study,
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
        "write the commissioning sheet for the outdoor temperature of the day, and a form for the site readings",
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
    """A parser whose error messages show control characters in escaped form."""

    def error(self, message: str) -> NoReturn:
        """Print usage and the error, and exit with status 2."""
        super().error(single_line(message))


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    plain = argparse.RawDescriptionHelpFormatter
    top = _Parser(
        "heatloop",
        description="Design of water-heated skirting (skirting board, baseboard) from a survey of rooms.",
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
    """Run one command and return its exit status. `error_message` formats the errors that it raises."""
    _open_streams()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        chosen = parser().parse_args(arguments)
        with line_width(shutil.get_terminal_size().columns):  # 80 without a terminal
            status: int = chosen.run(chosen)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        _discard_output()
        return DONE


def _open_streams() -> None:
    """Open the null device for each standard stream that was closed before the program began.

    Output to it is discarded, and no file that is opened later takes its number."""
    with suppress(OSError):
        while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
            os.set_inheritable(handle, True)
        os.close(handle)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def _discard_output() -> None:
    """Discard the remaining standard output, because it can no longer be written to."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def error_message(error: Exception) -> int:
    """Print an error on standard error, one line for each issue, and return the exit status."""
    from heatloop.findings.input_errors import InputError
    from heatloop.report.files.export import ReportError

    if isinstance(error, InputError | ReportError):
        for line in str(error).split("\n"):
            print_error(line)
        return WRONG_INPUT
    arithmetic = isinstance(error, ArithmeticError)
    if arithmetic and not isinstance(error, ZeroDivisionError | OverflowError | FloatingPointError):  # no solution
        print_error(" ".join(str(error).split()))
        return WRONG_INPUT
    if isinstance(error, OSError):
        try:
            sys.stdout.flush()
        except (OSError, ValueError):
            _discard_output()
        print_error(f"{error.filename or 'output'}: {error.strerror or error}")
        return WRONG_INPUT
    if isinstance(error, MemoryError):
        print_error("the input: found more data than the memory of this machine holds; required: less")
        return WRONG_INPUT
    print_error(f"error of the program: {type(error).__name__}: {' '.join(str(error).split())}")
    return INTERNAL_FAULT
