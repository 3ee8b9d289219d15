"""Alter and read for some minutes: `python -m tests.fuzz --minutes 8`; failing cases stay in tests/fuzz/found/."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.fuzz.targets import TARGETS, run

FOUND = Path(__file__).parent / "found"


def main() -> int:
    """Run and print the figures; 1 where a reader failed."""
    parser = argparse.ArgumentParser("python -m tests.fuzz")
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--target", action="append", choices=[target.name for target in TARGETS])
    chosen = parser.parse_args()
    end = time.monotonic() + 60.0 * chosen.minutes
    tally = run(chosen.seed, lambda count: time.monotonic() > end, tuple(chosen.target) if chosen.target else None)
    endings = {target.name: target.ending for target in TARGETS}
    kinds: dict[tuple[str, str], int] = {}
    for name, wrong, text in tally.found:
        kinds[name, wrong] = kinds.get((name, wrong), 0) + 1
        if kinds[name, wrong] == 1:
            FOUND.mkdir(exist_ok=True)
            path = FOUND / f"{name}-{chosen.seed}-{len(kinds)}.{endings[name]}"
            path.write_bytes(text.encode("utf-8", errors="replace"))
    print(f"seed {chosen.seed}: {sum(tally.tried.values())} inputs tried ({tally.tried}), {len(tally.found)} faults")
    for (name, wrong), count in kinds.items():
        print(f"{count:>6} x {name}: {wrong[:200]}")
    return 1 if tally.found else 0


if __name__ == "__main__":
    sys.exit(main())
