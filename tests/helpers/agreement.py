"""Agreement with reference libraries: each comparison is asserted, and its largest difference recorded."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass
class Agreement:
    """All comparisons of one kind: cases so far, the greatest deviation among them and the limit they are held to."""

    peer: str
    what: str
    unit: str
    limit: float
    cases: int = 0
    worst: float = 0.0


KEPT: dict[tuple[str, str], Agreement] = {}
"""Comparisons of this process, by reference and quantity."""


def assert_agrees(peer: str, what: str, deviation: float, limit: float, unit: str = "ratio") -> None:
    """Note a deviation and hold it to its limit."""
    kept = KEPT.setdefault((peer, what), Agreement(peer, what, unit, limit))
    assert kept.limit == limit, f"{peer}, {what}: two limits"
    kept.cases += 1
    kept.worst = max(kept.worst, float(deviation))
    assert deviation < limit, f"{what}: {deviation:g} from {peer}, at most {limit:g}"


def keep(path: Path) -> None:
    """Write what this process compared."""
    path.write_text(json.dumps([asdict(one) for one in KEPT.values()], indent=1) + "\n", encoding="utf-8")
