"""How data flows through the package, drawn from its source: `python docs/pictures/data_flow.py` writes data-flow.png.

Layers come from `tests/unit/test_structure.py`, the imports of each unit, the files of values and of the functions
that make them from `heatloop/`. A function that no longer makes a value of that name out of the other is an error.
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch, FancyBboxPatch, Rectangle
from PIL import Image

from heatloop.report.plots import style

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
PACKAGE = ROOT / "heatloop"
PICTURE = HERE / "data-flow.png"
DPI = 96


@dataclass(frozen=True)
class Step:
    """A value, the function that makes it, the values it is made from, and where its box is: column and row.

    Columns run from 0 to 1 across the picture, rows are counted within the band of the layer, lowest first. FILES is
    no value: its function writes files.
    """

    value: str
    function: str
    sources: tuple[str, ...]
    column: float
    row: int = 0


FILES = "Files of a report"

STEPS = (
    Step("SurveyData", "survey_of", (), 0.50),
    Step("Survey", "read_survey", (), 0.82),
    Step("RoomLoss", "room_losses", ("SurveyData",), 0.27),
    Step("Layout", "build_layout", ("SurveyData",), 0.73),
    Step("PreparedSystem", "prepare_system", ("SurveyData",), 0.50),
    Step("SizedSystem", "size_system", ("PreparedSystem",), 0.50, 1),
    Step("DesignResult", "size_survey", ("SurveyData",), 0.50),
    Step("OperatingPoint", "simulate", ("DesignResult",), 0.09, 1),
    Step("CommissioningResult", "commission", ("DesignResult",), 0.295, 1),
    Step("PartsListResult", "parts_list", ("DesignResult",), 0.50, 1),
    Step("FirstFixResult", "plan_first_fix", ("SurveyData", "Layout"), 0.705, 1),
    Step("Diagnosis", "diagnose", ("DesignResult", "Readings"), 0.91, 1),
    Step("Quotation", "quotation_from", ("PartsListResult",), 0.09, 2),
    Step(FILES, "write_design_files", ("DesignResult", "PartsListResult", "CommissioningResult"), 0.50),
    Step("Design", "size", ("Survey",), 0.50),
)
"""The main values, in the order in which they are made."""

CONTAINED = (
    ("RoomLoss", "PreparedSystem"),
    ("Layout", "PreparedSystem"),
    ("SurveyData", "PreparedSystem"),
    ("SizedSystem", "DesignResult"),
)
"""Pairs of values of which the second has the first as a field."""

ARROWS = (
    ("SurveyData", "Survey"),
    *(("SurveyData", name) for name in ("RoomLoss", "Layout", "PreparedSystem")),
    *CONTAINED[:2],
    ("PreparedSystem", "SizedSystem"),
    ("SizedSystem", "DesignResult"),
    *(("DesignResult", name) for name in ("OperatingPoint", "CommissioningResult", "PartsListResult", "Diagnosis")),
    ("Layout", "FirstFixResult"),
    ("PartsListResult", "Quotation"),
    *((name, FILES) for name in ("CommissioningResult", "PartsListResult", "FirstFixResult")),
)
"""Arrows of the picture, from a value to one that is made from it."""

BOX_WIDTH, BOX_HEIGHT, ROW_HEIGHT = 0.196, 0.62, 0.92


@dataclass(frozen=True)
class Source:
    """What is read from the package: by unit what it imports, by class and by function its file and its syntax tree."""

    imports: dict[str, set[str]]
    classes: dict[str, tuple[Path, ast.ClassDef]]
    functions: dict[str, tuple[Path, ast.FunctionDef]]


def layers() -> tuple[tuple[str, ...], ...]:
    """The table LAYERS of the structure test, lowest first."""
    tree = ast.parse((ROOT / "tests" / "unit" / "test_structure.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "LAYERS":
            found: tuple[tuple[str, ...], ...] = ast.literal_eval(node.value)
            return found
    raise ValueError("tests/unit/test_structure.py has no LAYERS")


def read_source() -> Source:
    """The package's classes and public functions, and which units import which."""
    found = Source({}, {}, {})
    for path in (*sorted(PACKAGE.rglob("*.py")), PACKAGE / "__init__.pyi"):
        tree, own = ast.parse(path.read_text(encoding="utf-8")), unit_of(path)
        targets = found.imports.setdefault(own, set())
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "heatloop":
                targets |= set(_imported_units(node)) - {own}
        for item in tree.body:
            if isinstance(item, ast.ClassDef):
                found.classes[item.name] = path, item
            elif isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
                found.functions.setdefault(item.name, (path, item))
    return found


