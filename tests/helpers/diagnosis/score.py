"""How often a diagnosis is right: random sites diagnosed as their users would see it, and counted.

`python -m tests.helpers.diagnosis.score` from the top of the checkout prints the tables of
`docs/explanation/diagnosis.md`. The default seeds were used for nothing else.
"""

from __future__ import annotations

import argparse
import multiprocessing
from dataclasses import dataclass

import numpy as np

from heatloop.diagnosis import fault_types
from heatloop.diagnosis.diagnosis import diagnose_model
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.findings.input_errors import InputError
from tests.helpers.diagnosis.sites import (
    SCORED,
    SMALL,
    TWICE,
    air_in_a_channel,
    random_design,
    random_faults,
    random_site,
)


@dataclass(frozen=True)
class Score:
    """What was said of a site: explanations (sets of kind and place) with their probabilities, and the verdict."""

    group: str
    truth: frozenset
    said: tuple
    verdict: str

    @property
    def first(self):
        return self.said[0][0]

    @property
    def right(self):
        return self.first == self.truth

    @property
    def in_three(self):
        return self.truth in [explanation for explanation, _ in self.said[:3]]


def scored(group, model, site):
    """A site diagnosed, as its user would see it."""
    found = diagnose_model(model, site.readings)
    said = []
    for row in found.explanations.to_dict("records"):
        pairs = zip(row["kind"].split("; "), row["of"].split("; "), strict=True)
        said.append((frozenset(pair for pair in pairs if pair[0] != fault_types.NO_FAULT), row["probability"]))
    return Score(group, site.truth, tuple(said), found.summary["verdict"])


def score_system(seed):
    """Six sites of one random system: one without fault, three with one, one with two, and one of another group.

    Nothing of a system whose design drop is out of reach.
    """
    try:
        model = site_model(random_design(seed), thermostatic_heads_removed=True)
    except InputError:
        return []
    rng = np.random.default_rng([seed, 1])
    plans = [("no fault", [])]
    for turn in range(3):
        plans.append(("one fault", random_faults(rng, model, [SCORED[(seed + 2 * turn) % len(SCORED)]])))
    plans.append(("two faults", random_faults(rng, model, [str(kind) for kind in rng.choice(SCORED, 2)])))
    other = ("small", "others", "air in a channel", "deviating")[seed % 4]
    if other == "small":
        plans.append((other, random_faults(rng, model, [str(rng.choice(list(SMALL)))], SMALL)))
    elif other == "others":
        plans.append(
            (other, random_faults(rng, model, [str(rng.choice([fault_types.MUCH_HEAD, fault_types.TOO_WARM]))]))
        )
    elif other == "air in a channel":
        air = air_in_a_channel(rng, model)
        plans += [(other, [air])] if air is not None else []
    else:
        plans.append((other, []))
    return [
        scored(group, model, random_site(rng, model, faults, TWICE if group == "deviating" else None))
        for group, faults in plans
    ]


def share(scores, test):
    """How many of the scores pass a test, in per cent with 95 % limits (Wilson), as a cell of a table."""
    count = sum(map(test, scores))
    if not scores:
        return "none"
    low, high = proportion(count, len(scores))
    return f"{100.0 * count / len(scores):.1f} ({100.0 * low:.0f} to {100.0 * high:.0f}) of {len(scores)}"


def proportion(count, of, deviations=1.96):
    """Wilson's limits of a proportion."""
    p, z2 = count / of, deviations**2
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = deviations * np.sqrt(p * (1 - p) / of + z2 / (4 * of**2)) / (1 + z2 / of)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def report(scores):
    """The scores as tables."""
    by = {name: [s for s in scores if s.group == name] for name in dict.fromkeys(s.group for s in scores)}
    lines = [
        "| sites | right one first, % | among the first three, % | named, right, % | named, wrong, % "
        "| not identified, % |"
    ]
    lines.append("| --- | --- | --- | --- | --- | --- |")

    def row(name, group):
        lines.append(
            f"| {name} | {share(group, lambda s: s.right)} | {share(group, lambda s: s.in_three)} | "
            f"{_plain(group, lambda s: s.verdict != 'not identified' and s.right)} | "
            f"{_plain(group, lambda s: s.verdict != 'not identified' and not s.right)} | "
            f"{_plain(group, lambda s: s.verdict == 'not identified')} |"
        )

    for name in sorted(by, key=lambda n: ["no fault", "one fault"].index(n) if n in ("no fault", "one fault") else 9):
        row(name, by[name])
        if name in ("one fault", "small", "others"):
            for kind in dict.fromkeys(next(iter(s.truth))[0] for s in by[name]):
                row(f"{name}, {kind}", [s for s in by[name] if next(iter(s.truth))[0] == kind])
    lines += ["", *_confusion(by.get("one fault", []) + by.get("no fault", [])), "", *_calibration(scores)]
    pairs = by.get("two faults", [])
    some = share(pairs, lambda s: bool(s.truth & s.first))
    lines += ["", f"Two faults: at least one of them is in the first explanation in {some} sites."]
    return "\n".join(lines)


def _plain(group, test):
    return f"{100.0 * sum(map(test, group)) / len(group):.1f}"


def _confusion(scores):
    columns = [*SCORED, fault_types.NO_FAULT, "another place", "two faults", "other"]
    yield "| true fault | " + " | ".join(columns) + " |"
    yield "| --- |" + " --- |" * len(columns)
    for kind in (*SCORED, fault_types.NO_FAULT):
        counts = dict.fromkeys(columns, 0)
        for one in scores:
            if kind == (next(iter(one.truth))[0] if one.truth else fault_types.NO_FAULT):
                counts[_column(one, columns)] += 1
        yield f"| {kind} | " + " | ".join(str(counts[name]) for name in columns) + " |"


def _column(one, columns):
    if not one.first:
        return fault_types.NO_FAULT
    if len(one.first) > 1:
        return "two faults"
    kind, place = next(iter(one.first))
    if one.truth and kind == next(iter(one.truth))[0] and place != next(iter(one.truth))[1]:
        return "another place"
    return kind if kind in columns else "other"


def _calibration(scores):
    yield "| probability of the first | sites | mean probability, % | right, % |"
    yield "| --- | --- | --- | --- |"
    usual = [one for one in scores if one.group in ("no fault", "one fault", "two faults")]
    for low, high in ((0.0, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 0.97), (0.97, 1.01)):
        here = [one for one in usual if low <= one.said[0][1] < high]
        if here:
            mean = 100.0 * sum(one.said[0][1] for one in here) / len(here)
            yield f"| {low:g} to {min(high, 1.0):g} | {len(here)} | {mean:.0f} | {_plain(here, lambda s: s.right)} |"


def main():
    parser = argparse.ArgumentParser(description="Score diagnoses on random sites.")
    parser.add_argument("--systems", type=int, default=500)
    parser.add_argument("--seed", type=int, default=5000, help="seed of the first system")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.systems)
    with multiprocessing.Pool(asked.jobs) as pool:
        groups = list(pool.imap(score_system, seeds, chunksize=5))
    print(f"{sum(map(bool, groups))} systems of {asked.systems}\n")
    print(report([score for group in groups for score in group]))


if __name__ == "__main__":
    main()
