"""Alter and read for some minutes: `python -m tests.fuzz --minutes 8`; failing cases stay in tests/fuzz/found/."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.fuzz.targets import TARGETS, Tally, run

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
    kinds = keep_found(tally, chosen.seed)
    print(f"seed {chosen.seed}: {sum(tally.tried.values())} inputs tried ({tally.tried}), {len(tally.found)} faults")
    for (name, wrong), count in kinds.items():
        print(f"{count:>6} x {name}: {wrong[:200]}")
    return 1 if tally.found else 0


def keep_found(tally: Tally, seed: int) -> dict[tuple[str, str], int]:
    """Write the first input of each kind of fault to `FOUND`; how often each kind was met."""
    endings = {target.name: target.ending for target in TARGETS}
    kinds: dict[tuple[str, str], int] = {}
    for name, wrong, text in tally.found:
        kinds[name, wrong] = kinds.get((name, wrong), 0) + 1
        if kinds[name, wrong] == 1:
            FOUND.mkdir(exist_ok=True)
            path = FOUND / f"{name}-{seed}-{len(kinds)}.{endings[name]}"
            path.write_bytes(text.encode("utf-8", errors="replace"))
    return kinds


if __name__ == "__main__":
    sys.exit(main())
