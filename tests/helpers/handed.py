"""A design with all that is handed over of it."""

from __future__ import annotations

from dataclasses import dataclass

import heatloop as hl

QUICK = hl.PartsOptions(cutting=hl.CuttingOptions(time_limit_s=1.0))


@dataclass(frozen=True)
class Handed:
    """A design with its parts list, first fix and commissioning."""

    design: hl.Design
    parts: hl.PartsList
    first_fix: hl.FirstFix
    commissioning: hl.Commissioning


def handed(design: hl.Design) -> Handed:
    """All of a design."""
    return Handed(design, design.parts(QUICK), design.first_fix(), design.commissioning())
