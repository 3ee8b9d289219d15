"""From readings of a site to what is wrong with it: faults with how likely they are, and what to do next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd
from scipy.stats import chi2 as chi_squared

from heatloop.diagnosis.fault_types import LITTLE_WATER, NO_FAULT
from heatloop.diagnosis.inference.estimates import BIAS, FIRST_SOURCE, PosteriorEstimate, posterior_estimate
from heatloop.diagnosis.inference.hypotheses import FAULTLESS
from heatloop.diagnosis.inference.next_reading import RecommendedReading, recommended_readings
from heatloop.diagnosis.inference.posterior import WeightedHypothesis, most_probable, posterior
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions, reading_conditions
from heatloop.diagnosis.tables import (
    DIAGNOSIS_SUMMARY,
    EXPLANATIONS,
    LOOPS,
    NEXT_READINGS,
    READING_QUERIES,
    diagnosis_loops_table,
    explanation_row,
    recommendation_row,
    sheet_text,
)
from heatloop.findings.safety import DEFERENCE, cautions_for
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.text.summary import BulletList, Summary, grid
from heatloop.text.table_set import Table, TableSet, table_frame

Verdict = Literal["no fault", "fault", "cannot tell"]

SURE = FAULTLESS + 0.02
"""No fault is said where it is likelier than this: likelier than before the readings."""

SURE_OF_FAULT, TWICE = 0.6, 2.0
"""A fault is said where it is likelier than this, and so many times as likely as the next explanation. Where neither
holds, the sheet says that it cannot tell."""

MISFIT = 1e-3
"""Readings that the best explanation would give more rarely than this are not explained by it."""

MAX_CANDIDATES, MIN_CANDIDATE = 5, 0.01

HAZARDS = ("Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues")
CAUTIONS = (*(f"{one.title}. {one.text}" for one in cautions_for(HAZARDS)), DEFERENCE)


SHOWN = {
    "fault": "Fault",
    "probability": "Probability",
    "evidence": "Evidence",
    "first_action": "First action",
}
"""Columns of the explanations that a summary shows, with the headings it has room for."""


@dataclass(frozen=True, eq=False, repr=False)
class Diagnosis(TableSet):
    """Likely faults of a site, as :func:`heatloop.diagnose` gives them.

    Attributes
    ----------
    explanations : pandas.DataFrame
        Likely faults with probability, size, evidence, causes and what to try first.
    loops : pandas.DataFrame
        Flow of each loop: expected, estimated, and its likely range, in l/h.
    next_readings : pandas.DataFrame
        Readings that would distinguish the faults best.
    reading_queries : pandas.DataFrame
        What the readings leave open.
    summary : dict
        The verdict in words, and estimates such as the bias of the thermometer in K.
    readings : Readings
        The readings.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/alder-lodge/draft.toml")
    >>> hl.diagnose(design, "data/alder-lodge/readings-air.csv").summary["words"]
    'Nursery and bathroom gets too little water (98 in 100).'
    """

    design: SizedSystem
    readings: Readings
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = DIAGNOSIS_SUMMARY
    explanations = Table(EXPLANATIONS)
    loops = Table(LOOPS)
    next_readings = Table(NEXT_READINGS)
    reading_queries = Table(READING_QUERIES)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind while looking for the fault."""
        return CAUTIONS

    @property
    def text(self) -> str:
        """All of it as a page of plain text."""
        frames = self.frames
        return sheet_text(
            self.facts["words"], frames["explanations"], frames["next_readings"], frames["reading_queries"], CAUTIONS
        )

    def summary_block(self) -> Summary:
        """Verdict, explanations and readings to take: what is shown in a notebook."""
        shown = grid("Explanations", self.explanations.to_dict("records"), EXPLANATIONS.headed(SHOWN))
        asked = tuple(f"{row.reading} {row.of}".strip() for row in self.next_readings.itertuples())
        return Summary(
            f"{self.design.survey.project.name}, diagnosis: {self.facts['verdict']}",
            (self.facts["words"],),
            (shown,),
            tuple(
                BulletList(caption, items) for caption, items in (("Read next", asked), ("Cautions", CAUTIONS)) if items
            ),
        )

    def __str__(self) -> str:
        return self.text.rstrip("\n")

    def __repr__(self) -> str:
        return f"<Diagnosis of {self.design.survey.project.name!r}: {self.facts['verdict']}>"


