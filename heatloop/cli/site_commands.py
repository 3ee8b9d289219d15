"""Commands for order and site: price, commission, diagnose."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

from heatloop.cli.command import answer, exit_status, json_argument, output_argument, require_writable, survey_argument
from heatloop.report.files.progress import cutting, spinner


def price_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `price`."""
    survey_argument(parser)
    parser.add_argument("--prices", metavar="FILE", type=Path, required=True, help="the price file (CSV or .xlsx)")
    parser.add_argument(
        "--csv", metavar="FILE", type=Path, help="also write the parts with their prices to this file as CSV"
    )
    parser.add_argument(
        "--cutting-time",
        metavar="SECONDS",
        type=float,
        default=15.0,
        help="maximum computing time for the cutting plan, in seconds (default: 15)",
    )
    parser.add_argument(
        "--prefer",
        choices=("fewest-joints", "fewest-bars"),
        default="fewest-joints",
        help="fewest-joints: a straight joint only where a wall is longer than a bar; fewest-bars: also where a joint "
        "saves a bar (default: fewest-joints)",
    )


def run_price(arguments: argparse.Namespace) -> int:
    """Run `price`."""
    from heatloop.handover.cutting.model import CuttingOptions
    from heatloop.handover.parts.model import PartsOptions
    from heatloop.handover.quotation import QUOTATION
    from heatloop.report.files.export import write_table
    from heatloop.survey.toml.input_text import file_error
    from heatloop.workflows.design import Design, size

    require_writable(
        arguments.csv, arguments.survey, arguments.prices, header=[column.name for column in QUOTATION.columns]
    )
    if not 0.0 < arguments.cutting_time < math.inf:
        raise file_error("price", "--cutting-time", f"{arguments.cutting_time:g}", "a number of seconds above 0")
    options = PartsOptions(cutting=CuttingOptions(time_limit_s=arguments.cutting_time))
    with spinner(f"counting {arguments.survey.name}") as say:
        design = size(arguments.survey)
        fewer = design.save_bars(options) if arguments.prefer == "fewest-bars" else None
        design = design if fewer is None else Design.of(fewer.design)
        quotation = design.parts(options, cutting(say)).price(arguments.prices)
    if arguments.csv:
        write_table(arguments.csv, quotation.table)
    print(design.verdict.headline, quotation, sep="\n")
    if fewer is not None:
        print("", fewer, *(f"write into the survey, {line}" for line in fewer.survey_lines), sep="\n")
    return exit_status(design.verdict.fails)


def commission_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `commission`."""
    survey_argument(parser)
    output_argument(parser)
    parser.add_argument(
        "--outdoor", metavar="C", type=float, help="outdoor temperature today, °C (default: as in the survey)"
    )
    parser.add_argument(
        "--flow-temp",
        metavar="C",
        type=float,
        help="flow temperature at the source today, °C (default: calculated from the outdoor temperature)",
    )


def run_commission(arguments: argparse.Namespace) -> int:
    """Run `commission`."""
    from heatloop.report.files.write_all import check_sheet, site_text, write_site_files
    from heatloop.workflows.design import size

    check_sheet(arguments.output)
    with spinner(f"sizing {arguments.survey.name}"):
        pack = size(arguments.survey).commissioning(arguments.outdoor, arguments.flow_temp)
    print(pack.verdict.headline, site_text(pack, write_site_files(pack, arguments.output)), sep="\n")
    return exit_status(pack.verdict.fails)


def diagnose_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `diagnose`."""
    survey_argument(parser)
    parser.add_argument(
        "readings",
        metavar="READINGS",
        type=Path,
        help="the site readings (CSV): the form that `heatloop commission` wrote, filled in on site",
    )
    json_argument(parser)


def run_diagnose(arguments: argparse.Namespace) -> int:
    """Run `diagnose`."""
    from heatloop.workflows.design import size
    from heatloop.workflows.diagnose import diagnose

    require_writable(arguments.json, arguments.survey, arguments.readings)
    with spinner(f"diagnosing {arguments.readings.name}"):
        diagnosis = diagnose(size(arguments.survey), arguments.readings)
    answer(arguments.json, diagnosis)
    return exit_status(diagnosis.summary["verdict"] != "no fault")
