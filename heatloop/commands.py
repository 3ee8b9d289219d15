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
from typing import TYPE_CHECKING, Any

from heatloop.report.terminal import cutting, going_on, progress

if TYPE_CHECKING:
    from heatloop.diagnose.diagnosis import Diagnosis
    from heatloop.rate import Rating
    from heatloop.result import Design

DONE, FAILS_A_CHECK, WRONG_INPUT, INTERNAL_FAULT = 0, 1, 2, 3

EPILOG = """\
examples:
  heatloop start my-house                          begin: a small survey that runs at once
  heatloop size survey.toml                        print rooms, loops and what fails
  heatloop report survey.toml -o report            a page, a workbook, CSV, JSON, labels, a sheet for site
  heatloop rate survey.toml --outdoor 5            what the system does on another day
  heatloop compare survey.toml warmer.toml         what differs between two designs
  heatloop price survey.toml --prices prices.csv   the parts list priced
  heatloop commission survey.toml -o site          the sheet for site in today's weather, a file for readings
  heatloop diagnose survey.toml site/readings.csv  what the readings say is wrong

exit status:
  0  done, every limit is met
  1  done, and the design fails a check, a room stays cold, a price is missing or readings show a fault
  2  the input is wrong or a file cannot be read or written: one line for each fault
  3  a fault of the program itself: one line, please report it
  130  interrupted
"""


@dataclass(frozen=True)
class Command:
    """One subcommand: its name, what it does in a line, examples, its arguments and what runs it.

    `run` gets the parsed arguments and returns the exit status.
    """

    name: str
    about: str
    examples: tuple[str, ...]
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def survey_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("survey", metavar="SURVEY", type=Path, help="the survey file (TOML)")


def json_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json", metavar="FILE", type=Path, help="also write the answers as JSON; - for JSON in place of the listing"
    )


def size_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    json_argument(parser)


def run_size(arguments: argparse.Namespace) -> int:
    import heatloop

    room_for(arguments.json)
    with going_on(f"sizing {arguments.survey.name}"):
        design = heatloop.size(arguments.survey)
    answer(arguments.json, design)
    return standing(design.summary["checks_failed"])


def room_for(file: Path | None) -> None:
    """ReportError at once, before the work, where a file cannot be written."""
    if file is not None and str(file) != "-":
        from heatloop.report.export import check_place

        check_place(file)


def answer(file: Path | None, found: Design | Rating | Diagnosis) -> None:
    """Print what was found and write the JSON file that was asked for; `-` prints the JSON alone."""
    from heatloop.report.export import json_text, write_json

    if str(file) == "-":
        print(json_text(found.to_dict()), end="")
        return
    if file is not None:
        write_json(file, found.to_dict())
    print(found)


def report_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    parser.add_argument("-o", "--output", metavar="FOLDER", type=Path, required=True, help="where to put the files")
    parser.add_argument("--pdf", action="store_true", help="the page as PDF too; wants Chromium on this machine")


def run_report(arguments: argparse.Namespace) -> int:
    import json

    from heatloop.report.publish import publish

    published = publish(arguments.survey, arguments.output, progress(sys.stderr), pdf=arguments.pdf)
    summary = json.loads(published.json_file.read_text(encoding="utf-8"))["summary"]
    print(f"page      {published.page}")
    if published.pdf:
        print(f"PDF       {published.pdf}")
    print(f"workbook  {published.workbook}")
    print(f"for site  {' and '.join(map(str, published.for_site))}")
    print(f"figures   {published.json_file} and {len(published.csv)} CSV files beside it")
    return standing(summary["checks_failed"])


