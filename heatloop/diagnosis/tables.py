"""A diagnosis as a page of plain text: verdict, evidence, actions and safety notices."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.fault_types import KINDS, NO_FAULT
from heatloop.diagnosis.inference.estimates import PosteriorEstimate, fault_free_estimate, mixture_quantiles
from heatloop.diagnosis.inference.next_reading import RecommendedReading
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions
from heatloop.text.column import (
    Column,
    TableDescription,
    count_column,
    figure_column,
    flag_column,
    number_column,
    share_column,
    text_column,
)
from heatloop.text.formatting import escape_control_characters, unit_text
from heatloop.text.summary import LINE_WIDTH
from heatloop.text.table_set import table_frame


def sheet_text(
    words: str,
    candidates: pd.DataFrame,
    recommendations: pd.DataFrame,
    questions: pd.DataFrame,
    cautions: Sequence[str],
) -> str:
    """The page: verdict, explanations with evidence and first steps, readings to take, open questions, cautions."""
    caption = (
        "Possible explanations. The probability is that exactly the faults named in the explanation are present, and "
        "no other."
    )
    if len(candidates) > 1:
        caption += (
            " The expected values differ slightly between explanations: each has its own estimate of "
            "three values: probe bias, source temperature and pump head."
        )
    lines = [
        *_wrapped(words),
        "",
        *_wrapped(caption),
        "",
    ]
    for row in candidates.to_dict("records"):
        lines += _candidate(row)
    if len(recommendations):
        lines.append("Readings that would distinguish these faults:")
        for row in recommendations.to_dict("records"):
            of = f" of {row['of']}" if row["of"] else ""
            lines += _wrapped(
                f"{row['reading']}{of}, accurate to {row['error']:.2g} {unit_text(row['unit'])}. This reading "
                "is expected to raise the probability of the most likely explanation to "
                f"{100.0 * row['right_after']:.0f} % (mean over its possible values). Expected value: "
                f"{row['expected']}.",
                "- ",
            )
        lines.append("")
    if len(questions):
        lines.append("Open questions about the readings:")
        for row in questions.to_dict("records"):
            lines += _wrapped(": ".join(text for text in (row["place"], row["question"]) if text), "- ")
        lines.append("")
    for caution in cautions:
        lines += _wrapped(caution, "! ")
    return "\n".join(lines) + "\n"


def _candidate(row: Mapping[Hashable, Any]) -> Iterator[str]:
    yield from _wrapped(f"{row['rank']}. {row['fault']}: {100.0 * row['probability']:.0f} %")
    for name, text in (
        ("size of the fault", _size_lines(row)),
        ("evidence", row["evidence"]),
        ("causes", row["causes"]),
        ("first action", row["first_action"] if row["causes"] else ""),
        ("check to find the cause", row["distinguishing_check"]),
    ):
        if text:
            yield from _wrapped(f"{name}: {text}", "   ")
    yield ""


def _size_lines(row: Mapping[Hashable, Any]) -> str:
    if not row["size_meaning"] or math.isnan(row["size"]):
        return str(row["size_meaning"])
    return _size_text(row["size_meaning"], row["size"], (row["size_low"], row["size_high"]))


def _size_text(meaning: str, size: float, ends: Sequence[float] = ()) -> str:
    """A size with its quantity: "flow 20 % of the expected flow (13 to 27 %)", or with kelvin above or below."""
    quantity, shares, whole = meaning.partition(" as a share of ")
    if shares:
        shown, unit = [f"{100.0 * value:.0f}" for value in (size, *ends)], "%"
        text = f"{quantity} {shown[0]} % of {whole}"
    else:
        shown, unit = [f"{value:.0f}" for value in (abs(size), *sorted(map(abs, ends)))], "K"
        text = f"{shown[0]} K {'below' if size < 0.0 else 'above'} {meaning.removeprefix('kelvin from ')}"
    return f"{text} ({shown[1]} to {shown[2]} {unit})" if ends else text


def _wrapped(text: str, lead: str = "") -> list[str]:
    return textwrap.wrap(
        escape_control_characters(text), LINE_WIDTH.get(), initial_indent=lead, subsequent_indent=" " * len(lead)
    )


Array = NDArray[np.float64]

MAX_EVIDENCE = 3

STANDS_OUT = 2.0
"""Minimum deviation of a reading, in multiples of its error, that is listed as evidence."""

EXPLANATIONS = TableDescription(
    "explanations",
    "Explanations",
    "One row for each explanation of the readings, the most probable first.",
    (
        count_column("rank", "Rank"),
        text_column("fault", "Fault"),
        text_column("kind", "Kind"),
        text_column("of", "Of", "the loop or room"),
        share_column("probability", "Probability"),
        figure_column("size", "Size", "size of the fault: a ratio or K, as the column size_meaning states"),
        figure_column("size_low", "Size at least", "lower end of the range of 90 % probability"),
        figure_column("size_high", "Size at most", "upper end of the range of 90 % probability"),
        text_column("size_meaning", "Size meaning"),
        text_column("evidence", "Evidence", "readings that differ most from the values expected without the fault"),
        text_column("causes", "Causes"),
        text_column("first_action", "First action"),
        text_column("distinguishing_check", "Distinguishing check"),
    ),
)

LOOPS = TableDescription(
    "loops",
    "Loops",
    "One row for each loop: expected and estimated flow, temperatures as read and as expected without the fault.",
    (
        text_column("loop", "Loop"),
        number_column("expected_flow_l_h", "Flow expected", "l/h", 0),
        number_column("flow_l_h", "Flow estimated", "l/h", 0, "median"),
        number_column("flow_low_l_h", "Flow at least", "l/h", 0, "lower end of the range of 90 % probability"),
        number_column("flow_high_l_h", "Flow at most", "l/h", 0, "upper end of the range of 90 % probability"),
        share_column("flow_share", "Share of expected flow"),
        number_column("flow_temp_read_c", "Flow temperature read", "°C", 1),
        number_column("flow_temp_expected_c", "Flow temperature expected", "°C", 1, "without the fault"),
        number_column("return_temp_read_c", "Return temperature read", "°C", 1),
        number_column("return_temp_expected_c", "Return temperature expected", "°C", 1, "without the fault"),
    ),
)

NEXT_READINGS = TableDescription(
    "next_readings",
    "Readings to take next",
    "One row for each reading that would distinguish the remaining explanations; empty if none would help.",
    (
        text_column("reading", "Reading"),
        text_column("of", "Of", "the loop or room"),
        figure_column("error", "Required accuracy", "in the unit of this row"),
        Column("unit", "Unit", kind="unit"),
        share_column(
            "right_now",
            "Right now",
            "probability of the first explanation now, among the explanations under Expected",
        ),
        share_column("right_after", "Right after", "the same probability when this reading is added"),
        text_column("expected", "Expected", "value of the reading that each explanation gives"),
    ),
)

READING_QUERIES = TableDescription(
    "reading_queries",
    "Open questions",
    "Open questions about the readings.",
    (text_column("place", "Where"), text_column("question", "Question")),
)

DIAGNOSIS_SUMMARY: tuple[Column, ...] = (
    text_column("verdict", "Verdict", "no fault, fault or not identified"),
    text_column("words", "In words"),
    share_column("probability_no_fault", "Probability of no fault"),
    count_column("readings", "Readings"),
    number_column("probe_bias_k", "Bias of the probe", "K", 1),
    number_column("probe_bias_spread_k", "Spread of the bias", "K", 1),
    number_column("source_expected_c", "Source expected at", "°C", 1),
    text_column("source_expected_from", "Source of the expected temperature"),
    number_column("source_c", "Source estimated at", "°C", 1),
    number_column("source_spread_k", "Spread of the source", "K", 1),
    share_column(
        "explained",
        "Explained",
        "probability of such deviations of the readings, or larger ones, if the best explanation is right",
    ),
    flag_column("rooms_counted", "Rooms counted", "room temperatures were read at a known outdoor temperature"),
)


def explanation_row(model: SiteModel, day: ReadingConditions, rank: int, estimate: PosteriorEstimate) -> dict[str, Any]:
    """One explanation: fault, probability, size, evidence and actions."""
    hypothesis = estimate.weighted.hypothesis
    faults = hypothesis.faults
    types = [KINDS[fault.kind] for fault in faults]
    size = low = high = math.nan
    if len(faults) == 1 and estimate.sizes:
        size, low, high = _size(estimate.sizes[0], estimate.weight)
    return {
        "rank": rank,
        "fault": "; ".join(fault.text(model.network) for fault in faults),
        "kind": "; ".join(fault.kind for fault in faults),
        "of": "; ".join(fault.of(model.network) for fault in faults),
        "probability": estimate.weighted.probability,
        "size": size,
        "size_low": low,
        "size_high": high,
        "size_meaning": types[0].size_meaning if len(faults) == 1 else _sizes_in_words(estimate),
        "evidence": evidence(model, day, estimate) if faults[0].kind != NO_FAULT else "",
        "causes": _of_each({kind.name: kind.causes for kind in types}),
        "first_action": _of_each({kind.name: kind.first_action for kind in types}),
        "distinguishing_check": _of_each({kind.name: kind.distinguishing_check for kind in types}),
    }


def _of_each(texts: Mapping[str, str]) -> str:
    """The text of one kind of fault, or of several, each after its name."""
    if len(texts) == 1:
        return next(iter(texts.values()))
    return "; ".join(f"{name}: {text}" for name, text in texts.items())


def _size(sizes: Array, weight: Array) -> tuple[float, float, float]:
    """Mean size and its range of 90 % probability."""
    order = np.argsort(sizes)
    chance = np.cumsum(weight[order]) - 0.5 * weight[order]
    low, high = (float(np.interp(part, chance, sizes[order])) for part in (0.05, 0.95))
    return float(weight @ sizes), low, high


def _sizes_in_words(estimate: PosteriorEstimate) -> str:
    words, at = [], 0
    for fault in estimate.weighted.hypothesis.faults:
        if meaning := KINDS[fault.kind].size_meaning:
            words.append(f"{fault.kind}: {_size_text(meaning, float(estimate.weight @ estimate.sizes[at]))}")
            at += 1
    return "; ".join(words)


def evidence(model: SiteModel, day: ReadingConditions, estimate: PosteriorEstimate) -> str:
    """The readings furthest from their values without the fault, in words."""
    without = fault_free_estimate(model, day, estimate)[day.rows]
    off = (day.value - without) / day.error
    order = np.argsort(-np.abs(off))
    listed = [
        _deviation_text(model, day, int(day.rows[i]), float(day.value[i]), float(without[i]))
        for i in order[:MAX_EVIDENCE]
        if abs(off[i]) >= STANDS_OUT
    ]
    return "; ".join(listed) or "many small deviations, no large one"


def _deviation_text(model: SiteModel, day: ReadingConditions, row: int, value: float, without: float) -> str:
    rows = model.rows
    quantity, of = rows.name(row, model.network)
    if rows.first_room <= row < rows.first_surface:
        word = "colder" if without > 0.0 else "warmer"
        return f"{of} at {day.room_c[of]:.1f} °C is {word} than expected from its heat without the fault"
    read, expected, unit = (
        formatted_reading(model, row, value),
        formatted_reading(model, row, without),
        unit_text(unit_of(model, row)),
    )
    name = f"{quantity} of {of}" if of else quantity
    return f"{name} {read} {unit}, expected {expected} {unit} without the fault"


def unit_of(model: SiteModel, row: int) -> str:
    """Unit of a row of the model."""
    rows = model.rows
    if rows.flow(0) <= row <= rows.total_flow:
        return "l/h"
    if row == rows.head:
        return "kPa"
    return "K" if row == rows.bias else "degC"


def physical_value(model: SiteModel, row: int, value: float) -> float:
    """The value of a row in its unit; the model holds flows and heads as logarithms of their share of the expected."""
    rows = model.rows
    if row < rows.flow(0) or row > rows.head:
        return value
    if row == rows.head:
        return float(model.responses.head_pa[0] / 1000.0 * math.exp(value))
    litres = expected_flow_l_h(model)
    whole = float(litres.sum()) if row == rows.total_flow else float(litres[row - rows.flow(0)])
    return whole * math.exp(value)


def formatted_reading(model: SiteModel, row: int, value: float) -> str:
    """The value of a row in its unit, with the decimals of a reading."""
    return f"{physical_value(model, row, value):.{0 if unit_of(model, row) == 'l/h' else 1}f}"


def expected_flow_l_h(model: SiteModel) -> Array:
    """Expected flow of every loop, l/h at its flow temperature in the design (L)."""
    density = model.site.fluid.density_kg_m3(model.site.supply_c(model.site.source_c))
    return np.asarray(model.responses.loop_kg_s / density * 3.6e6)


def diagnosis_loops_table(
    model: SiteModel, day: ReadingConditions, readings: Readings, estimates: Sequence[PosteriorEstimate]
) -> pd.DataFrame:
    """One row for each loop: expected flow, estimated flow, and temperatures.

    The estimated flow is the median with its range of 90 % probability. Temperatures are those read and those expected
    without the fault.
    """
    without = fault_free_estimate(model, day, estimates[0])
    expected = expected_flow_l_h(model)
    rows = []
    for i, path in enumerate(model.network.loops):
        name = path.loop.name
        low, middle, high = (math.exp(v) for v in mixture_quantiles(estimates, model.rows.flow(i), (0.05, 0.5, 0.95)))
        flow, back = readings.get(r.FLOW_TEMP, name), readings.get(r.RETURN_TEMP, name)
        rows.append(
            {
                "loop": name,
                "expected_flow_l_h": expected[i],
                "flow_l_h": middle * expected[i],
                "flow_low_l_h": low * expected[i],
                "flow_high_l_h": high * expected[i],
                "flow_share": middle,
                "flow_temp_read_c": math.nan if flow is None else flow.value,
                "flow_temp_expected_c": float(without[model.rows.flow_temp(i)]),
                "return_temp_read_c": math.nan if back is None else back.value,
                "return_temp_expected_c": float(without[model.rows.return_temp(i)]),
            }
        )
    return table_frame(LOOPS, rows)


def recommendation_row(
    model: SiteModel, recommendation: RecommendedReading, plausible: Sequence[PosteriorEstimate], shown: int
) -> dict[str, Any]:
    """A reading to take next: probability of a correct first explanation now and after it, and expected values.

    Values are given for the explanations shown, the first of the plausible ones; where only one is shown, for the
    next most probable too.
    """
    chance = np.array([estimate.weighted.probability for estimate in plausible])
    count = max(shown, 2)
    unit = unit_of(model, recommendation.row)
    expected = "; ".join(
        f"{_range(model, recommendation, mean, spread)} {unit_text(unit)} if {_short(model, estimate)}"
        for estimate, mean, spread in list(zip(plausible, recommendation.means, recommendation.spreads, strict=True))[
            :count
        ]
    )
    share = unit in ("l/h", "kPa")
    return {
        "reading": recommendation.quantity,
        "of": recommendation.of,
        "error": 100.0 * recommendation.error if share else recommendation.error,
        "unit": "%" if share else unit,
        "right_now": float(chance.max() / chance.sum()),
        "right_after": recommendation.right_after,
        "expected": expected,
    }


def _range(model: SiteModel, recommendation: RecommendedReading, mean: float, spread: float) -> str:
    low, high = (
        formatted_reading(model, recommendation.row, mean - spread),
        formatted_reading(model, recommendation.row, mean + spread),
    )
    return low if low == high else f"{low} to {high}"


def _short(model: SiteModel, estimate: PosteriorEstimate) -> str:
    faults = estimate.weighted.hypothesis.faults
    if [fault.kind for fault in faults] == [NO_FAULT]:
        return "there is no fault"
    return " and ".join(fault.text(model.network) for fault in faults)
