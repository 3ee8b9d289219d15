"""States of the interactive plan for the script of the page: texts ready for display."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from heatloop.report.documents.document import printed
from heatloop.report.documents.interactive_plan.items import (
    STATE_WORDS,
    STATES,
    Kind,
    room_values,
    rooms_statement,
    source_statement,
)
from heatloop.results.design import DesignResult
from heatloop.results.state_grid import StateGrid

BETWEEN = "|"
"""Stands between the texts of the page: as a list of strings they would take half as much again."""

Values = Sequence[tuple[str, ...]]


@dataclass(frozen=True)
class PlanData:
    """Contents of the page: items by kind, and their values at every flow temperature.

    `by_flow` has no rooms: their values depend on the weather too.
    """

    kinds: tuple[Kind, ...]
    by_flow: Mapping[str, Sequence[Values]]

    def kind(self, key: str) -> Kind:
        """The things of one kind."""
        return next(candidate for candidate in self.kinds if candidate.key == key)


def data_block(design: DesignResult, states: StateGrid, data: PlanData) -> Markup:
    """The states as a JSON object that may stand in a page."""
    flows, outdoors = range(len(states.flow_temps_c)), range(len(states.outdoor_c))
    rooms = [[[room_values(room_state) for room_state in states.rooms(f, o)] for o in outdoors] for f in flows]
    texts = _Texts({})
    loops = [item.loop for item in data.kind("loop").items]
    block: dict[str, Any] = {
        "flow": states.flow_temps_c,
        "outdoor": states.outdoor_c,
        "flowText": [printed(temp_c, 1).removesuffix(".0") for temp_c in states.flow_temps_c],
        "outdoorText": [printed(temp_c, 1).removesuffix(".0") for temp_c in states.outdoor_c],
        "design": [states.design_flow, states.design_outdoor],
        "rooms": [[rooms_statement(states.rooms(f, o)) for o in outdoors] for f in flows],
        "source": [source_statement(design, point) for point in states.points],
        "states": STATES,
        "words": [STATE_WORDS[state] for state in STATES],
        "loss": [[_whole(room[0]) for room in rooms[0][o]] for o in outdoors],
        "heat": [[_whole(room[1]) for room in rooms[f][0]] for f in flows],
        "margin": [[[room[2] for room in rooms[f][o]] for o in outdoors] for f in flows],
        "coverage": [[[_whole(room[3]) for room in rooms[f][o]] for o in outdoors] for f in flows],
        "state": [["".join(str(STATES.index(room[4])) for room in rooms[f][o]) for o in outdoors] for f in flows],
        "kinds": {
            kind.key: {
                "text": [item.sentence for item in kind.items],
                "loop": [loops.index(item.loop) if item.loop else -1 for item in kind.items],
                "by": [
                    [[texts.place(value) for value in row] for row in rows] for rows in data.by_flow.get(kind.key, ())
                ],
            }
            for kind in data.kinds
        },
    }
    block["texts"] = BETWEEN.join(text.replace(BETWEEN, "¦") for text in texts.places)
    return Markup(json_for_page(block))


@dataclass
class _Texts:
    """Texts without duplicates, by number."""

    places: dict[str, int]

    def place(self, text: str) -> int:
        """Number of a text; a new text is added."""
        return self.places.setdefault(text, len(self.places))


def _whole(text: str) -> int | str:
    """A text of digits as a number, if the number is displayed as the same text."""
    return int(text) if text.isdigit() else text


def json_for_page(value: object) -> str:
    """JSON without characters that end a script or open a tag.

    >>> json_for_page(["</script>", "a & b"])
    '["\\\\u003c/script\\\\u003e","a \\\\u0026 b"]'
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text
