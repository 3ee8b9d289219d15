"""A design with all that is handed over of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import heatloop as hl
from heatloop.report.control.control import DocumentControl, document_control

QUICK = hl.PartsOptions(cutting=hl.CuttingOptions(time_limit_s=1.0))


@dataclass(frozen=True)
class Handed:
    """A design with its parts list, first fix and commissioning."""

    design: hl.Design
    parts: hl.PartsList
    first_fix: hl.FirstFix
    commissioning: hl.Commissioning

    @property
    def control(self) -> DocumentControl:
        """Document control as of a fixed day."""
        return document_control(self.design.survey, self.design.verdict, made_on=dt.date(2026, 11, 29))


def handed(design: hl.Design) -> Handed:
    """All of a design."""
    return Handed(design, design.parts(QUICK), design.first_fix(), design.commissioning())
