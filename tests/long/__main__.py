"""Runs too long for every day: `python -m tests.long NAME`, each with options of its own (`NAME --help`).

Without a name all are run at their full counts, and the pages reliability.md and validation.md of docs/reference/ are
written.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

from tests.long.decisions import lowest, uncertainty
from tests.long.drawings import drawings
from tests.long.entry import entry
from tests.long.improvement import improvement
from tests.long.installed import newest, oldest, pythons, wheel
from tests.long.mutation import mutation
from tests.long.order import order
from tests.long.page import page
from tests.long.runs import diagnosis, fuzz, kills, marked, references
from tests.long.studies import portfolio, study
from tests.long.systems import systems

COMMANDS: dict[str, Callable[[list[str]], int]] = {
    "marked": marked,
    "references": references,
    "diagnosis": diagnosis,
    "fuzz": fuzz,
    "kills": kills,
    "mutation": mutation,
    "order": order,
    "wheel": wheel,
    "oldest": oldest,
    "newest": newest,
    "pythons": pythons,
    "systems": systems,
    "lowest": lowest,
    "uncertainty": uncertainty,
    "drawings": drawings,
    "entry": entry,
    "improvement": improvement,
    "study": study,
    "portfolio": portfolio,
    "page": page,
}
"""Name of each run and the function that takes its arguments and gives an exit code."""


def main(arguments: list[str]) -> int:
    """Run the one that is named, or all; the greatest exit code."""
    if not arguments:
        return max(run([]) for run in COMMANDS.values())
    if arguments[0] not in COMMANDS:
        print(f"python -m tests.long NAME, one of: {', '.join(COMMANDS)}", file=sys.stderr)
        return 2
    return COMMANDS[arguments[0]](arguments[1:])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
