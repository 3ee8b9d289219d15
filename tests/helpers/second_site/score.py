"""How often a diagnosis is right on sites of the second model, at the first visit and after the readings it asks for.

`python -m tests.long diagnosis` prints the tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatloop.diagnosis.diagnosis import diagnose_model
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.findings.input_errors import InputError
from tests.helpers.second_site.built import Scatter
from tests.helpers.second_site.plans import OTHERS, SCORED, SMALL, Chooser
from tests.helpers.second_site.systems import varied_design
from tests.helpers.second_site.visit import Plan, Visit

MAX_ASKED = 5
"""Readings that are taken after the first visit, one at a time, as long as the diagnosis asks for one."""

SITES = ("no fault", "one fault", "one fault", "one fault", "two faults", "other")


@dataclass(frozen=True)
class Answer:
    """What was said: explanations (sets of kind and place) with their probabilities, and the verdict."""

    said: tuple
    verdict: str

    @property
    def first(self):
        return self.said[0][0]


@dataclass(frozen=True)
class Score:
    """A site: its group, what is wrong there, kinds of addition of its system, whether the setting of its source was
    read; the answer at the first visit and after the readings asked for, and how many were taken."""

    group: str
    truth: frozenset
    added: tuple
    setting_read: bool
    at_first: Answer
    at_last: Answer
    asked: int

    @property
    def kind(self):
        return " and ".join(sorted(kind for kind, _ in self.truth)) or "no fault"


def answer_of(found):
    said = []
    for row in found.explanations.to_dict("records"):
        pairs = zip(row["kind"].split("; "), row["of"].split("; "), strict=True)
        said.append((frozenset(pair for pair in pairs if pair[0] != "no fault"), row["probability"]))
    return Answer(tuple(said), found.summary["verdict"])


def scored(group, model, visit, added):
    """A site diagnosed as its user would: read, asked, read again."""
    found = diagnose_model(model, visit.readings)
    first, asked = answer_of(found), 0
    while asked < MAX_ASKED and len(found.next_readings):
        row = found.next_readings.iloc[0]
        found = diagnose_model(model, visit.take_row(row))
        asked += 1
    truth = frozenset((fault.kind, fault.place) for fault in visit.faults)
    return Score(group, truth, added, visit.plan.setting_read, first, answer_of(found), asked)


def score_system(seed):
    """Six sites of one random system: one without fault, three with one, one with two, and one of another group.

    Nothing of a system whose design drop is out of reach.
    """
    try:
        system, added = varied_design(seed)
    except InputError:
        return []
    model = site_model(system, thermostatic_heads_removed=True)
    rng = np.random.default_rng([seed, 1])
    chooser = Chooser(system, rng)
    plans = [("no fault", [])]
    for turn in range(3):
        plans.append(("one fault", chooser.some([SCORED[(seed + 3 * turn) % len(SCORED)]])))
    plans.append(("two faults", chooser.some([str(kind) for kind in rng.choice(SCORED, 2)])))
    other = ("small", "others", "deviating")[seed % 3]
    if other == "small":
        plans.append((other, chooser.some([str(rng.choice(list(SMALL)))], SMALL)))
    elif other == "others":
        fault = None
        while fault is None:
            fault = chooser.one(str(rng.choice(OTHERS)))
        plans.append((other, [fault]))
    else:
        plans.append((other, []))
    scores = []
    for group, faults in plans:
        scatter = Scatter().times(2.0) if group == "deviating" else Scatter()
        plan = Plan.random(rng, system.survey.project.flow_temp_c)
        scores.append(scored(group, model, Visit(system, faults, rng, plan, scatter), added))
    return scores


# --- tables ---------------------------------------------------------------------------------------------------


def proportion(count, of, deviations=1.96):
    """Wilson's limits of a proportion."""
    p, z2 = count / of, deviations**2
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = deviations * np.sqrt(p * (1 - p) / of + z2 / (4 * of**2)) / (1 + z2 / of)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def share(scores, test):
    """How many of the scores pass a test, in per cent with 95 % limits (Wilson), as a cell of a table."""
    count = sum(map(test, scores))
    if not scores:
        return "none"
    low, high = proportion(count, len(scores))
    return f"{100.0 * count / len(scores):.1f} ({100.0 * low:.0f} to {100.0 * high:.0f}) of {len(scores)}"


