"""Events of the page (click, key, text and others) and the step of the tracing that each is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heatloop.findings.input_errors import is_number
from heatloop.survey.tracing.session import (
    KEYS,
    TOOLS,
    TracingSession,
    click,
    press,
    typed,
    with_level,
    with_page_shown,
    with_tool,
)

EVENTS = ("click", "key", "text", "tool", "page", "level")
LONGEST_TEXT = 1000


def after(session: TracingSession, event: str, values: Mapping[str, Any]) -> TracingSession:
    """The session after an event. Raises ValueError for an unknown event or an invalid value."""
    if event == "click":
        x, y, screen_px, free = position(session, values)
        return click(session, (x, y), screen_px, free)
    if event == "key":
        return press(session, _one_of(values.get("key"), tuple(KEYS)))
    if event == "tool":
        tool = _one_of(values.get("tool"), TOOLS)
        return with_tool(session, next(one for one in TOOLS if one == tool))
    if event == "page":
        index = values.get("index")
        if not isinstance(index, int) or not 0 <= index < len(session.tracing.pages):
            raise ValueError(f"no page of index {index!r}")
        return with_page_shown(session, index)
    text = values.get("text")
    if event not in EVENTS or not isinstance(text, str):
        raise ValueError(f"event {event!r} with text {text!r}; events are {', '.join(EVENTS)}")
    return (typed if event == "text" else with_level)(session, text[:LONGEST_TEXT])


def position(session: TracingSession, values: Mapping[str, Any]) -> tuple[float, float, float, bool]:
    """Coordinates within the picture, size of a screen pixel, and whether snapping is off."""
    x, y, screen_px = values.get("x"), values.get("y"), values.get("screen_px", 1.0)
    if not (is_number(x) and is_number(y) and is_number(screen_px) and 0.0 < float(screen_px) <= 1000.0):
        raise ValueError(f"a point at {x!r}, {y!r} with pixels of {screen_px!r}")
    page = session.page
    return (
        min(max(float(x), 0.0), float(page.width_px)),  # type: ignore[arg-type]
        min(max(float(y), 0.0), float(page.height_px)),  # type: ignore[arg-type]
        float(screen_px),
        values.get("free") is True,
    )


def _one_of(value: Any, known: tuple[str, ...]) -> str:
    if value not in known:
        raise ValueError(f"{value!r}; known are {', '.join(known)}")
    return str(value)
