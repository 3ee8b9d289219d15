"""Figures and sections of a design: every figure takes and keeps axes, every section is a part of a page."""

from __future__ import annotations

import matplotlib as mpl
import matplotlib.pyplot as plt
import pytest

import heatloop as hl
from heatloop.report.columns.registry import TABLES
from heatloop.report.columns.shown import REPORT
from tests.helpers.paths import DATA

MILL = DATA / "mill-annexe" / "survey.toml"
PLOTS = {
    "rooms": (), "heat_loss": (), "loop_temperature": ("Annexe",), "loop_pressure": ("Annexe",), "network": (),
    "balancing": (), "index_loop": (), "achieved_flows": (), "pump": ("source",), "storey_plan": (0.0,),
    "room_plan": ("Annexe",),
}  # fmt: skip


@pytest.mark.parametrize("name", PLOTS)
def test_a_plot_is_a_figure_that_takes_and_keeps_axes(name, mill_annexe, tmp_path):
    plot = getattr(mill_annexe.plots, name)
    figure = plot(*PLOTS[name])
    assert len(figure.alt_text) > 20
    assert figure._repr_html_().count("<img") == 1
    assert b"<svg" in figure.save(tmp_path / "figure.svg").read_bytes()
    ax = mpl.figure.Figure(layout="constrained").subplots()
    assert plot(*PLOTS[name], ax=ax).axes is ax


def test_every_plot_of_a_design_is_tested():
    public = {name for name in dir(hl.size(MILL).plots) if not name.startswith("_")}
    assert public == {*PLOTS, "loop"}


def test_own_style_keeps_the_settings_of_the_caller(mill_annexe):
    with mpl.rc_context({"axes.titlesize": 23.0}):
        own = mill_annexe.plots.rooms(style="own").axes
        report = mill_annexe.plots.rooms().axes
        assert plt.rcParams["axes.titlesize"] == 23.0
    sizes = [next(t for t in (ax._left_title, ax.title) if t.get_text()).get_fontsize() for ax in (own, report)]
    assert sizes == [23.0, 10.0]
    with pytest.raises(ValueError, match="style is 'mine'; it can be 'report' or 'own'"):
        mill_annexe.plots.rooms(style="mine")


def test_loops_and_figures_beside_each_other(mill_annexe, tmp_path):
    row = mill_annexe.plots.loop("Annexe")
    assert [figure.alt_text for figure in row.figures] == [
        mill_annexe.plots.loop_temperature("Annexe").alt_text,
        mill_annexe.plots.loop_pressure("Annexe").alt_text,
    ]
    assert row._repr_html_().count("<img") == 2
    assert row.alt_text == " ".join(figure.alt_text for figure in row.figures)
    written = row.save(tmp_path / "row.svg")
    assert [path.name for path in written] == ["row-1.svg", "row-2.svg"]
    assert all(b"<svg" in path.read_bytes() for path in written)
    with pytest.raises(KeyError, match="no loop is called 'attic'"):
        mill_annexe.plots.loop("attic")
    with pytest.raises(KeyError, match="no surveyed room is on level 7 m; there are 0"):
        mill_annexe.plots.storey_plan(7.0)


def shown(design, parts, first_fix, commissioning):
    """Every section of all results, by name."""
    for result in (design, parts, first_fix, commissioning):
        for name in dir(result.show):
            if not name.startswith("_"):
                yield f"{type(result).__name__}.{name}", getattr(result.show, name)


def test_every_section_is_a_part_of_a_page(alder_lodge, parts, first_fix, commissioning):
    sections = dict(shown(alder_lodge, parts, first_fix, commissioning))
    assert len(sections) == 19 + 5 + 2 + 4
    for name, section in sections.items():
        empty = name in ("Design.remote_sensors", "Design.transitional_loops")
        assert section().markup.startswith("<") or empty, name


def test_sections_take_columns_and_a_caption(mill_annexe, parts):
    markup = mill_annexe.show.rooms(columns=["room", "indoor_c"], caption="Rooms & more").markup
    assert "<caption>Rooms &amp; more</caption>" in markup
    assert markup.count("<th scope") <= 3
    checks = mill_annexe.show.checks(["check", "verdict"], "Checks & more").markup
    assert "<caption>Checks &amp; more</caption>" in checks
    assert "Recommendation" not in checks
    assert "Recommendation" in mill_annexe.show.checks().markup
    assert "<caption>Cut</caption>" in parts.show.pieces(["label", "cut_length_mm"], "Cut").markup
    with pytest.raises(KeyError):
        mill_annexe.show.rooms(columns=["no_such_column"])
    with pytest.raises(ValueError, match="rooms is 'some'"):
        mill_annexe.show.output_range(rooms="some")


def test_output_range_of_all_rooms_or_each(alder_lodge):
    together, each = (alder_lodge.show.output_range(rooms=rooms).markup for rooms in ("all", "each"))
    assert "Kitchen-diner" not in together
    assert "Kitchen-diner" in each
    assert "all rooms" not in each


def test_columns_of_the_report_are_columns_of_tables():
    known = {column.name for table in TABLES.values() for column in table.columns}
    assert {name for columns in REPORT.values() for name in columns} <= known
