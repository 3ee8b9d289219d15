"""Commands that begin a project and bring a survey into heatloop: start, check, convert, estimate."""

from __future__ import annotations

import argparse
from pathlib import Path

from heatloop.cli.command import DONE, path_words, survey_argument


def start_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `start`."""
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, help="folder for the files; created if it does not exist"
    )
    parser.add_argument(
        "--workbook", action="store_true", help="write the survey as a workbook (.xlsx) instead of TOML"
    )
    parser.add_argument(
        "--drawing",
        metavar="FILE",
        type=Path,
        help="a DXF drawing: write its rooms as a survey, in which you fill in the rest",
    )
    parser.add_argument(
        "--layer",
        metavar="NAME",
        action="append",
        help="layer of the drawing with the room outlines (default: ROOMS); repeat it for a layer of each floor",
    )
    parser.add_argument(
        "--level",
        metavar="M",
        type=float,
        action="append",
        help="level of the floor in metres (default: 0); repeat it in the order of the layers",
    )
    parser.add_argument(
        "--units", metavar="UNIT", help="unit of the drawing (mm or m), if the drawing does not state it"
    )
    parser.add_argument(
        "--north",
        metavar="DEG",
        type=float,
        default=0.0,
        help="compass direction at the top of the drawing, in degrees clockwise from north (default: 0)",
    )


def run_start(arguments: argparse.Namespace) -> int:
    """Run `start`."""
    from heatloop.survey.starter_files import start_project

    layers, levels = arguments.layer or ["ROOMS"], arguments.level or [0.0]
    written = start_project(
        arguments.folder,
        workbook=arguments.workbook,
        drawing=arguments.drawing,
        layer=layers,
        level_m=levels if len(levels) > 1 else levels[0],
        units=arguments.units,
        north_deg=arguments.north,
    )
    if arguments.drawing is not None:
        survey = path_words(written[0])
        print(*map(path_words, written), f"next: fill in every ? of {survey}, then heatloop size {survey}", sep="\n")
        return DONE
    for path in written:
        print(path_words(path))
    print(f"next: heatloop size {path_words(written[0])}")
    return DONE


def check_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `check`."""
    survey_argument(parser)
    parser.add_argument(
        "--mark",
        action="store_true",
        help="if SURVEY is a workbook: also write a copy of it, in which cells with an error are red",
    )


def run_check(arguments: argparse.Namespace) -> int:
    """Run `check`."""
    from heatloop.findings.input_errors import InputError
    from heatloop.layout.build import layout_faults, validated_survey
    from heatloop.survey.toml.input_text import file_error
    from heatloop.survey.workbook.read_workbook import is_workbook
    from heatloop.text.formatting import plural

    path: Path = arguments.survey
    if arguments.mark and not is_workbook(path):
        raise file_error(path, "", "--mark for a file that is no workbook", "the path of a workbook (.xlsx)")
    try:
        survey = validated_survey("check", path)
        if faults := layout_faults(survey):
            raise InputError(faults)
    except InputError as error:
        if arguments.mark and path.is_file():
            from heatloop.survey.workbook.mark_faults import mark_faults

            print(path_words(mark_faults(path, error.issues)))
        raise
    counts = f"{plural(len(survey.rooms), 'room')}, {plural(len(survey.loops), 'loop')}"
    print(f"{path_words(path)}: no input errors; {counts}")
    if arguments.mark:
        from heatloop.survey.workbook.mark_faults import remove_marked

        if removed := remove_marked(path):
            print(f"removed the earlier {path_words(removed)}")
    print(f"The design has not been checked yet: run heatloop size {path_words(path)}")
    return DONE


