"""Whether a diagnosis is right: a random site of the package's own simulation, diagnosed as its user would see it.

The published score is that of `tests.helpers.second_site.score`, whose sites have another model.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.diagnosis import fault_types
from heatloop.diagnosis.diagnosis import diagnose_model


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
