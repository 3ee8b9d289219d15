"""Controls of a live design (sliders, profiles, tick boxes, heat losses) and the page below them."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Mapping
from html import escape
from typing import Any, Protocol

import ipywidgets
import pandas as pd

from heatloop.survey.editing import Survey

FLOW_C, OUTDOOR_C, DROP_K = (25.0, 75.0, 0.5), (-20.0, 15.0, 0.5), (2.0, 20.0, 0.5)
"""Range and step of the sliders: minimum, maximum, step."""


class LiveValues(Protocol):
    """Values of the controls."""

    @property
    def flow_temp_c(self) -> float: ...
    @property
    def outdoor_c(self) -> float: ...
    @property
    def delta_t_k(self) -> float: ...
    @property
    def profiles(self) -> Mapping[str, str]: ...
    @property
    def loops_off(self) -> frozenset[str]: ...
    @property
    def heat_losses_w(self) -> Mapping[str, float]: ...


class LiveDesign(Protocol):
    """A design that the controls change and display."""

    base: Survey

    @property
    def values(self) -> LiveValues: ...
    @property
    def rooms(self) -> pd.DataFrame: ...
    def change(self, *, check: bool = True, **values: Any) -> None:
        """Set values and size again."""

    def check(self) -> None:
        """Check the design against all limits, where that has not been done."""

    def markup(self) -> str:
        """The displayed content, as HTML."""

    def keep(self, name: str) -> None:
        """Keep the displayed design under a name."""

    def kept_markup(self) -> str:
        """The kept designs side by side, as HTML."""


WIDE = {"description_width": "170px"}
MAX_LOSS_W = 20_000.0
CHECK_AFTER_S = 0.06
"""Time without a change after which the design is checked: the page sends the next value within it."""


class _Later:
    """A call that is made after a time, unless it is asked for again meanwhile; at once where no event loop runs.

    Kernels answer messages of a page in threads of their own: what is called holds `lock`.
    """

    def __init__(self, call: Callable[[], None], lock: threading.RLock) -> None:
        self._call, self._lock = call, lock
        self._asked = 0

    def __call__(self) -> None:
        self._asked += 1
        try:
            asyncio.get_running_loop().call_later(CHECK_AFTER_S, self._run, self._asked)
        except RuntimeError:
            self._run(self._asked)

    def _run(self, asked: int) -> None:
        with self._lock:
            if asked == self._asked:
                self._call()


def design_controls(live: LiveDesign) -> ipywidgets.Widget:
    """Controls that change a live design, and its page below them.

    The widget manager of the page sends only the newest value while the kernel is busy. So a drag of a slider ends with
    its last value and makes no queue. Rooms, plans and loops follow each value; the checks, which take as long again,
    follow when no other value has come.
    """
    survey, values = live.base, live.values
    shown = ipywidgets.HTML(live.markup())

    def checked() -> None:
        live.check()
        shown.value = live.markup()

    lock = threading.RLock()
    check_later = _Later(checked, lock)

    def changed(**new: Any) -> None:
        with lock:
            live.change(check=False, **new)
            shown.value = live.markup()
            check_later()

    sliders = [
        _slider("Flow temperature, °C", values.flow_temp_c, FLOW_C, lambda v: changed(flow_temp_c=v)),
        _slider("Design drop, K", values.delta_t_k, DROP_K, lambda v: changed(delta_t_k=v)),
        _slider("Outdoor temperature, °C", values.outdoor_c, OUTDOOR_C, lambda v: changed(outdoor_c=v)),
    ]
    names = [profile.name for profile in survey.catalogue.profiles]

    def with_profile(loop: str, profile: str) -> None:
        changed(profiles={**live.values.profiles, loop: profile})

    def with_loop(loop: str, built: bool) -> None:
        off = live.values.loops_off
        changed(loops_off=off - {loop} if built else off | {loop})

    def with_loss(room: str, heat_w: float) -> None:
        changed(heat_losses_w={**live.values.heat_losses_w, room: heat_w})

    loops = []
    for loop in survey.loops:
        tick = ipywidgets.Checkbox(True, description=f"build {loop.name}", indent=False)
        tick.observe(lambda change, name=loop.name: with_loop(name, change["new"]), "value")
        parts = [tick]
        if loop.profile in names:
            choice = ipywidgets.Dropdown(options=names, value=loop.profile, description="profile")
            choice.observe(lambda change, name=loop.name: with_profile(name, change["new"]), "value")
            parts.append(choice)
        loops.append(ipywidgets.HBox(parts))
    losses = []
    for row in live.rooms.to_dict("records"):
        loss_w = round(float(row["heat_loss_w"]), 1)
        box = ipywidgets.BoundedFloatText(
            loss_w, min=0.0, max=max(MAX_LOSS_W, loss_w), step=10.0, description=f"{row['room']}, W", style=WIDE
        )
        box.observe(lambda change, name=row["room"]: with_loss(name, change["new"]), "value")
        losses.append(box)
    more = ipywidgets.Accordion([ipywidgets.VBox(loops), ipywidgets.VBox(losses)])
    more.set_title(0, "Loops: which are built, and their profiles")
    more.set_title(1, "Heat losses of rooms")
    return ipywidgets.VBox([*sliders, more, _keeping(live), shown])


def _keeping(live: LiveDesign) -> ipywidgets.Widget:
    """A name and a button to keep the displayed design, and the kept designs below."""
    name = ipywidgets.Text(placeholder="name of a design", description="Keep as", style=WIDE)
    button, kept = ipywidgets.Button(description="Keep"), ipywidgets.HTML(live.kept_markup())

    def keep(_: object) -> None:
        try:
            live.keep(name.value.strip() or f"{live.values.flow_temp_c:g} °C, outdoor {live.values.outdoor_c:g} °C")
        except ValueError as error:
            kept.value = escape(str(error))
        else:
            kept.value = live.kept_markup()

    button.on_click(keep)
    return ipywidgets.VBox([ipywidgets.HBox([name, button]), kept])


def _slider(label: str, value: float, span: tuple[float, float, float], change: Any) -> ipywidgets.FloatSlider:
    """A slider that changes the design while it moves; its range includes the start value."""
    minimum, maximum, step = span
    slider = ipywidgets.FloatSlider(
        value, min=min(minimum, value), max=max(maximum, value), step=step, description=label,
        continuous_update=True, readout_format=".1f", style=WIDE, layout={"width": "520px"},
    )  # fmt: skip
    slider.observe(lambda event: change(event["new"]), "value")
    return slider
