"""Interactive plans as files, with what is on them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import heatloop as hl
from heatloop.report.documents.interactive_plan.page import PlanContents, interactive_plan, plan_data
from heatloop.report.documents.interactive_plan.state_data import PlanData
from heatloop.workflows.publishing.plan_states import plan_contents
from tests.helpers.handed import Handed


@dataclass(frozen=True)
class PlanPage:
    """The interactive plan of a design: its file, its markup, and what is on it."""

    design: hl.Design
    contents: PlanContents
    data: PlanData
    markup: str
    file: Path


def plan_page(one: Handed, folder: Path) -> PlanPage:
    """Write the interactive plan of a design into a folder."""
    contents = plan_contents(one.design, one.parts)
    if contents is None:
        raise ValueError("no room has been surveyed")
    markup = interactive_plan(one.design, contents, one.control)
    file = folder / "plan.html"
    file.write_text(markup, encoding="utf-8")
    return PlanPage(one.design, contents, plan_data(one.design, contents), markup, file)
