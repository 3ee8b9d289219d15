"""A room heated by a radiator alone: its plan, its words, and the treatment of the water that was there before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import matplotlib.pyplot as plt
import pytest
from matplotlib.patches import Polygon

import heatloop as hl
from heatloop.handover.commissioning.water_treatment import treatment_inputs
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.plans.emitters import NOT_SURVEYED
from heatloop.report.plans.room_plan import room_plan_plot
from heatloop.report.plans.storey_plan import level_plan_plot
from heatloop.survey.starter_files import start_files

RADIATOR = """
[[emitter]]
name = "old radiator"
output_w = 1400
exponent = 1.3
zeta = 3.0
"""


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> hl.Design:
    """The starter flat with an old radiator in its bedroom in place of skirting."""
    folder = tmp_path_factory.mktemp("flat")
    start_files(folder)
    with (folder / "catalogue.toml").open("a", encoding="utf-8") as catalogue:
        catalogue.write(RADIATOR)
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    loop = text.rindex("[[loop]]")
    bedroom = text[loop:].replace('profile = "two-channel"\narrangement = "there-and-back"\n', "")
    bedroom = "\n".join(line for line in bedroom.splitlines() if not line.startswith(("crossing", "route", "  {", "]")))
    emitters = '\nemitters = [ { emitter = "old radiator", room = "Bedroom", existing = true } ]\n'
    (folder / "survey.toml").write_text(text[:loop] + bedroom + emitters, encoding="utf-8")
    return hl.size(Path(folder / "survey.toml"))


def dashed(axes: plt.Axes) -> list[Polygon]:
    return [patch for patch in axes.patches if isinstance(patch, Polygon) and patch.get_linestyle() == "--"]


def test_a_room_with_a_radiator_alone_is_drawn_with_it_under_its_window(design: hl.Design) -> None:
    axes = room_plan_plot(design, "Bedroom").axes
    (box,) = dashed(axes)
    east = box.get_xy()[:, 0]
    assert east.min() > 2.5  # the first window is in the east wall
    assert "old radiator" in [text.get_text() for text in axes.texts]
    assert "W from old radiator" in axes.get_title(loc="left")
    assert "skirting" not in axes.get_title(loc="left")
    plt.close(axes.figure)
    words = room_plan_plot(design, "Bedroom").alt_text
    assert words.startswith("Plan of Bedroom: no skirting. Heated by old radiator. Bedroom is warm: ")


def test_a_room_with_skirting_keeps_its_plan(design: hl.Design) -> None:
    axes = room_plan_plot(design, "Living room").axes
    assert not dashed(axes)
    assert "W from skirting" in axes.get_title(loc="left")
    plt.close(axes.figure)


def test_the_plan_of_the_storey_shows_it_and_says_that_its_place_is_not_surveyed(design: hl.Design) -> None:
    ((level_m, rooms),) = rooms_by_storey(design.survey, design.layout).items()
    axes = level_plan_plot(design, level_m, rooms).axes
    assert len(dashed(axes)) == 1
    legend = axes.get_legend()
    assert legend is not None
    assert NOT_SURVEYED in [text.get_text() for text in legend.get_texts()]
    plt.close(axes.figure)


@pytest.mark.parametrize(("stated", "old"), [(None, True), (False, False), (True, True)])
def test_an_existing_emitter_makes_an_old_system_unless_the_survey_says_otherwise(
    design: hl.Design, stated: bool | None, old: bool
) -> None:
    survey = replace(design.survey, system=replace(design.survey.system, old_system=stated))
    assert treatment_inputs(survey, 10.0).old_system == old
    assert ("old system" in treatment_inputs(survey, 10.0).conditions) == old


def test_a_new_system_without_existing_parts_is_new(mill_annexe: hl.Design) -> None:
    assert not treatment_inputs(mill_annexe.survey, 10.0).old_system
