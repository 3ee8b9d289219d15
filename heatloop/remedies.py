"""What to mend and what to watch, read from the checks: where, what was found, and the remedy."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from heatloop.wording import listing, printable, significant, unit_words


@dataclass(frozen=True)
class Change:
    """One thing to mend or to watch: what, where and by how much, and the remedy."""

    verdict: str
    where: str
    what: str
    remedy: str


def changes(checks: pd.DataFrame) -> list[Change]:
    """What fails, then what calls for caution; the same check on several subjects is told once."""
    found = []
    for standing in ("fail", "caution"):
        rows = checks[checks["verdict"] == standing]
        for (check, limit, unit, remedy), group in rows.groupby(["check", "limit", "unit", "remedy"], sort=False):
            one = len(group) == 1
            values = [
                significant(v) if one else f"{significant(v)} ({printable(s)})"
                for v, s in zip(group["value"], group["subject"], strict=True)
            ]
            what = (
                f"{check}: found {listing(values)}, limit {significant(float(str(limit)))} {unit_words(unit)}".strip()
            )
            found.append(Change(standing, printable(listing(group["subject"])), printable(what), _sentence(remedy)))
    return found


def _sentence(words: object) -> str:
    text = printable(words).strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') or not text else '.'}"