def rate_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    parser.add_argument("--flow-temp", metavar="C", type=float, help="flow temperature of the source, °C")
    parser.add_argument("--outdoor", metavar="C", type=float, help="outdoor temperature, °C")
    parser.add_argument("--room", metavar="C", type=float, help="temperature of every room, °C")
    pump = parser.add_mutually_exclusive_group()
    pump.add_argument("--speed", metavar="SHARE", type=float, help="the source's pump at this share of full speed")
    pump.add_argument("--constant", metavar="KPA", type=float, help="the source's pump keeps this head, kPa")
    parser.add_argument("--closed", metavar="LOOP", action="append", default=[], help="shut this loop; may be repeated")
    parser.add_argument("--exact", action="store_true", help="valves between their marks, just as the design wants")
    parser.add_argument("--no-thermostats", action="store_true", help="thermostatic valves do not close by themselves")
    json_argument(parser)


def run_rate(arguments: argparse.Namespace) -> int:
    import heatloop

    room_for(arguments.json)
    pump = {
        key: value
        for key, value in (("speed", arguments.speed), ("constant_kpa", arguments.constant))
        if value is not None
    }
    with going_on(f"rating {arguments.survey.name}"):
        rating = heatloop.rate(
            arguments.survey,
            flow_temp_c=arguments.flow_temp,
            outdoor_c=arguments.outdoor,
            room_c=arguments.room,
            pump=pump or None,
            closed=arguments.closed,
            settings="exact" if arguments.exact else "real",
            thermostats=not arguments.no_thermostats,
        )
    answer(arguments.json, rating)
    return standing(rating.summary["rooms_cold"])


def compare_arguments(parser: argparse.ArgumentParser) -> None:
    for name in ("before", "after"):
        parser.add_argument(name, metavar=name.upper(), type=Path, help="a survey (TOML) or the JSON of a design")


def run_compare(arguments: argparse.Namespace) -> int:
    from heatloop.compare import compared
    from heatloop.report.comparison import comparison_text

    with going_on("comparing"):
        before, after = _answers(arguments.before), _answers(arguments.after)
    print(comparison_text(str(arguments.before), str(arguments.after), compared(before, after)))
    return standing(after[0]["checks_failed"])


def _answers(path: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """Summary and tables of a design: sized from a survey, or as it was written."""
    import heatloop
    from heatloop.report.export import read_json

    if path.suffix.lower() == ".json":
        return read_json(path)
    design = heatloop.size(path)
    return design.summary, design.tables


def price_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    parser.add_argument("--prices", metavar="FILE", type=Path, required=True, help="the price file (CSV)")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="also write the lines as CSV")
    parser.add_argument(
        "--cutting", metavar="SECONDS", type=float, default=15.0, help="search at most so long for the best cuts (15)"
    )
    parser.add_argument(
        "--prefer",
        choices=("fewest joints", "fewest bars"),
        default="fewest joints",
        help="a straight joint only where stock is too short, or also where it saves a bar (fewest joints)",
    )


def run_price(arguments: argparse.Namespace) -> int:
    import heatloop
    from heatloop.handover.cutting import CutOptions
    from heatloop.handover.parts import PartsOptions
    from heatloop.report.export import write_table

    room_for(arguments.csv)
    options = PartsOptions(cutting=CutOptions(time_limit_s=arguments.cutting))
    with going_on(f"counting {arguments.survey.name}") as say:
        design = heatloop.size(arguments.survey)
        fewer = heatloop.fewer_bars(design, options) if arguments.prefer == "fewest bars" else None
        handover = heatloop.parts(design if fewer is None else fewer.design, options, cutting(say))
        quotation = heatloop.price(handover, arguments.prices)
    if arguments.csv:
        write_table(arguments.csv, quotation.table)
    print(quotation)
    if fewer is not None:
        print("", fewer, *(f"write into the survey, {line}" for line in fewer.survey_lines), sep="\n")
    return standing(len(quotation.missing))


def start_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="where to put the files; made if need be")
    parser.add_argument("--drawing", metavar="FILE", type=Path, help="a DXF drawing whose rooms to take, to fill in")
    parser.add_argument("--layer", metavar="NAME", default="ROOMS", help="its layer of room outlines (ROOMS)")
    parser.add_argument("--units", metavar="UNIT", help="what it is drawn in, where the drawing does not say: mm, m")
    parser.add_argument("--north", metavar="DEG", type=float, default=0.0, help="bearing of its upward direction (0)")


