"""Parts list and first fix of a design."""

from __future__ import annotations

from dataclasses import replace

from heatloop.findings.input_errors import check_given
from heatloop.handover.cutting.model import CutProgress
from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult, parts_list_from
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.results.design import DesignResult


def parts_list(
    design: DesignResult, options: PartsOptions | None = None, progress: CutProgress | None = None
) -> PartsListResult:
    """Parts, pieces, cuts and movement of a design; errors as `parts_list_from`, and InputError for another type.

    `progress` is called during the search for bars with the stock, the best plan so far and the proved bound, as
    described in :func:`heatloop.handover.cutting.plan.plan_cuts`.
    """
    check_given("parts", design=(design, DesignResult, "a Design, as heatloop.size gives it"),
                options=(options, PartsOptions | None, "PartsOptions"))  # fmt: skip
    water_l = system_water_l(design.survey, design.system.state.network)
    return parts_list_from(design.survey, design.layout, water_l, options, progress)


def first_fix(design: DesignResult, options: FirstFixOptions | None = None) -> FirstFixResult:
    """Positions of the pipes of a design before the floors are closed; errors as `plan_first_fix`."""
    return replace(plan_first_fix(design.survey, design.layout, options), verdict=design.verdict)
