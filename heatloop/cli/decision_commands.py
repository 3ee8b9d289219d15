"""Commands that compare conditions of a design: lowest-flow-temperature."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatloop.cli.command import exit_status, json_argument, require_writable, survey_argument
from heatloop.report.files.progress import spinner

if TYPE_CHECKING:
    from heatloop.text.table_set import TableSet


def lowest_flow_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `lowest-flow-temperature`."""
    survey_argument(parser)
    parser.add_argument(
        "--presettings",
        choices=("resized", "kept"),
        default="resized",
        help="resized: valves set anew, so each flow temperature is a separate design with its own flows; kept: valves "
        "kept as set in the design, for an installed system (default: resized)",
    )
    parser.add_argument(
        "--min-flow-temp", metavar="C", type=float, default=25.0, help="lower limit of the search, °C (default: 25)"
    )
    parser.add_argument(
        "--year",
        metavar="FILE",
        type=Path,
        help="a year file (TOML) with weather, performance of the source and prices: if given, energy and cost of a "
        "year are also calculated",
    )
    json_argument(parser)


def run_lowest_flow(arguments: argparse.Namespace) -> int:
    """Run `lowest-flow-temperature`."""
    from heatloop.survey.read import read_year
    from heatloop.workflows.energy.weather_curve import weather_curve
    from heatloop.workflows.energy.yearly_energy import yearly_energy
    from heatloop.workflows.flow_temperature import lowest_flow_temperature

    require_writable(arguments.json, *filter(None, (arguments.survey, arguments.year)))
    year = None if arguments.year is None else read_year(arguments.year)  # first, because sizing takes time
    with spinner(f"lowest flow temperature of {arguments.survey.name}"):
        lowest = lowest_flow_temperature(arguments.survey, arguments.min_flow_temp, arguments.presettings)
        results: list[TableSet] = [lowest, weather_curve(lowest.design)]
        if year is not None:
            results.append(yearly_energy(lowest.design, year))
    _answers(arguments.json, results)
    return exit_status(False)


def _answers(file: Path | None, results: Sequence[TableSet]) -> None:
    """Print the results, one below another, and write the requested JSON file; `-` prints the JSON only.

    The JSON has the tables of all results and one summary.
    """
    if file is not None:
        from heatloop.report.files.export import json_text, write_json  # here, because a listing does without

        tables = {name: table for result in results for name, table in result.to_dict().items()}
        content = {**tables, "summary": {key: value for result in results for key, value in _summary(result).items()}}
        if str(file) == "-":
            print(json_text(content), end="")
            return
        write_json(file, content)
    print("\n\n".join(map(str, results)))


def _summary(result: TableSet) -> dict[str, Any]:
    return dict(result.to_dict()["summary"])
