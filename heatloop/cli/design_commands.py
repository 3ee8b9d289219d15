"""Commands that design: size, simulate, report, compare."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from heatloop.cli.command import (
    answer,
    exit_status,
    extra,
    json_argument,
    option_names,
    output_argument,
    path_words,
    require_writable,
    survey_argument,
)
from heatloop.report.files.progress import progress_bar, spinner
from heatloop.text.formatting import plural

NOTEBOOK_MODULES = ("nbformat", "nbclient", "nbconvert", "jupyter_client", "IPython", "traitlets", "ipykernel")
"""Modules that a report requires besides the plain installation."""

AUDIENCES = ("client", "fitter", "order", "check")
"""Readers whose documents can be written alone."""


def size_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `size`."""
    survey_argument(parser)
    json_argument(parser)


def run_size(arguments: argparse.Namespace) -> int:
    """Run `size`."""
    from heatloop.workflows.size import size_survey  # what follows from a design is not loaded to size one

    require_writable(arguments.json, arguments.survey)
    with spinner(f"sizing {arguments.survey.name}"):
        design = size_survey(arguments.survey)
        checked = design.verdict  # solves what the checks require
    answer(arguments.json, design)
    return exit_status(checked.fails)


def report_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `report`."""
    survey_argument(parser)
    output_argument(parser)
    parser.add_argument(
        "--pdf",
        action="store_true",
        help="also write each page as a PDF; requires the browser Chromium on this computer",
    )
    parser.add_argument(
        "--prices",
        metavar="FILE",
        type=Path,
        help="the price file (CSV or .xlsx); with it, a quotation is also written",
    )
    parser.add_argument(
        "--for",
        dest="audience",
        choices=AUDIENCES,
        help="write only the documents for one reader: client; fitter; order (the buyer and the workshop); "
        "check (the engineer who checks the design). Default: the documents for all readers",
    )


def run_report(arguments: argparse.Namespace) -> int:
    """Run `report`."""
    with extra("notebook", NOTEBOOK_MODULES):
        from heatloop.workflows.publishing.publish import publish_report

        published = publish_report(
            arguments.survey,
            arguments.output,
            pdf=arguments.pdf,
            prices=arguments.prices,
            audience=arguments.audience,
            progress=progress_bar(sys.stderr),
        )
    print(published.headline, *filter(None, [published.release]), *published.remarks, sep="\n")
    print(f"index     {path_words(published.index)}")
    folders = dict.fromkeys(path.parent for path in published.files if path.parent != published.folder)
    for folder in folders:
        count = sum(path.parent == folder for path in published.files)
        print(f"{folder.name:<9} {path_words(folder)}: {plural(count, 'file')}")
    for title, reason in published.left_out:
        print(f"left out  {title}: {reason}")
    return exit_status(not published.is_ready)


def simulate_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `simulate`."""
    survey_argument(parser)
    parser.add_argument(
        "--flow-temp", metavar="C", type=float, help="flow temperature of the source, °C (default: as in the design)"
    )
    parser.add_argument(
        "--outdoor", metavar="C", type=float, help="outdoor temperature, °C (default: as in the design)"
    )
    parser.add_argument(
        "--room",
        metavar="C",
        type=float,
        help="room temperature, the same in every room, °C (default: as in the design)",
    )
    pump = parser.add_mutually_exclusive_group()
    pump.add_argument(
        "--pump-speed",
        metavar="SHARE",
        type=float,
        help="speed of the pump at the heat source, from 0 to 1; 1 is full speed (default: as in the design)",
    )
    pump.add_argument(
        "--pump-head",
        metavar="KPA",
        type=float,
        help="constant pump head at the source, kPa (default: as in the design)",
    )
    parser.add_argument(
        "--isolate",
        metavar="LOOP",
        action="append",
        default=[],
        help="name of a loop to shut off; repeat the option for several loops",
    )
    parser.add_argument(
        "--calculated-settings",
        action="store_true",
        help="set each balancing valve exactly to its calculated setting, such as 3.4 (default: to the nearest whole "
        "setting, such as 3)",
    )
    parser.add_argument(
        "--without-thermostats",
        action="store_true",
        help="keep thermostatic valves open to their stated Kv (default: each valve closes until the room with its "
        "sensor receives only the heat that it requires)",
    )
    json_argument(parser)


SIMULATE_OPTIONS = {
    "flow_temp_c": "--flow-temp",
    "outdoor_c": "--outdoor",
    "room_c": "--room",
    "pump_speed": "--pump-speed",
    "pump_head_kpa": "--pump-head",
    "isolated_loops": "--isolate",
}
"""Options of `simulate` by the arguments that they give."""


def run_simulate(arguments: argparse.Namespace) -> int:
    """Run `simulate`."""
    from heatloop.workflows.operating_point import simulate

    require_writable(arguments.json, arguments.survey)
    with option_names("simulate", SIMULATE_OPTIONS), spinner(f"simulating {arguments.survey.name}"):
        point = simulate(
            arguments.survey,
            flow_temp_c=arguments.flow_temp,
            outdoor_c=arguments.outdoor,
            room_c=arguments.room,
            pump_speed=arguments.pump_speed,
            pump_head_kpa=arguments.pump_head,
            settings="calculated" if arguments.calculated_settings else "nearest",
            isolated_loops=arguments.isolate,
            thermostats=not arguments.without_thermostats,
        )
    answer(arguments.json, point)
    return exit_status(point.summary["rooms_below_temperature"])


def compare_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `compare`."""
    for name in ("before", "after"):
        parser.add_argument(
            name,
            metavar=name.upper(),
            type=Path,
            help=f"the design {name} the change: a survey (TOML or .xlsx), or the JSON file of `heatloop size --json`",
        )


def run_compare(arguments: argparse.Namespace) -> int:
    """Run `compare`."""
    from heatloop.report.pages.comparison import comparison_text
    from heatloop.results.compare import differences

    with spinner("comparing"):
        before, after = _answers(arguments.before), _answers(arguments.after)
    print(
        comparison_text(
            (path_words(arguments.before), before[0].get("headline", "")),
            (path_words(arguments.after), after[0].get("headline", "")),
            differences(before, after),
        )
    )
    return exit_status(after[0]["checks_failed"])


def _answers(path: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """Summary and tables of a design: sized from a survey, or read from JSON."""
    from heatloop.report.files.export import read_json
    from heatloop.workflows.design import size

    if path.suffix.lower() == ".json":
        return read_json(path)
    design = size(path)
    return design.summary, design.tables