def run_start(arguments: argparse.Namespace) -> int:
    from heatloop.survey.drawing import DrawingOptions
    from heatloop.survey.start import drawn_files, start_files

    if arguments.drawing is not None:
        options = DrawingOptions(units=arguments.units, north_deg=arguments.north)
        written = drawn_files(arguments.folder, arguments.drawing, arguments.layer, options)
        print(*written, f"next: fill in every ? of {written[0]}, then heatloop size {written[0]}", sep="\n")
        return DONE
    written = start_files(arguments.folder)
    for path in written:
        print(path)
    survey = next(path for path in written if path.name == "survey.toml")
    print(f"next: heatloop size {survey}")
    return DONE


def commission_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    parser.add_argument("-o", "--output", metavar="FOLDER", type=Path, required=True, help="where to put the files")
    parser.add_argument("--outdoor", metavar="C", type=float, help="outdoor temperature today, °C")
    parser.add_argument("--flow-temp", metavar="C", type=float, help="flow temperature read at the source today, °C")


def run_commission(arguments: argparse.Namespace) -> int:
    import heatloop
    from heatloop.report.sheet import site_text, write_site_files

    with going_on(f"sizing {arguments.survey.name}"):
        pack = heatloop.commission(heatloop.size(arguments.survey), arguments.outdoor, arguments.flow_temp)
    print(site_text(pack, write_site_files(pack, arguments.output)))
    return standing((pack.tables["handover_checks"]["verdict"] == "fail").any())


def diagnose_arguments(parser: argparse.ArgumentParser) -> None:
    survey_argument(parser)
    parser.add_argument("readings", metavar="READINGS", type=Path, help="what was read on site (CSV), see commission")
    json_argument(parser)


def run_diagnose(arguments: argparse.Namespace) -> int:
    import heatloop

    room_for(arguments.json)
    with going_on(f"diagnosing {arguments.readings.name}"):
        found = heatloop.diagnose(heatloop.size(arguments.survey), arguments.readings)
    answer(arguments.json, found)
    return standing(found.summary["verdict"] != "no fault")


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
        "publish the design as a page, a workbook, CSV and JSON, with labels and a commissioning sheet",
        ("heatloop report survey.toml -o report", "heatloop report survey.toml -o report --pdf"),
        report_arguments,
        run_report,
    ),
    Command(
        "rate",
        "tell what the system of a survey does as it stands: another day, pump, setting or loop shut",
        (
            "heatloop rate survey.toml --outdoor 5 --flow-temp 38",
            "heatloop rate survey.toml --speed 1 --closed Kitchen",
            "heatloop rate survey.toml --constant 8 --no-thermostats",
        ),
        rate_arguments,
        run_rate,
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
        "tell from readings brought back what is wrong on site, how likely, and what to read next",
        ("heatloop diagnose survey.toml site/readings.csv --json found.json",),
        diagnose_arguments,
        run_diagnose,
    ),
)


def standing(missed: object) -> int:
    return FAILS_A_CHECK if missed else DONE


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
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        chosen = parser().parse_args(arguments)
        status: int = chosen.run(chosen)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE


def told(error: Exception) -> int:
    """Say what went wrong to standard error, one line a fault, and choose the exit status."""
    from heatloop.report.errors import ReportError
    from heatloop.survey.faults import SurveyError

    if isinstance(error, SurveyError | ReportError):
        for line in str(error).splitlines():
            tell(line)
        return WRONG_INPUT
    if type(error) is ArithmeticError:  # a system that has no answer at the conditions asked for
        tell(" ".join(str(error).split()))
        return WRONG_INPUT
    if isinstance(error, OSError):
        tell(f"{error.filename or 'file'}: {error.strerror or error}")
        return WRONG_INPUT
    tell(f"fault of the program: {type(error).__name__}: {' '.join(str(error).split())}")
    return INTERNAL_FAULT


def tell(line: str) -> None:
    print(f"heatloop: {line}", file=sys.stderr)
