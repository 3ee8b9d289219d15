"""Runs too long for every day: `python -m tests.long NAME`, each with options of its own (`NAME --help`)."""

from __future__ import annotations

import sys
from collections.abc import Callable

from tests.long.systems import systems

COMMANDS: dict[str, Callable[[list[str]], int]] = {"systems": systems}
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