def unit_of(path: Path) -> str:
    """The folder of the package that a file is in; "heatloop" and "__main__" for the two files at its root."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return "heatloop" if parts == ("__init__",) else parts[0]


def _imported_units(node: ast.ImportFrom) -> Iterator[str]:
    parts = str(node.module).split(".")
    yield from parts[1:2] if len(parts) > 1 else (alias.name for alias in node.names)


def defined_in(step: Step, source: Source) -> Path:
    """The file of a value, of what writes FILES."""
    return source.functions[step.function][0] if step.value == FILES else source.classes[step.value][0]


def check(source: Source) -> None:
    """ValueError where a step or a field differs from the code."""
    for step in STEPS:
        if step.function not in source.functions or step.value not in (*source.classes, FILES):
            raise ValueError(f"{step.function}() or {step.value} is not in the package")
        _, function = source.functions[step.function]
        arguments = [*function.args.args, *function.args.kwonlyargs]
        given = set().union(*(_named(one.annotation) for one in arguments))
        if step.value not in (*_named(function.returns), FILES) or not given >= set(step.sources):
            raise ValueError(f"{step.function}() does not make {step.value} from {', '.join(step.sources)}")
    for part, whole in CONTAINED:
        fields = [node for node in source.classes[whole][1].body if isinstance(node, ast.AnnAssign)]
        if not any(part in _named(field.annotation) for field in fields):
            raise ValueError(f"{whole} has no field of {part}")


def _named(annotation: ast.expr | None) -> set[str]:
    return {node.id for node in ast.walk(annotation) if isinstance(node, ast.Name)} if annotation else set()


def draw() -> Figure:
    """The layers as bands, lowest at the bottom; in each band the values that its units define."""
    source = read_source()
    check(source)
    unit = {step.value: unit_of(defined_in(step, source)) for step in STEPS}
    bands = layers()
    rows = [max((1 + s.row for s in STEPS if unit[s.value] in names), default=0) for names in bands]
    heights = [1.02 + ROW_HEIGHT * (count - 1) if count else 0.76 for count in rows]
    with style.applied():
        figure = plt.figure(figsize=(9.6, 9.4))
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(-0.29, 1.36), ylim=(-0.05, sum(heights) + 0.5))
        ax.axis("off")
        ax.text(-0.28, sum(heights) + 0.12, "Data flows upwards, imports point downwards", fontsize=11, weight="bold")
        ax.text(1.02, sum(heights) + 0.12, "imports", fontsize=8.5, weight="bold")
        spots, bottom = {}, 0.0
        for number, (names, height) in enumerate(zip(bands, heights, strict=True), start=1):
            _band(ax, number, names, bottom, height, source)
            for step in STEPS:
                if unit[step.value] in names:
                    spots[step.value] = step.column, bottom + 0.1 + BOX_HEIGHT / 2 + 0.1 + step.row * ROW_HEIGHT
            bottom += height
        for start, end in ARROWS:
            _arrow(ax, spots[start], spots[end])
        for step in STEPS:
            _box(ax, step, spots[step.value], source)
    return figure


def _band(ax: Axes, number: int, names: tuple[str, ...], bottom: float, height: float, source: Source) -> None:
    """A layer: its number and units on the left, what they import on the right."""
    shade = style.PAPER if number % 2 else style.FLOOR
    ax.add_patch(Rectangle((-0.29, bottom), 1.65, height, facecolor=shade, edgecolor="none", zorder=0))
    shown = [f"{'__init__' if name == 'heatloop' else name}{'' if name in ('heatloop', '__main__') else '/'}"
             for name in names]  # fmt: skip
    ax.text(-0.28, bottom + height / 2, str(number), va="center", fontsize=12, weight="bold", color=style.MUTED)
    ax.text(-0.235, bottom + height / 2, "\n".join(shown), va="center", fontsize=8.5, weight="bold")
    order = [name for layer in layers() for name in layer]
    lines = []
    for name in names:
        targets = [target for target in order if target in source.imports[name]]
        lines += [f"{name}: {_wrapped(targets)}" if len(names) > 1 else _wrapped(targets)]
    ax.text(1.02, bottom + height / 2, "\n".join(lines), va="center", fontsize=6.2, color=style.MUTED, linespacing=1.25)


def _wrapped(names: list[str], each: int = 3) -> str:
    """Names in lines of so many."""
    lines = [", ".join(names[at : at + each]) for at in range(0, len(names), each)]
    return ",\n   ".join(lines) or "no other unit"


def _box(ax: Axes, step: Step, spot: tuple[float, float], source: Source) -> None:
    """A value: its name, the function that makes it, the files of both."""
    x, y = spot
    corner = x - BOX_WIDTH / 2, y - BOX_HEIGHT / 2
    ax.add_patch(
        FancyBboxPatch(
            corner, BOX_WIDTH, BOX_HEIGHT, boxstyle="round,pad=0,rounding_size=0.02",
            facecolor="white", edgecolor=style.INK, linewidth=0.9, zorder=3,
        )
    )  # fmt: skip
    made, defined = source.functions[step.function][0], defined_in(step, source)
    small: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 4}
    ax.text(x, y + 0.2, step.value, fontsize=7.4 if len(step.value) < 17 else 6.5, weight="bold", **small)
    lines = [] if step.value == FILES else [_within_unit(defined)]
    base = "" if step.value == FILES else _base(source.classes[step.value][1])
    if base:
        lines = [f"{base} with methods"]
    lines += [f"by {step.function}()", _within_unit(made, unit_of(made) == unit_of(defined))]
    ax.text(
        x,
        y - 0.085,
        "\n".join(lines),
        fontsize=5.7 if len(max(lines, key=len)) < 25 else 5.0,
        color=style.MUTED,
        linespacing=1.4,
        **small,
    )


def _base(definition: ast.ClassDef) -> str:
    """The main value that a class is a subclass of, "" where it is of none."""
    values = {step.value for step in STEPS}
    return next((base.id for base in definition.bases if isinstance(base, ast.Name) and base.id in values), "")


def _within_unit(path: Path, is_short: bool = True) -> str:
    """A file as a path below its unit, with the unit before it unless that is clear."""
    parts = path.relative_to(PACKAGE).parts
    return "/".join(parts[1:] if is_short else parts)


def _arrow(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """From the top of one box to the bottom of the other, or from side to side where they stand beside each other."""
    (x, y), (to_x, to_y) = start, end
    if y == to_y:
        ends = (x + BOX_WIDTH / 2, y), (to_x - BOX_WIDTH / 2, to_y)
    else:
        ends = (x, y + BOX_HEIGHT / 2), (to_x, to_y - BOX_HEIGHT / 2)
    ax.add_patch(
        FancyArrowPatch(
            *ends, arrowstyle="-|>", mutation_scale=9, color=style.INK, linewidth=0.9, shrinkA=0, shrinkB=0, zorder=2
        )
    )


def written(figure: Figure) -> str:
    """A digest of the contents of the picture, kept in its file, to check whether the stored picture is current."""
    words = "\n".join(text.get_text() for ax in figure.axes for text in ax.texts)
    return hashlib.sha256(words.encode()).hexdigest()


def stored() -> str:
    """The digest in the stored picture, "" where there is none."""
    if not PICTURE.is_file():
        return ""
    with Image.open(PICTURE) as picture:
        return str(picture.info.get("Description", ""))


def main() -> None:
    """Write the picture beside this file, unless the stored one is the same."""
    figure = draw()
    if written(figure) != stored():
        figure.savefig(PICTURE, dpi=DPI, metadata={"Description": written(figure)})
        print(f"{PICTURE.relative_to(ROOT)} rewritten")
    plt.close(figure)


if __name__ == "__main__":
    main()
