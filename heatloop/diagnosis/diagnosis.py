"""Diagnose a site from readings: faults with their probabilities, and the readings to take next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd
from scipy.stats import chi2 as chi_squared

from heatloop.diagnosis.fault_types import LITTLE_WATER, NO_FAULT
from heatloop.diagnosis.inference.estimates import BIAS, PosteriorEstimate, posterior_estimate
from heatloop.diagnosis.inference.next_reading import RecommendedReading, recommended_readings, surfaces_to_read
from heatloop.diagnosis.inference.posterior import WeightedHypothesis, posterior
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions, reading_conditions, surfaces_read
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
from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.text.summary import BulletList, Summary, grid
from heatloop.text.table_set import Table, TableSet, table_frame

Verdict = Literal["no fault", "fault", "not identified"]

SURE = 0.5
"""Minimum probability of the verdict "no fault": above its probability before the readings, and above all faults."""

SURE_OF_FAULT, TWICE = 0.6, 2.0
"""Minimum probability of the verdict "fault", and minimum ratio to the next explanation. Otherwise the fault is not
identified."""

MISFIT = 1e-3
"""Probability of the readings under the best explanation below which no explanation is accepted."""

MAX_CANDIDATES, MIN_CANDIDATE = 5, 0.01

MAX_PLAUSIBLE, MIN_PLAUSIBLE = 24, 0.002
"""Explanations that readings to take next should distinguish: many improbable ones together may be probable."""

NO_MORE_READINGS = 0.95
"""Probability of the first explanation from which no further reading is recommended, whether it is a fault or none."""

HAZARDS = ("Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues")
SAFETY_NOTICES = (*(f"{caution.title}. {caution.text}" for caution in notices_for(HAZARDS)), DEFERENCE)


SHOWN = {
    "fault": "Fault",
    "probability": "Probability",
    "evidence": "Evidence",
    "first_action": "First action",
}
"""Columns of the explanations in a summary, with short headings."""


@dataclass(frozen=True, eq=False, repr=False)
class Diagnosis(TableSet):
    """Likely faults of a site, as :func:`heatloop.diagnose` returns them.

    Attributes
    ----------
    explanations : pandas.DataFrame
        Likely faults with probability, size, evidence, causes and first action.
    loops : pandas.DataFrame
        Flow of each loop: expected, estimated, and its likely range, in l/h.
    next_readings : pandas.DataFrame
        Readings that would distinguish the faults best.
    reading_queries : pandas.DataFrame
        Open questions about the readings.
    summary : dict
        The verdict in words, and estimates such as the bias of the thermometer in K.
    readings : Readings
        The readings.
    system : SizedSystem
        The sized system of the design whose site was read.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/alder-lodge/draft.toml")
    >>> hl.diagnose(design, "data/alder-lodge/readings-air.csv").summary["words"]
    'The loop "Nursery and bathroom" receives too little water (probability 94 %).'
    """

    system: SizedSystem
    readings: Readings
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = DIAGNOSIS_SUMMARY
    explanations = Table(EXPLANATIONS)
    loops = Table(LOOPS)
    next_readings = Table(NEXT_READINGS)
    reading_queries = Table(READING_QUERIES)

    @property
    def safety_notices(self) -> tuple[str, ...]:
        """Safety notices for the search for the fault.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/alder-lodge/draft.toml")
        >>> hl.diagnose(design, "data/alder-lodge/readings-air.csv").safety_notices[0].split(".")[0]
        'Hot surfaces'
        """
        return SAFETY_NOTICES

    @property
    def text(self) -> str:
        """The diagnosis as a page of plain text.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/alder-lodge/draft.toml")
        >>> hl.diagnose(design, "data/alder-lodge/readings-air.csv").text.splitlines()[0]
        'The loop "Nursery and bathroom" receives too little water (probability 94 %).'
        """
        frames = self.frames
        return sheet_text(
            self.facts["words"],
            frames["explanations"],
            frames["next_readings"],
            frames["reading_queries"],
            SAFETY_NOTICES,
        )

    def summary_block(self) -> Summary:
        """Verdict, explanations and readings to take, as shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/alder-lodge/draft.toml")
        >>> hl.diagnose(design, "data/alder-lodge/readings-air.csv").summary_block().title
        'Alder Lodge, diagnosis: fault'
        """
        shown = grid("Explanations", self.explanations.to_dict("records"), EXPLANATIONS.headed(SHOWN))
        recommended = tuple(
            " of ".join(filter(None, (str(row.reading), str(row.of)))) for row in self.next_readings.itertuples()
        )
        return Summary(
            f"{self.system.survey.project.name}, diagnosis: {self.facts['verdict']}",
            (self.facts["words"],),
            (shown,),
            tuple(
                BulletList(caption, items)
                for caption, items in (("Read next", recommended), ("Cautions", SAFETY_NOTICES))
                if items
            ),
        )

    def __str__(self) -> str:
        return self.text.rstrip("\n")

    def __repr__(self) -> str:
        return f"<Diagnosis of {self.system.survey.project.name!r}: {self.facts['verdict']}>"


def diagnose_model(model: SiteModel, readings: Readings) -> Diagnosis:
    """Diagnose one set of readings with the model of the site; one model serves many sets of readings."""
    read = surfaces_read(model.network, readings)
    model = model.with_surfaces(tuple(location for _, location in read))
    expected = model.responses
    day = reading_conditions(model.site, model.rows, expected.loop_kg_s, float(expected.head_pa[0]), readings)
    weighted = posterior(model, day)
    model = model.with_surfaces(surfaces_to_read(model.network))
    plausible = [one for one in weighted[:MAX_PLAUSIBLE] if one.probability >= MIN_PLAUSIBLE]
    estimates = [posterior_estimate(model, day, hypothesis) for hypothesis in plausible]
    shown = [estimate for estimate in estimates if estimate.weighted.probability >= MIN_CANDIDATE][:MAX_CANDIDATES]
    best = shown[0]
    explained = float(chi_squared.sf(best.weighted.fit.chi2, day.rows.size))
    doubtful = best.weighted.probability < NO_MORE_READINGS and len(estimates) > 1
    recommended = recommended_readings(model, day, estimates) if doubtful else []
    candidates = [explanation_row(model, day, rank, estimate) for rank, estimate in enumerate(shown, start=1)]
    frames = {
        "explanations": table_frame(EXPLANATIONS, candidates),
        "loops": diagnosis_loops_table(model, day, readings, estimates),
        "next_readings": table_frame(
            NEXT_READINGS, (recommendation_row(model, reading, estimates, len(shown)) for reading in recommended)
        ),
        "reading_queries": table_frame(READING_QUERIES, ((q.place, q.text) for q in readings.questions)),
    }
    facts = _facts(model, day, readings, _Inferred(weighted, estimates, recommended, explained))
    return Diagnosis(model.site.system, readings, frames, facts)


@dataclass(frozen=True, eq=False)
class _Inferred:
    """Result of the inference: all hypotheses, estimates under the likely ones, recommended readings, and the
    probability of deviations at least as large under the best hypothesis."""

    weighted: Sequence[WeightedHypothesis]
    estimates: Sequence[PosteriorEstimate]
    recommended: Sequence[RecommendedReading]
    explained: float


def _facts(model: SiteModel, day: ReadingConditions, readings: Readings, inferred: _Inferred) -> dict[str, Any]:
    estimates = inferred.estimates
    faultless = next(
        candidate.probability for candidate in inferred.weighted if candidate.hypothesis.faults[0].kind == NO_FAULT
    )
    verdict, words = _verdict(model, inferred)
    verdict, words = _with_gaps(model, day, readings, verdict, words)
    bias, spread = _over_all(estimates, [estimate.unknown_at(BIAS) for estimate in estimates])
    source, source_spread = _over_all(estimates, [estimate.row(model.rows.source_temp) for estimate in estimates])
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


def _over_all(
    explanations: Sequence[PosteriorEstimate], means_and_variances: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """Mean and spread over all likely hypotheses of what has these means and variances under each."""
    weight = np.array([estimate.weighted.probability for estimate in explanations])
    means, variances = np.array(means_and_variances).T
    mean = float(np.average(means, weights=weight))
    return mean, math.sqrt(float(np.average(variances + (means - mean) ** 2, weights=weight)))


def _verdict(model: SiteModel, inferred: _Inferred) -> tuple[Verdict, str]:
    """The verdict and its sentence."""
    weighted, recommended = inferred.weighted, inferred.recommended
    best = weighted[0]
    if inferred.explained < MISFIT:
        return (
            "not identified",
            "The readings do not match any known fault. Check for a misread or misplaced reading and for thermostatic "
            "heads left on, then repeat all readings.",
        )
    texts = [fault.text(model.network) for fault in best.hypothesis.faults]
    sure = f"probability {100.0 * best.probability:.0f} %"
    if not _is_sure(weighted):
        sums = _by_fault(model, weighted)
        certain = [text for text, chance in sums if chance >= 0.8]
        listed = "; ".join(f"{text} ({100.0 * chance:.0f} %)" for text, chance in sums[:4] if chance >= 0.05)
        named = f"Probable: {' and '.join(certain)}. " if certain else ""
        help_ = ""
        if recommended:
            help_ = f" Read next: {recommended[0].quantity}{f' of {recommended[0].of}' if recommended[0].of else ''}."
        words = "The readings do not identify a single fault. Probability of each fault, alone or together with another"
        return "not identified", f"{named}{words}: {listed}.{help_}"
    if best.hypothesis.faults[0].kind == NO_FAULT:
        return "no fault", f"No fault ({sure})."
    return "fault", _sentence(texts, sure)


def _is_sure(weighted: Sequence[WeightedHypothesis]) -> bool:
    """Whether the first explanation is probable enough for a verdict."""
    best, second = weighted[0], weighted[1]
    if best.hypothesis.faults[0].kind == NO_FAULT:
        return best.probability >= SURE
    return best.probability >= max(SURE_OF_FAULT, TWICE * second.probability)


def _with_gaps(
    model: SiteModel, day: ReadingConditions, readings: Readings, verdict: Verdict, words: str
) -> tuple[Verdict, str]:
    """The verdict with missing readings, and with the effect of thermostatic heads that were left on."""
    rows, there = model.rows, set(day.rows.tolist())
    names = [path.loop.name for path in model.network.loops]
    unread = [name for i, name in enumerate(names) if not there & {rows.return_temp(i), rows.flow(i)}]
    if unread:
        words += f" Neither return nor flow was read: {', '.join(unread)}. No diagnosis is possible there."
        verdict = "not identified" if verdict == "no fault" else verdict
    if readings.thermostatic_heads_removed is not True and LITTLE_WATER in words:
        words += (
            " Thermostatic heads may have been fitted: a head that closes because its room is warm has the same "
            "effect. Remove the thermostatic heads and repeat the readings."
        )
    hidden = _with_channels_side_by_side(model)
    if verdict == "no fault" and hidden:
        words += (
            " Air in one of several parallel channels hardly changes flow and return temperature: check the "
            f"surface temperature of each channel half-way along the loop ({', '.join(hidden)})."
        )
    return verdict, words


def _with_channels_side_by_side(model: SiteModel) -> list[str]:
    """Loops with parallel channels."""
    arms = zip(model.network.arms, model.network.arm_loop, strict=True)
    loops = dict.fromkeys(loop for arm, loop in arms if sum(direction > 0 for direction in arm.directions) > 1)
    return [model.network.loops[loop].loop.name for loop in loops]


def _sentence(texts: Sequence[str], sure: str) -> str:
    words = " and ".join(texts)
    return f"{words[0].upper()}{words[1:]} ({sure})."


def _by_fault(model: SiteModel, weighted: Sequence[WeightedHypothesis]) -> list[tuple[str, float]]:
    """Each single fault, and no fault, with its probability, alone or together with another."""
    sums: dict[str, float] = {}
    for candidate in weighted:
        for fault in candidate.hypothesis.faults:
            text = fault.text(model.network)
            sums[text] = sums.get(text, 0.0) + candidate.probability
    return sorted(sums.items(), key=lambda item: -item[1])