def diagnose_model(model: SiteModel, readings: Readings) -> Diagnosis:
    """What is wrong on a site, by its model and readings from it: one model serves many sets of readings."""
    day = reading_conditions(model.site, model.responses.loop_kg_s, float(model.responses.head_pa[0]), readings)
    weighed = posterior(model, day)
    known = [posterior_estimate(model, day, one) for one in most_probable(weighed)[: MAX_CANDIDATES + 3]]
    shown = [one for one in known if one.weighed.probability >= MIN_CANDIDATE][:MAX_CANDIDATES]
    best = shown[0]
    explained = float(chi_squared.sf(best.weighed.fit.chi2, day.rows.size))
    asked = recommended_readings(model, day, shown) if best.weighed.probability < 0.95 and len(shown) > 1 else []
    candidates = [explanation_row(model, day, rank, one) for rank, one in enumerate(shown, start=1)]
    frames = {
        "explanations": table_frame(EXPLANATIONS, candidates),
        "loops": diagnosis_loops_table(model, day, readings, known),
        "next_readings": table_frame(NEXT_READINGS, (recommendation_row(model, one, shown) for one in asked)),
        "reading_queries": table_frame(READING_QUERIES, ((q.place, q.text) for q in readings.questions)),
    }
    facts = _facts(model, day, readings, _Inferred(weighed, known, asked, explained))
    return Diagnosis(model.site.design, readings, frames, facts)


@dataclass(frozen=True, eq=False)
class _Inferred:
    """What the readings say: all hypotheses, the likely ones with what is known under each, the readings that would
    help, and how likely readings so far off are under the best hypothesis."""

    weighed: Sequence[WeightedHypothesis]
    known: Sequence[PosteriorEstimate]
    asked: Sequence[RecommendedReading]
    explained: float


def _facts(model: SiteModel, day: ReadingConditions, readings: Readings, inferred: _Inferred) -> dict[str, Any]:
    known = inferred.known
    faultless = next(one.probability for one in inferred.weighed if one.hypothesis.faults[0].kind == NO_FAULT)
    verdict, words = _verdict(model, inferred)
    verdict, words = _with_gaps(model, day, readings, verdict, words)
    bias, spread = _over_all(known, BIAS, 0.0)
    source, source_spread = _over_all(known, FIRST_SOURCE, day.source_c)
    return {
        "verdict": verdict,
        "words": words,
        "probability_no_fault": faultless,
        "readings": int(day.rows.size),
        "probe_bias_k": bias,
        "probe_bias_spread_k": spread,
        "source_expected_c": day.source_c,
        "source_expected_from": day.source_from,
        "source_c": source,
        "source_spread_k": source_spread,
        "explained": inferred.explained,
        "rooms_counted": not math.isnan(day.outdoor_c),
    }


def _over_all(known: Sequence[PosteriorEstimate], place: int, about: float) -> tuple[float, float]:
    """Mean and spread of an unknown over all likely hypotheses; of the source's water with what a fault adds."""
    weight = np.array([one.weighed.probability for one in known])
    told = []
    for one in known:
        mean, variance = one.unknown_at(place)
        if place == FIRST_SOURCE:
            shift = one.weighed.hypothesis.points.supply_k[:, 0]
            added = float(one.weight @ shift)
            variance += float(one.weight @ (shift - added) ** 2)
            mean += added
        told.append((mean, variance))
    means, variances = np.array(told).T
    mean = float(np.average(means, weights=weight))
    return about + mean, math.sqrt(float(np.average(variances + (means - mean) ** 2, weights=weight)))


