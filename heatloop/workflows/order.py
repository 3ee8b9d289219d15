"""From a design to the parts list, and from that to a price."""

from __future__ import annotations

from heatloop.findings.input_errors import check_given
from heatloop.handover.cutting.model import CutProgress
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsList, parts_list_from
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.results.design import Design


def parts_list(design: Design, options: PartsOptions | None = None, progress: CutProgress | None = None) -> PartsList:
    """Parts, pieces, cuts and movement of a design; errors as `parts_list_from`, and for what is no design.

    `progress` is called while bars are searched for: what is cut, the best found so far and the proved bound, as
    :func:`heatloop.handover.cutting.plan.plan_cuts` tells them.
    """
    check_given("parts", design=(design, Design, "a Design, as heatloop.size gives it"),
                options=(options, PartsOptions | None, "PartsOptions"))  # fmt: skip
    water_l = system_water_l(design.survey, design.system.state.assembly)
    return parts_list_from(design.survey, design.layout, water_l, options, progress)
