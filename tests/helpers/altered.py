"""Designs whose survey, tables or verdict differ from what was sized."""

import dataclasses
from collections.abc import Mapping
from types import SimpleNamespace

import pandas as pd

import heatloop as hl


def with_survey(design: hl.Design, **changes: object) -> hl.Design:
    """The design as it is, with other values in its survey."""
    survey = dataclasses.replace(design.survey, **changes)  # type: ignore[arg-type]
    prepared = dataclasses.replace(design.system.prepared, survey=survey)
    return dataclasses.replace(design, system=dataclasses.replace(design.system, prepared=prepared))


def with_frames(design: hl.Design, frames: Mapping[str, pd.DataFrame]) -> hl.Design:
    """The design as it is, with other tables."""
    figures = SimpleNamespace(frames=frames, facts=design.facts, verdict=design.verdict)
    return dataclasses.replace(design, figures=figures)
