"""Tab in a notebook: the completer of the kernel offers the public names and nothing else."""

from __future__ import annotations

import inspect

import pytest
from IPython.core.completer import provisionalcompleter
from IPython.core.interactiveshell import InteractiveShell

import heatloop as hl
from heatloop.results.design import DesignResult
from heatloop.results.operating_point import OperatingPoint

PLOTS = {
    "achieved_flows", "balancing", "heat_loss", "index_loop", "loop", "loop_pressure", "loop_temperature", "network",
    "pump", "room_plan", "rooms", "storey_plan",
}  # fmt: skip
DESIGN = {
    "commissioning", "compare", "first_fix", "layout", "levels_m", "measured_rooms", "parts", "plots", "resize",
    "save_bars", "show", "simulate", "summary", "summary_block", "survey", "tables", "to_dict", "verdict",
    "write_files",
}  # fmt: skip
HANDED_OVER = {"plots", "show", "summary", "summary_block", "survey", "tables", "to_dict"}


@pytest.fixture(scope="module")
def shell(mill_annexe):
    """A shell like that of the kernel, with a design and what it hands over."""
    shell = InteractiveShell()
    shell.user_ns.update(
        hl=hl,
        design=mill_annexe,
        parts=mill_annexe.parts(),
        first_fix=mill_annexe.first_fix(),
        commissioning=mill_annexe.commissioning(outdoor_c=5.0),
        point=mill_annexe.simulate(outdoor_c=5.0),
    )
    return shell


@pytest.fixture(params=[False, True], ids=["plain", "jedi"])
def completed(request, shell):
    """What the completer offers after a text."""
    shell.Completer.use_jedi = request.param

    def offered(text: str) -> set[str]:
        with provisionalcompleter():
            return {one.text.removeprefix(".") for one in shell.Completer.completions(text, len(text))}

    return offered


def test_the_package_offers_its_public_names(completed):
    assert completed("hl.") == set(hl.__all__)
    assert completed("hl.sim") == {"simulate", "simulate_readings"}
    assert completed("hl.physics.") == set(hl.physics.__all__)


def test_a_design_offers_its_tables_and_what_is_done_with_it(completed):
    assert completed("design.") == DESIGN | set(DesignResult.descriptions())
    assert completed("point.") == {
        "layout", "scope", "summary", "summary_block", "survey", "tables", "to_dict", *OperatingPoint.descriptions(),
    }  # fmt: skip


def test_figures_and_sections_are_offered_by_name(completed, mill_annexe):
    assert completed("design.plots.") == PLOTS
    sections = {name for name, _ in inspect.getmembers(type(mill_annexe.show)) if not name.startswith("_")}
    assert completed("design.show.") == sections
    assert completed("parts.plots.") == {"cutting_plan"}
    assert completed("first_fix.plots.") == {"sheet"}
    assert completed("commissioning.show.") == {"closed_system", "handover", "part_load", "site_work"}


def test_what_is_handed_over_offers_its_tables(completed):
    parts = set(hl.PartsList.descriptions())
    assert completed("parts.") == HANDED_OVER | parts | {"cut_plan", "options", "price"}
    first_fix = set(hl.FirstFix.descriptions()) - {"first_fix_notes"}
    assert completed("first_fix.") == HANDED_OVER | first_fix | {
        "layout", "notes", "options", "sheets", "verdict", "write_drawings",
    }  # fmt: skip
    commissioning = set(hl.Commissioning.descriptions()) - {"pressures"}
    others = {"pressures_table", "sections", "show", "summary", "summary_block", "tables", "to_dict", "verdict"}
    assert completed("commissioning.") == commissioning | others