def convert_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `convert`."""
    kinds = "a survey, a catalogue (TOML or .xlsx) or a price file (CSV or .xlsx)"
    parser.add_argument("source", metavar="FROM", type=Path, help=kinds)
    parser.add_argument(
        "target",
        metavar="TO",
        type=Path,
        help="the new file: .xlsx if FROM is TOML or CSV; TOML or CSV if FROM is .xlsx. "
        "An existing file is never overwritten",
    )


def run_convert(arguments: argparse.Namespace) -> int:
    """Run `convert`."""
    from heatloop.handover.price_file import convert_prices, is_price_file
    from heatloop.survey.converting import convert_file
    from heatloop.text.formatting import plural

    source, target = arguments.source, arguments.target
    done = (convert_prices if is_price_file(source, target) else convert_file)(source, target)
    left = f"; {plural(done.left_behind, 'comment')} not copied" if done.left_behind else ""
    print(f"{path_words(done.path)}: the {done.what}{left}")
    return DONE


def estimate_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `estimate`."""
    parser.add_argument(
        "schedule", metavar="ROOMS", type=Path, help="the list of rooms, one row for each (CSV or .xlsx)"
    )
    parser.add_argument("--catalogue", metavar="FILE", type=Path, required=True, help="the catalogue (TOML or .xlsx)")
    parser.add_argument("--prices", metavar="FILE", type=Path, help="the price file (CSV or .xlsx)")
    parser.add_argument(
        "--column", metavar="KEY=HEADING", action="append", default=[],
        help="heading in your list for the column KEY, such as name=Raum if the names of the rooms are under \"Raum\". "
        "KEY is name, indoor_c, heat_loss_w, area_m2, estimated_wall_m (length of wall for skirting, m) or level_m "
        "(level of the floor, m); repeat the option for each column",
    )  # fmt: skip
    parser.add_argument("--outdoor", metavar="C", type=float, required=True, help="design outdoor temperature, °C")
    parser.add_argument(
        "--flow-temp", metavar="C", type=float, action="append",
        help="flow temperature, °C. One temperature gives a quotation; several (repeat the option) give a table "
        "(default: a table for 35, 40, 45, 50 and 55 °C)",
    )  # fmt: skip
    parser.add_argument(
        "--heat",
        metavar="W_M2",
        type=float,
        help="heat loss per floor area, W/m², for rooms without heat_loss_w but with area_m2",
    )
    parser.add_argument(
        "--loss-range",
        metavar="PERCENT",
        type=float,
        help="uncertainty of the heat losses, plus or minus, in %% (default: 15)",
    )
    parser.add_argument(
        "--page", metavar="FILE", type=Path, help="also write the table as an HTML page that can be printed"
    )
    parser.add_argument(
        "--profile", metavar="NAME", help="name of the profile in the catalogue (default: the first profile)"
    )
    parser.add_argument(
        "--save",
        metavar="FILE",
        type=Path,
        help="also write the rooms as a survey (.toml or .xlsx), in which you fill in the rest",
    )


def run_estimate(arguments: argparse.Namespace) -> int:
    """Run `estimate`."""
    from dataclasses import replace

    from heatloop.cli.command import exit_status
    from heatloop.report.files.progress import spinner
    from heatloop.survey.builders.schedule import survey_from_schedule
    from heatloop.survey.toml.input_text import file_error
    from heatloop.workflows.design import size
    from heatloop.workflows.estimating.estimate import FLOW_TEMPS_C, LOSS_RANGE_PERCENT, Estimate, estimate

    columns = {}
    for pair in arguments.column:
        key, sign, heading = pair.partition("=")
        if not sign:
            raise file_error("estimate", "--column", pair, "KEY=HEADING, such as name=Raum")
        columns[key.strip()] = heading.strip()
    temps = arguments.flow_temp or list(FLOW_TEMPS_C)
    quoted = len(temps) == 1 and arguments.page is None
    if quoted and arguments.prices is None:
        raise file_error("estimate", "--prices", "nothing", "a price file, or no --flow-temp for a table")
    survey = survey_from_schedule(
        arguments.schedule, arguments.catalogue, arguments.outdoor, max(temps), columns=columns,
        heat_w_m2=arguments.heat, profile=arguments.profile, name=arguments.schedule.name,
    )  # fmt: skip
    with spinner(f"estimating {arguments.schedule.name}"):
        if quoted:
            design = size(survey)
            result: object = design.parts().price(arguments.prices)
            fails: object = design.verdict.fails
            wall_m = sum(room.estimated_wall_m or 0.0 for room in survey.rooms)
            headline = (
                f"{design.verdict.headline}\nQuotation for skirting along all available wall ({wall_m:.1f} m). For the "
                "price of the skirting needed, leave out --flow-temp.\n"
            )
        else:
            loss_range = LOSS_RANGE_PERCENT if arguments.loss_range is None else arguments.loss_range
            table = estimate(survey, arguments.prices, temps, loss_range)
            headline = ""
            result, fails = table, set(table.temperatures["answer"]) == {"no"}
    if arguments.save:
        replace(survey, project=replace(survey.project, name=arguments.schedule.stem)).save(arguments.save)
    if arguments.page and isinstance(result, Estimate):
        result.save(arguments.page)
    print(f"{headline}{result}")
    return exit_status(fails)
