"""What is altered and who reads it: survey, catalogue, readings, prices and drawing; houses that are sized."""

from __future__ import annotations

import io
import itertools
import random
import tempfile
import time
import tomllib
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import ezdxf

from heatloop.diagnosis.readings_file import readings_of
from heatloop.diagnosis.readings_form import readings_sheet
from heatloop.findings.input_errors import InputError
from heatloop.handover.price_file import prices_of
from heatloop.layout.build import layout_faults
from heatloop.report.files.export import ReportError
from heatloop.survey.drawing.read_dxf import read_drawing
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton
from heatloop.survey.entry import read_survey
from heatloop.survey.read import read_catalogue, read_year
from heatloop.workflows.design import size
from tests.fuzz.mutations import TEXT_CHANGES, altered_tables, toml_text
from tests.fuzz.values import altered_values
from tests.helpers.paths import DATA
from tests.helpers.random_systems import every_table, worst_residual

JOB, HOUSE = DATA / "mill-annexe", DATA / "alder-lodge"

CASES = Path(__file__).parent / "cases"
"""Files that once broke the program; each name begins with that of its target."""

MAX_RESIDUAL = 1e-9
"""Largest residual of mass, head or energy in a design."""

LONGEST_S = 20.0
"""No input may take longer to read, or to size."""

PRICES = "# currency: EUR\nitem,price,per,discount_percent,labour_min\npipe 15,3.20,metre,10,4\nelbow,1.1,piece,,2\n"


@dataclass(frozen=True)
class Target:
    """A kind of file: its good text, its ending and what reads it from a path; TOML is altered by its tables too.

    `values_only`: its values are altered and its structure kept, so that most of it can be sized. `job`: the folder of
    its catalogue.
    """

    name: str
    ending: str
    good: Callable[[], str]
    read: Callable[[Path], object]
    values_only: bool = False
    job: Path = JOB


def _survey(path: Path) -> None:
    try:
        found = read_survey(path)
    except InputError as error:
        if error.partial is not None:
            layout_faults(error.partial)  # type: ignore[arg-type]
        raise
    layout_faults(found)


def _sized(path: Path) -> None:
    """Size the survey, with all its tables; a warning of the arithmetic is a fault too."""
    _balanced(path)


def _sized_with(path: Path) -> None:
    """Size the survey of two rooms with this catalogue."""
    _balanced(replace(read_survey(JOB / "survey.toml"), catalogue=read_catalogue(path)))


def _balanced(survey_or_path: object) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        design = size(survey_or_path)  # type: ignore[arg-type]
        every_table(design)
    residual = worst_residual(design)
    if not residual <= MAX_RESIDUAL:
        raise AssertionError(f"a residual of {residual:.1e}")


def _drawing(path: Path) -> None:
    survey_skeleton(read_drawing(path, "ROOMS"), TemplateOptions(project="fuzz"))


@cache
def _design():
    return size(JOB / "survey.toml").system


def _filled_in() -> str:
    """The form of readings with some values in it."""
    text = readings_sheet(_design())
    text = text.replace("flow temperature,Annexe,,,", "flow temperature,Annexe,,44.5,")
    text = text.replace("return temperature,Annexe,,,", "return temperature,Annexe,,38,")
    return text.replace("outdoor temperature,,,not read", "outdoor temperature,,,3.5")


@cache
def _drawn() -> str:
    """A drawing with two rooms, a door block with an attribute, lines and a text."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    layer = {"layer": "ROOMS"}
    space.add_lwpolyline([(0, 0), (0, 3000), (4000, 3000), (4000, 0)], close=True, dxfattribs=layer)
    corners = [(4100, 0), (4100, 3000), (7000, 3000), (7000, 0), (4100, 0)]
    for a, b in itertools.pairwise(corners):
        space.add_line(a, b, dxfattribs=layer)
    block = document.blocks.new("DOOR")
    block.add_line((0, 0), (840, 0))
    space.add_blockref("DOOR", (1000, 0)).add_attrib("WIDTH", "840", (1000, 0))
    space.add_text("Hall", height=200).set_placement((1000, 1000))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


TARGETS = (
    Target("survey", "toml", lambda: _file(JOB / "survey.toml"), _survey),
    Target("catalogue", "toml", lambda: _file(JOB / "catalogue.toml"), read_catalogue),
    Target("year", "toml", lambda: _file(JOB / "year.toml"), read_year),
    Target("readings", "csv", _filled_in, lambda path: readings_of(_text(path), "f", _design())),
    Target("prices", "csv", lambda: PRICES, lambda path: prices_of(_text(path), "f")),
    Target("drawing", "dxf", _drawn, _drawing),
    Target("two rooms, sized", "toml", lambda: _file(JOB / "survey.toml"), _sized, values_only=True),
    Target("nine rooms, sized", "toml", lambda: _file(HOUSE / "draft.toml"), _sized, values_only=True, job=HOUSE),
    Target("catalogue, two rooms sized", "toml", lambda: _file(JOB / "catalogue.toml"), _sized_with, values_only=True),
)


def _file(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _text(path: Path) -> str:
    return path.read_bytes().decode("utf-8")


def altered(target: Target, draw: random.Random) -> str:
    """The good file of a target, altered."""
    text = target.good()
    if target.values_only:
        return toml_text(altered_values(tomllib.loads(text), draw))
    if target.ending == "toml" and draw.random() < 0.6:
        return toml_text(altered_tables(tomllib.loads(text), draw))
    return draw.choice(TEXT_CHANGES)(text, draw)


def fault_of(target: Target, text: str, folder: Path) -> str | None:
    """What is wrong with the reading of a text, None where it is read or refused in whole plain lines in good time."""
    path = folder / f"input.{target.ending}"
    path.write_bytes(text.encode("utf-8", errors="replace"))
    (folder / "catalogue.toml").write_bytes((target.job / "catalogue.toml").read_bytes())
    began = time.monotonic()
    try:
        target.read(path)
    except (InputError, ReportError) as error:
        hidden = [line for line in str(error).split("\n") if not line or any(_hides(c) for c in line)]
        if hidden:
            return f"a line that is not plain: {hidden[0]!r}"
        if max(map(len, str(error).split("\n"))) > 4000:
            return "a line of more than 4000 characters"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    took_s = time.monotonic() - began
    return f"took {took_s:.0f} s" if took_s > LONGEST_S else None


def _hides(c: str) -> bool:
    return not c.isprintable() and c not in "\u200c\u200d"


@dataclass
class Tally:
    """Inputs tried by target, what was found wrong, and the longest time that one took."""

    tried: dict[str, int]
    found: list[tuple[str, str, str]]
    longest_s: float = 0.0


def run(seed: int, until: Callable[[int], bool], names: tuple[str, ...] | None = None) -> Tally:
    """Alter and read, one target after the other, until `until(inputs tried)`."""
    draw = random.Random(seed)
    chosen = [target for target in TARGETS if names is None or target.name in names]
    tally = Tally({target.name: 0 for target in chosen}, [])
    count = 0
    with tempfile.TemporaryDirectory() as folder:
        while not until(count):
            target = chosen[count % len(chosen)]
            text = altered(target, draw)
            began = time.monotonic()
            wrong = fault_of(target, text, Path(folder))
            tally.longest_s = max(tally.longest_s, time.monotonic() - began)
            tally.tried[target.name] += 1
            count += 1
            if wrong is not None:
                tally.found.append((target.name, wrong, text))
    return tally
