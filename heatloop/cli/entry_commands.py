"""Commands that begin a project."""

from __future__ import annotations

import argparse
from pathlib import Path

from heatloop.cli.command import DONE, path_words


def start_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `start`."""
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, help="folder for the files; created if it does not exist"
    )
    parser.add_argument(
        "--drawing", metavar="FILE", type=Path, help="a DXF drawing: its rooms are written as a survey to complete"
    )
    parser.add_argument(
        "--layer", metavar="NAME", default="ROOMS", help="layer of the drawing with the room outlines (default: ROOMS)"
    )
    parser.add_argument("--units", metavar="UNIT", help="unit of the drawing, if the drawing does not state it: mm, m")
    parser.add_argument(
        "--north",
        metavar="DEG",
        type=float,
        default=0.0,
        help="bearing of the upward direction of the drawing, degrees from north (default: 0)",
    )


def run_start(arguments: argparse.Namespace) -> int:
    """Run `start`."""
    from heatloop.survey.starter_files import start_project

    given = {"layer": arguments.layer, "units": arguments.units, "north_deg": arguments.north}
    written = start_project(arguments.folder, drawing=arguments.drawing, **given)
    if arguments.drawing is not None:
        survey = path_words(written[0])
        print(*map(path_words, written), f"next: fill in every ? of {survey}, then heatloop size {survey}", sep="\n")
        return DONE
    for path in written:
        print(path_words(path))
    print(f"next: heatloop size {path_words(next(path for path in written if path.name == 'survey.toml'))}")
    return DONE
