"""Write docs/reference/validation.md from the rows of data/published and the last long run against reference libraries.

`python -m tests.published.page` writes it; tests/published/test_rows.py fails while it is not what this would write.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import Any

from heatloop.text.formatting import unit_text
from tests.helpers.paths import ROOT
from tests.helpers.published import PROVENANCES, PUBLISHED, WORKED_OUT, Row, read_rows
from tests.long.records import read_record

PAGE = ROOT / "docs" / "reference" / "validation.md"
TITLES = {
    "comfort": "Comfort and surface temperature",
    "compensation": "Weather compensation",
    "ducts": "Shapes of channels",
    "emission": "Emission",
    "energy": "Energy of a year",
    "fabric": "U-values",
    "friction": "Friction",
    "heat_loss": "Heat loss",
    "movement": "Thermal movement",
    "networks": "Networks of pipes",
    "optimisation": "Least costly combinations",
    "uncertainty": "Uncertainty",
    "valves": "Valves",
    "vessel": "Closed system",
    "water": "Water",
}
ABOUT = """# Validation

This page lists every published figure that is recalculated, with the result, and the deviations from other libraries.
The tests write it (`python -m tests.published.page`), and a test fails while it is out of date.

## Published cases

Each row of `data/published/` is one check. A result must be within half a unit of the last printed digit. A row with
another tolerance states the reason in its notes. The column "provenance" states how the printed figure was obtained:
**seen** in the source, **derived** by a second method or by hand, or as [Standards](standards.md) explains. The
deviation is the calculated figure minus the printed figure. Deviation and tolerance are in the unit of the row.
"""


def all_modules() -> dict[str, dict[str, list[str]]]:
    """Modules by file and quantity, once all modules of this folder are read."""
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        if path.stem != "test_rows":
            import_module(f"tests.published.{path.stem}")
    return WORKED_OUT


def page() -> str:
    """The whole page."""
    all_modules()
    files = {path.stem: read_rows(path.stem) for path in sorted(PUBLISHED.iterdir())}
    parts = [ABOUT, _counts(files)]
    parts += ["\n".join(_file(TITLES[file], rows)) + "\n" for file, rows in files.items()]
    return "\n".join((*parts, "\n".join(_agreement(read_record("references"))) + "\n"))


def _counts(files: dict[str, tuple[Row, ...]]) -> str:
    """Rows of each file by provenance."""
    lines = [f"| table | rows | {' | '.join(PROVENANCES)} |", "| --- " * (len(PROVENANCES) + 2) + "|"]
    total = Counter[str]()
    for file, rows in files.items():
        count = Counter(row.provenance for row in rows)
        total += count
        lines.append(f"| `{file}.csv` | {len(rows)} | {' | '.join(str(count[one]) for one in PROVENANCES)} |")
    lines.append(f"| all | {total.total()} | {' | '.join(str(total[one]) for one in PROVENANCES)} |")
    return "\n".join(lines) + "\n"


def _file(title: str, rows: tuple[Row, ...]) -> Iterator[str]:
    """A table of rows; sources and reasons are numbered below it."""
    notes: dict[str, int] = {}
    yield f"### {title}\n"
    yield "| case | quantity | inputs | printed | calculated | deviation | tolerance | unit | provenance | notes |"
    yield "| --- " * 10 + "|"
    for row in rows:
        numbers = [notes.setdefault(row.source, len(notes) + 1)]
        if row.because:
            numbers.append(notes.setdefault(f"Tolerance: {row.because}", len(notes) + 1))
        inputs = ", ".join(f"{key} {_plain(value)}" for key, value in row.inputs.items())
        computed = rounded(row.computed(), row.tolerance)
        yield (
            f"| {row.case} | {row.quantity.replace('_', ' ')} | {inputs} | {row.printed} | {computed:f} "
            f"| {_signed(computed - Decimal(row.printed))} | {row.tolerance:.2g} | {unit_text(row.unit)} "
            f"| {row.provenance} | {', '.join(map(str, numbers))} |"
        )
    yield ""
    yield from (f"{number}. {note}" for note, number in notes.items())


def rounded(value: float, tolerance: float) -> Decimal:
    """A number to a digit more than its tolerance has, six decimals at most for rows that are exact."""
    places = max(Decimal(f"{max(tolerance, 1e-6):.0e}").adjusted() - 1, -9)
    return Decimal(value).quantize(Decimal(1).scaleb(min(places, 0))).normalize() + 0


def _signed(value: Decimal) -> str:
    return f"{value:+f}" if value else "0"


def _plain(value: float | str) -> str:
    """A value in a cell of a table: "|" within a text does not end the cell."""
    return value.replace("|", r"\|") if isinstance(value, str) else f"{value:.10g}"


def _agreement(record: dict[str, Any]) -> Iterator[str]:
    """Agreement with other libraries, from the last long run."""
    figures = record["figures"]
    yield "## Other libraries\n"
    versions = ", ".join(f"{name} {version}" for name, version in figures["versions"].items())
    yield f"`python -m tests.long references` on {record['date']}, commit `{record['commit']}`, with"
    yield f"{figures['asked']} random networks and runs of each kind; {versions}. Each comparison is asserted in"
    yield "`tests/reference/`; differences between the models are stated in `tests/helpers/reference_solvers.py`.\n"
    yield "| against | quantity | comparisons | largest deviation | limit | unit |"
    yield "| --- " * 6 + "|"
    for one in sorted(figures["agreement"], key=lambda one: (one["peer"], one["what"])):
        yield (
            f"| {one['peer']} | {one['what']} | {one['cases']} | {one['worst']:.1e} | {one['limit']:g} "
            f"| {'of the value' if one['unit'] == 'ratio' else unit_text(one['unit'])} |"
        )


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE.relative_to(ROOT)} written")


if __name__ == "__main__":
    main()