def _plain(group, test):
    return f"{100.0 * sum(map(test, group)) / len(group):.1f}"


def tables(scores, answer):
    """The tables of one answer of every site: "at_first" or "at_last"."""

    def said(score):
        return getattr(score, answer)

    def right(score):
        return said(score).first == score.truth

    def in_three(score):
        return score.truth in [explanation for explanation, _ in said(score).said[:3]]

    def sure(score):
        return said(score).verdict != "not identified"

    lines = [
        "| sites | right one first, % | among the first three, % | named, right, % | named, wrong, % "
        "| not identified, % | called faulty, % |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]

    def row(name, group):
        lines.append(
            f"| {name} | {share(group, right)} | {share(group, in_three)} "
            f"| {_plain(group, lambda s: sure(s) and right(s))} "
            f"| {_plain(group, lambda s: sure(s) and not right(s))} | {_plain(group, lambda s: not sure(s))} "
            f"| {_plain(group, lambda s: said(s).verdict == 'fault')} |"
        )

    groups = ("no fault", "one fault", "two faults", "small", "others", "deviating")
    for name in groups:
        own = [s for s in scores if s.group == name]
        if not own:
            continue
        row(name, own)
        if name in ("one fault", "small", "others"):
            for kind in sorted({s.kind for s in own}):
                row(f"{name}, {kind}", [s for s in own if s.kind == kind])
        if name in ("no fault", "one fault"):
            for unread in (s for s in ([s for s in own if not s.setting_read],) if s):
                row(f"{name}, setting not read", unread)
            for addition in sorted({a for s in own for a in s.added}):
                row(f"{name}, with {addition}", [s for s in own if addition in s.added])
    usual = [s for s in scores if s.group in groups[:3]]
    lines += [
        "",
        *_confusion([s for s in usual if s.group != "two faults"], said),
        "",
        *_calibration(usual, said, right),
    ]
    pairs = [s for s in scores if s.group == "two faults"]
    some = share(pairs, lambda s: bool(s.truth & said(s).first))
    lines += ["", f"Two faults: at least one of them is in the first explanation in {some} sites."]
    return "\n".join(lines)


def _confusion(scores, said):
    columns = [*SCORED, "no fault", "another place", "two faults", "other"]
    yield "| true fault | " + " | ".join(columns) + " |"
    yield "| --- |" + " --- |" * len(columns)
    for kind in (*SCORED, "no fault"):
        counts = dict.fromkeys(columns, 0)
        for one in scores:
            if kind == one.kind:
                counts[_column(one.truth, said(one).first, columns)] += 1
        yield f"| {kind} | " + " | ".join(str(counts[name]) for name in columns) + " |"


def _column(truth, first, columns):
    if not first:
        return "no fault"
    if len(first) > 1:
        return "two faults"
    kind, place = next(iter(first))
    if truth and kind == next(iter(truth))[0] and place != next(iter(truth))[1]:
        return "another place"
    return kind if kind in columns else "other"


def _calibration(scores, said, right):
    yield "| probability of the first | sites | mean probability, % | right, % |"
    yield "| --- | --- | --- | --- |"
    for low, high in ((0.0, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 0.97), (0.97, 1.01)):
        here = [one for one in scores if low <= said(one).said[0][1] < high]
        if here:
            mean = 100.0 * sum(said(one).said[0][1] for one in here) / len(here)
            yield f"| {low:g} to {min(high, 1.0):g} | {len(here)} | {mean:.0f} | {_plain(here, right)} |"
