"""Designs with a survey that differs from the one they were sized for."""

import dataclasses

import heatloop as hl


def with_survey(design: hl.Design, **changes: object) -> hl.Design:
    """The design as it is, with other values in its survey."""
    survey = dataclasses.replace(design.survey, **changes)  # type: ignore[arg-type]
    prepared = dataclasses.replace(design.system.prepared, survey=survey)
    return dataclasses.replace(design, system=dataclasses.replace(design.system, prepared=prepared))
