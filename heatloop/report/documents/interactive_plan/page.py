"""The interactive plan as one self-contained page: plan, sliders for the states, and tables of all items."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from importlib import resources

from markupsafe import Markup

from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.second_fix.fixing_steps import FixingStep
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.report.control.references import references
from heatloop.report.control.title_block import DocumentSheet, running_line, title_block_css, title_block_html
from heatloop.report.documents.document import LIMITS_MEANT, printed, verdict_line
from heatloop.report.documents.interactive_plan import items
from heatloop.report.documents.interactive_plan.level_view import PlanSource, level_views
from heatloop.report.documents.interactive_plan.state_data import PlanData, data_block
from heatloop.results.design import DesignResult
from heatloop.results.state_grid import StateGrid
from heatloop.text.formatting import listing
from heatloop.text.html import rendered

PACKAGE = "heatloop.report.documents.interactive_plan"

CODE = "PL"


@dataclass(frozen=True)
class PlanContents:
    """Contents of the page in addition to the design: its states, pipe positions, and pieces in the order of fixing."""

    states: StateGrid
    first_fix: FirstFixResult
    steps: tuple[FixingStep, ...]


def interactive_plan(design: DesignResult, contents: PlanContents, control: DocumentControl) -> str:
    """The page of a design."""
    states, data = contents.states, plan_data(design, contents)
    script = _file("page.js")
    flow, outdoor = states.design_flow, states.design_outdoor
    levels = level_views(PlanSource(design, states, contents.first_fix, data))
    return rendered(
        PACKAGE,
        "page.html",
        css=Markup(_file("page.css") + title_block_css()),
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii"),
        data=data_block(design, states, data),
        title=f"{control.project}: {DOCUMENT_TYPES[CODE].title[0].lower()}{DOCUMENT_TYPES[CODE].title[1:]}",
        block=title_block_html(control, DocumentSheet(CODE)),
        standing=verdict_line(design.verdict, control),
        limits_meant=LIMITS_MEANT,
        foot=running_line(control, DocumentSheet(CODE)),
        version=control.version,
        see=references(control, CODE),
        flow_c=printed(states.flow_temps_c[flow], 1).removesuffix(".0"),
        outdoor_c=printed(states.outdoor_c[outdoor], 1).removesuffix(".0"),
        sentences=(
            items.rooms_statement(states.rooms(flow, outdoor)),
            items.source_statement(design, states.points[flow]),
        ),
        unsolved=listing(printed(temp_c, 1).removesuffix(".0") for temp_c in states.unsolved_c),
        levels=levels,
        drawn={(item.kind, item.number) for level in levels for item in (*level.rooms, *level.items)},
        sections=[_section(kind, data, states) for kind in data.kinds],
        state_words=items.STATE_WORDS,
    )


def plan_data(design: DesignResult, contents: PlanContents) -> PlanData:
    """Everything that the page shows, by kind, and its values at every flow temperature."""
    states, marks, steps = contents.states, contents.first_fix.positions, contents.steps
    points = states.points
    own = points[states.design_flow]
    kinds = (
        items.room_items(design),
        items.loop_items(design),
        items.piece_items(steps, own),
        items.pipe_items(marks),
        items.valve_items(design),
    )
    by_flow = {
        "loop": [tuple(items.loop_values(point)) for point in points],
        "piece": [tuple(items.piece_values(steps, point)) for point in points],
        "pipe": [tuple(items.pipe_values(contents.first_fix, point)) for point in points],
        "valve": [tuple(items.valve_values(point)) for point in points],
    }
    return PlanData(kinds, by_flow)


def _section(kind: items.Kind, data: PlanData, states: StateGrid) -> dict[str, object]:
    """A table of the page: its kind, and its rows with what they hold at design conditions."""
    if kind.key == "room":
        room_states = states.rooms(states.design_flow, states.design_outdoor)
        values = [items.room_values(state) for state in room_states]
        css = [value[4] for value in values]
        shown: list[tuple[str, ...]] = [items.in_words(value) for value in values]
    else:
        shown = list(data.by_flow[kind.key][states.design_flow])
        css = [""] * len(shown)
    return {"kind": kind, "rows": list(zip(kind.items, shown, css, strict=True))}


def _file(name: str) -> str:
    return resources.files(PACKAGE).joinpath(name).read_text(encoding="utf-8")
