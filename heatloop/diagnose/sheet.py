"""A diagnosis as a page of plain text: what is said, why, what to do, and what to mind."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

import pandas as pd

WIDTH = 100


def sheet_text(
    words: str, candidates: pd.DataFrame, asked: pd.DataFrame, questions: pd.DataFrame, cautions: Sequence[str]
) -> str:
    """The page: verdict, explanations with evidence and first steps, readings to take, open questions, cautions."""
    lines = [*_wrapped(words), ""]
    for row in candidates.to_dict("records"):
        lines += _candidate(row)
    if len(asked):
        lines.append("Readings that would tell these apart:")
        for row in asked.to_dict("records"):
            of = f" of {row['of']}" if row["of"] else ""
            lines += _wrapped(
                f"{row['reading']}{of}, to {row['error']:.2g} {row['unit']}: the right explanation first in "
                f"{100.0 * row['right_after']:.0f} of 100 instead of {100.0 * row['right_now']:.0f}. "
                f"Expect {row['expected']}.",
                "- ",
            )
        lines.append("")
    if len(questions):
        lines.append("Left open by the readings:")
        for row in questions.to_dict("records"):
            lines += _wrapped(": ".join(text for text in (row["place"], row["question"]) if text), "- ")
        lines.append("")
    for caution in cautions:
        lines += _wrapped(caution, "! ")
    return "\n".join(lines) + "\n"


def _candidate(row: Mapping[Hashable, Any]) -> Iterator[str]:
    yield from _wrapped(f"{row['rank']}. {row['fault']}: {100.0 * row['probability']:.0f} in 100")
    for name, text in (
        ("size", _size_lines(row)),
        ("evidence", row["evidence"]),
        ("causes", row["causes"]),
        ("try first", row["try_first"] if row["causes"] else ""),
        ("to tell causes apart", row["tell_apart"]),
    ):
        if text:
            yield from _wrapped(f"{name}: {text}", "   ")
    yield ""


def _size_lines(row: Mapping[Hashable, Any]) -> str:
    if not row["size_is"] or math.isnan(row["size"]):
        return str(row["size_is"])
    if row["size_is"].startswith("kelvin"):
        return f"{row['size']:+.0f} K ({row['size_low']:+.0f} to {row['size_high']:+.0f}) {row['size_is'][7:]}"
    shares = (100.0 * row[name] for name in ("size", "size_low", "size_high"))
    return "{:.0f} % ({:.0f} to {:.0f}), {}".format(*shares, row["size_is"])


def _wrapped(text: str, lead: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))
