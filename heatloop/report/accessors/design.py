"""The figures and tables of a design: one method each, with the columns and captions of the design report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import pandas as pd
from matplotlib.axes import Axes

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.columns.shown import BALANCES, JOB, REPORT
from heatloop.report.pages import captions
from heatloop.report.pages.html_tables import HtmlFragment, checks_tables, html_table, summary_table
from heatloop.report.pages.sections import safety_notices_html
from heatloop.report.plans.room_plan import room_plan_plot
from heatloop.report.plans.storey_plan import level_plan_plot
from heatloop.report.plots.figure import Figure, FigureRow
from heatloop.report.plots.heat_loss import room_losses_plot
from heatloop.report.plots.palette import Style
from heatloop.report.plots.room_output import room_output
from heatloop.report.plots.style import FULL_WIDTH_LOOPS, loop_row
from heatloop.report.plots.water.achieved_flows import achieved_flows
from heatloop.report.plots.water.balancing import plot_balancing
from heatloop.report.plots.water.loop_pressure import index_path, loop_pressure
from heatloop.report.plots.water.loop_temperature import loop_temperature
from heatloop.report.plots.water.network import network_schematic
from heatloop.report.plots.water.pump_curve import pump_curves
from heatloop.results.design import DesignResult
from heatloop.results.summaries import rooms_statement

ALL_ROOMS = "all rooms"


class DesignPlots:
    """The figures of a design.

    Every method returns a :class:`Figure`. With `ax` it draws into these axes; `style` "own" keeps the settings of
    matplotlib of the caller in place of those of the report.
    """

    def __init__(self, design: DesignResult) -> None:
        self._design = design

    def rooms(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Heat loss and output of every room as bars, in W."""
        return room_output(self._design, ax, style)

    def heat_loss(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Heat loss of every room by building element as stacked bars, in W."""
        return room_losses_plot(self._design, ax, style)

    def loop(self, loop: str) -> Figure | FigureRow:
        """Temperature and pressure along a loop beside each other; the pressure alone without skirting.

        KeyError for an unknown loop.
        """
        half = len(self._design.survey.loops) > FULL_WIDTH_LOOPS
        if loop_row(self._design, loop)["heated_length_m"] == 0.0:
            return self.loop_pressure(loop)
        pair = (draw(self._design, loop, half=half) for draw in (loop_temperature, loop_pressure))
        return FigureRow(tuple(pair), columns=2 if half else 1)

    def loop_temperature(self, loop: str, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Water temperature along the skirting of a loop, in °C; KeyError for an unknown loop."""
        return loop_temperature(self._design, loop, ax, style)

    def loop_pressure(self, loop: str, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Pressure along a loop, in kPa above its return; KeyError for an unknown loop."""
        return loop_pressure(self._design, loop, ax, style)

    def network(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Schematic of source, trunks and loops with flows and pressures."""
        return network_schematic(self._design, ax, style)

    def balancing(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Pressure available to every loop and the part that its balancing valve takes, in kPa."""
        return plot_balancing(self._design, ax, style)

    def index_loop(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Pressure along all loops, the index loop as a heavy line, in kPa."""
        return index_path(self._design, ax, style)

    def achieved_flows(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Flow of every balancing valve at its nearest setting compared with the calculated flow, in l/h."""
        return achieved_flows(self._design, ax, style)

    def pump(self, pump: str = "source", ax: Axes | None = None, style: Style = "report") -> Figure:
        """Curves of a pump and of its system; KeyError for an unknown pump."""
        return pump_curves(self._design, pump, ax, style)

    def storey_plan(self, level_m: float, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Plan of a storey with its loops; KeyError for a level without a surveyed room."""
        storeys = rooms_by_storey(self._design.survey, self._design.layout)
        if level_m not in storeys:
            raise KeyError(
                f"no surveyed room is on level {level_m:g} m; there are {', '.join(f'{m:g}' for m in storeys)}"
            )
        return level_plan_plot(self._design, level_m, storeys[level_m], ax, style)

    def room_plan(self, room: str, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Plan of a room with its skirting and the water temperature in it.

        KeyError for an unknown room, ValueError for a room whose walls have not been surveyed.
        """
        return room_plan_plot(self._design, room, ax, style)


class DesignSections:
    """The tables of a design in the form of the report, with heading, units and caption.

    Every method returns a part of a page, which a notebook displays. `columns` are the names of the columns to
    show, in order; without them a table has the columns of the report. `caption` replaces the caption of the report.
    """

    def __init__(self, design: DesignResult) -> None:
        self._design = design

    def _table(
        self,
        section: str,
        table: str,
        columns: Sequence[str] | None,
        caption: str | None,
        frame: pd.DataFrame | None = None,
        explain: bool = True,
    ) -> HtmlFragment:
        shown = self._design.frames[table] if frame is None else frame
        return html_table(shown, table, REPORT.get(section) if columns is None else columns, caption, explain)

    def verdict(
        self, parts: PartsListResult | None = None, commissioning: CommissioningResult | None = None
    ) -> HtmlFragment:
        """The verdict with rooms, loops, plant and the recommended changes by priority.

        With a parts list and commissioning results, their checks are included.
        """
        return captions.verdict(self._design, parts, commissioning)

    def summary(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Key figures of the project; `columns` are names of figures."""
        names = JOB if columns is None else columns
        return summary_table(self._design.summary, names, *(() if caption is None else (caption,)))

    def rooms(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Heat loss, output and margin of every room."""
        return self._table(
            "rooms", "rooms", columns, caption or rooms_statement(self._design.rooms, self._design.summary)
        )

    def heat_loss_by_element(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Heat loss of every room by building element."""
        title = caption or captions.HEAT_LOSS_BY_ELEMENT
        return self._table("heat_loss_by_element", "rooms", columns, title, explain=False)

    def source_heat_balance(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Heat balance of the source: heat to the rooms and losses."""
        title = caption or captions.source_heat_words(self._design.source_heat_balance)
        return self._table("source_heat_balance", "source_heat_balance", columns, title)

    def output_range(
        self,
        rooms: Literal["all", "each"] = "each",
        columns: Sequence[str] | None = None,
        caption: str | None = None,
    ) -> HtmlFragment:
        """Output with uncertain inputs varied one at a time: of all rooms together, or of each room."""
        if rooms not in ("all", "each"):
            raise ValueError(f"rooms is {rooms!r}; it can be 'all' or 'each'")
        band = self._design.output_range
        together = band["room"] == ALL_ROOMS
        shown = band[together if rooms == "all" else ~together]
        return self._table(
            f"output_range_{rooms}", "output_range", columns, caption or captions.output_range_caption(band), shown
        )

    def profile_ratings(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Ratings of the profiles and how they are interpreted."""
        return self._table("profile_ratings", "profile_ratings", columns, caption)

    def glazing_comfort(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Comfort beside windows and glazed doors."""
        title = caption or captions.glazing_caption(self._design.glazing_comfort)
        return self._table("glazing_comfort", "glazing_comfort", columns, title)

    def loops(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Flow, temperatures and output of every loop."""
        title = caption or captions.loops_caption(self._design.loops, self._design.checks)
        return self._table("loops", "loops", columns, title)

    def loop_pressures(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Pressure drop of every loop and of its balancing valve."""
        title = caption or captions.loop_pressures_caption(self._design.elements)
        return self._table("loop_pressures", "loops", columns, title)

    def transitional_loops(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Pressure drop of the loops with flow between laminar and turbulent; nothing where there is none."""
        loops = self._design.loops
        between = loops[loops["pressure_drop_laminar_kpa"] != loops["pressure_drop_turbulent_kpa"]]
        if between.empty:
            return HtmlFragment("")
        return self._table("transitional_loops", "loops", columns, caption or captions.TRANSITIONAL_LOOPS, between)

    def valves(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Settings of the valves, calculated and achieved flow."""
        return self._table("valves", "valves", columns, caption or captions.VALVE_SETTINGS)

    def pumps(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Flow, head and setting of every pump."""
        return self._table("pumps", "pumps", columns, caption or captions.pumps_caption(self._design.pumps))

    def loop_isolation(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Effect on the other loops of isolating a loop."""
        return self._table(
            "loop_isolation",
            "loop_isolation",
            columns,
            caption or captions.loop_isolation_caption(self._design.loop_isolation),
        )

    def remote_sensors(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Rooms controlled by a sensor in another room; nothing where there is none."""
        sensors = self._design.remote_sensors
        if sensors.empty:
            return HtmlFragment("")
        return self._table("remote_sensors", "remote_sensors", columns, caption or captions.sensors_caption(sensors))

    def checks(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Checks that are not met, then the limits that are met; `columns` apply to the first table only."""
        title = caption or captions.checks_caption(self._design.checks)
        return checks_tables(self._design.checks, title, columns)

    def safety_notices(self) -> HtmlFragment:
        """The safety notices."""
        return safety_notices_html()

    def assumptions(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Assumptions of the design and their sources."""
        return self._table("assumptions", "assumptions", columns, caption)

    def residuals(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Residuals of the solved balances; `columns` are names of figures."""
        names = BALANCES if columns is None else columns
        return summary_table(self._design.summary, names, caption or captions.RESIDUALS)
