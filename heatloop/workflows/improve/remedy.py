"""A remedy: a change of a survey as a value, with its words and what it assumes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData, at_flow_temp, put_by_name

Kind = Literal[
    "more profile", "another profile", "another emitter", "smaller drop", "larger drop", "hotter water", "cooler water",
    "larger pipe", "another valve", "pump setting", "reversed route", "arrangement", "another trunk", "divided loop",
    "joined loops", "floor section", "building", "window sill",
]  # fmt: skip
"""Kinds of remedies, in the order in which equally good ones are listed."""

EditedTable = Literal["project", "source", "trunk", "loop", "build_up", "room"]

WHOLE = "*"
"""In place of a field: the whole item."""


@dataclass(frozen=True)
class Edit:
    """New values of fields of one item of a survey; `name` is empty for the project and the source.

    The field WHOLE of a loop: the loops in its place, none or several.
    """

    table: EditedTable
    name: str
    values: tuple[tuple[str, Any], ...]


@dataclass(frozen=True)
class Remedy:
    """A change that may put something right.

    `where`: the loop, room or build-up that it changes. `words`: the change in a phrase. `assumed`: what a survey would
    have to confirm. `other_work`: its cost is not in the parts list, such as that of a window.
    """

    kind: Kind
    where: str
    words: str
    edits: tuple[Edit, ...]
    assumed: str = ""
    other_work: bool = False

    @property
    def touches(self) -> frozenset[tuple[str, str, str]]:
        """Table, item and field of everything that it changes."""
        return frozenset((edit.table, edit.name, field) for edit in self.edits for field, _ in edit.values)


Family = tuple[Remedy, ...]
"""One remedy in rising amounts, such as 0.1 m, 0.2 m ... of profile: at least one."""


def loop_edit(loop: Loop, **values: Any) -> Edit:
    """New values of a loop."""
    return Edit("loop", loop.name, tuple(values.items()))


def loop_replaced(loop: Loop, *loops: Loop) -> Edit:
    """Other loops in place of a loop."""
    return Edit("loop", loop.name, ((WHOLE, loops),))


def with_remedies(survey: SurveyData, remedies: Iterable[Remedy]) -> SurveyData:
    """The survey with these changes, unchecked. KeyError if an item that they change is not in the survey."""
    for remedy in remedies:
        for edit in remedy.edits:
            survey = _edited(survey, edit)
    return survey


def are_compatible(remedies: Sequence[Remedy]) -> bool:
    """Whether no two of them change the same thing."""
    touched: set[tuple[str, str, str]] = set()
    for remedy in remedies:
        own = remedy.touches
        if own & touched or _items(_whole(own)) & _items(touched) or _items(own) & _items(_whole(touched)):
            return False
        touched |= own
    return True


def _whole(touched: Iterable[tuple[str, str, str]]) -> set[tuple[str, str, str]]:
    return {place for place in touched if place[2] == WHOLE}


def _items(touched: Iterable[tuple[str, str, str]]) -> set[tuple[str, str]]:
    return {(table, name) for table, name, _ in touched}


def _edited(survey: SurveyData, edit: Edit) -> SurveyData:
    values = dict(edit.values)
    match edit.table:
        case "project":
            flow_temp_c = values.pop("flow_temp_c", None)
            survey = replace(survey, project=replace(survey.project, **values))
            return survey if flow_temp_c is None else at_flow_temp(survey, flow_temp_c)
        case "source":
            return replace(survey, source=replace(survey.source, **values))
        case "trunk":
            return replace(survey, trunks=put_by_name(survey.trunks, replace(survey.trunk(edit.name), **values)))
        case "loop" if WHOLE in values:
            place = survey.loops.index(survey.loop(edit.name))
            return replace(survey, loops=(*survey.loops[:place], *values[WHOLE], *survey.loops[place + 1 :]))
        case "loop":
            return replace(survey, loops=put_by_name(survey.loops, replace(survey.loop(edit.name), **values)))
        case "build_up":
            changed = replace(survey.build_up(edit.name), **values)
            return replace(survey, build_ups=put_by_name(survey.build_ups, changed))
        case "room":
            return replace(survey, rooms=put_by_name(survey.rooms, replace(survey.room(edit.name), **values)))