def _verdict(model: SiteModel, inferred: _Inferred) -> tuple[Verdict, str]:
    """The verdict, and that in words."""
    weighed, asked = inferred.weighed, inferred.asked
    best = weighed[0]
    if inferred.explained < MISFIT:
        return (
            "cannot tell",
            "Cannot tell: no fault that is known here would give these readings. Look for a misread or misplaced "
            "reading, for heads left on, and read all of it again.",
        )
    texts = [fault.text(model.network) for fault in best.hypothesis.faults]
    sure = f"{100.0 * best.probability:.0f} in 100"
    if not _is_sure(weighed):
        sums = _by_fault(model, weighed)
        certain = [text for text, chance in sums if chance >= 0.8]
        listed = "; ".join(f"{text} ({100.0 * chance:.0f} in 100)" for text, chance in sums[:4] if chance >= 0.05)
        named = f"Certain enough: {' and '.join(certain)}. " if certain else ""
        help_ = ""
        if asked:
            help_ = f" The reading that helps most: {asked[0].quantity}{f' of {asked[0].of}' if asked[0].of else ''}."
        told = "Cannot tell which it is. Each fault, alone or with another"
        return "cannot tell", f"{named}{told}: {listed}.{help_}"
    if best.hypothesis.faults[0].kind == NO_FAULT:
        return "no fault", f"No fault shows ({sure})."
    return "fault", _sentence(texts, sure)


def _is_sure(weighed: Sequence[WeightedHypothesis]) -> bool:
    """Whether the first explanation is likely enough to be said."""
    best, second = weighed[0], weighed[1]
    if best.hypothesis.faults[0].kind == NO_FAULT:
        return best.probability >= SURE
    return best.probability >= max(SURE_OF_FAULT, TWICE * second.probability)


def _with_gaps(
    model: SiteModel, day: ReadingConditions, readings: Readings, verdict: Verdict, words: str
) -> tuple[Verdict, str]:
    """The same with what was not read, and what heads left on may have done."""
    rows, there = model.rows, set(day.rows.tolist())
    names = [path.loop.name for path in model.network.loops]
    unread = [name for i, name in enumerate(names) if not there & {rows.return_temp(i), rows.flow(i)}]
    if unread:
        words += f" Of {', '.join(unread)} neither return nor flow was read: nothing can be said of it."
        verdict = "cannot tell" if verdict == "no fault" else verdict
    if readings.thermostatic_heads_removed is not True and LITTLE_WATER in words:
        words += (
            " Thermostatic heads may have been on: one that closes because its room is warm enough looks the same. "
            "Take them off and read again."
        )
    hidden = _with_channels_side_by_side(model)
    if verdict == "no fault" and hidden:
        words += (
            f" Air in one of the channels side by side of {', '.join(hidden)} hardly shows in flow and return: feel "
            "each channel half-way along."
        )
    return verdict, words


def _with_channels_side_by_side(model: SiteModel) -> list[str]:
    """Loops in which the water of a channel can take another way beside it."""
    arms = zip(model.network.arms, model.network.arm_loop, strict=True)
    loops = dict.fromkeys(loop for arm, loop in arms if sum(direction > 0 for direction in arm.directions) > 1)
    return [model.network.loops[loop].loop.name for loop in loops]


def _sentence(texts: Sequence[str], sure: str) -> str:
    words = " and ".join(texts)
    return f"{words[0].upper()}{words[1:]} ({sure})."


def _by_fault(model: SiteModel, weighed: Sequence[WeightedHypothesis]) -> list[tuple[str, float]]:
    """Every single fault, and none, with how likely it is, alone or beside another."""
    sums: dict[str, float] = {}
    for one in weighed:
        for fault in one.hypothesis.faults:
            text = fault.text(model.network)
            sums[text] = sums.get(text, 0.0) + one.probability
    return sorted(sums.items(), key=lambda item: -item[1])
