"""Plan of a room: every piece, joint and end is named, and no words stand on each other."""

from __future__ import annotations

from itertools import combinations

import pytest

import heatloop as hl
from heatloop.layout.model import PlacedEnd, PlacedJoint
from heatloop.report.plans import room_plan


@pytest.mark.parametrize("room", ["Kitchen-diner", "Living room", "Hall", "Bathroom", "Landing"])
def test_room_plans_name_every_piece_joint_and_end(design: hl.Design, room: str) -> None:
    ax = room_plan.room_plan_plot(design, room).axes
    (key,) = ax.child_axes
    on_plan = [text.get_text() for text in ax.texts]
    beside = [text.get_text() for text in key.texts]
    pieces = [p for loop in design.layout.loops for p in loop.pieces if p.room == room]
    labels = {p.label.removeprefix(room).strip() for p in pieces}
    bare = {words.split("  ")[0] for words in on_plan}
    assert labels <= bare
    assert labels <= set(beside)
    elements = design.elements[
        (design.elements["room"] == room) & design.elements["kind"].isin(["piece", "floor section"])
    ]
    for _, row in elements.groupby(["label", "direction"]).first().iterrows():
        assert f"{row['inlet_temp_c']:.1f} to {row['outlet_temp_c']:.1f}" in beside
    drawn = {line.get_marker() for line in ax.lines}
    placed = (e for loop in design.layout.loops for arm in loop.arms for e in arm.elements if e.room == room)
    for kind in {e.kind for e in placed if isinstance(e, PlacedJoint | PlacedEnd)}:
        assert room_plan.MARKERS[kind][0] in drawn
        assert kind in " ".join(beside)


def test_the_plan_prints_why_an_angle_joint_stands_there(design: hl.Design) -> None:
    ax = room_plan.room_plan_plot(design, "Living room").axes
    beside = " ".join(text.get_text() for text in ax.child_axes[0].texts)
    assert "4 angle joints" in beside
    assert "7-8, 4-5: a turn of -45 degrees: a deliberate angle" in beside or (
        "8-7, 5-4: a turn of -45 degrees: a deliberate angle" in beside
    )
    kitchen = room_plan.room_plan_plot(design, "Kitchen-diner").axes.child_axes[0]
    words = [text.get_text() for text in kitchen.texts]
    for line in ("skirting, flow", "skirting, return", "crossing, plain pipe", "laid in the floor", "turn end"):
        assert line in words
    assert "4a-4b: past dining door, 1.14 m" in words


def test_no_words_of_a_plan_stand_on_each_other_or_leave_the_page(design: hl.Design) -> None:
    for room in design.survey.rooms:
        ax = room_plan.room_plan_plot(design, room.name).axes
        sheet = ax.get_figure()
        sheet.draw_without_rendering()
        texts = [t for a in (ax, *ax.child_axes) for t in a.texts if t.get_text()]
        boxes = [(t.get_text(), t.get_window_extent()) for t in texts if t.get_rotation() % 90.0 == 0.0]
        width, height = sheet.get_size_inches() * sheet.dpi
        for words, box in boxes:
            assert box.x0 >= -1.0, (room.name, words)
            assert box.x1 <= width + 1.0, (room.name, words)
            assert box.y0 >= -1.0, (room.name, words)
            assert box.y1 <= height + 1.0, (room.name, words)
        for (one, a), (other, b) in combinations(boxes, 2):
            over = (min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0))
            assert min(over) < 2.5, (room.name, one, other)


def test_paper_scale_lets_a_plan_fit_its_place() -> None:
    from heatloop.report.plans.room_outline import PLAN_HEIGHT_M, PLAN_WIDTH_M, SCALES, paper_scale

    for width_m, height_m in ((2.0, 1.5), (7.6, 4.8), (4.8, 7.6), (25.0, 11.0)):
        n = paper_scale(width_m, height_m)
        assert width_m / n <= PLAN_WIDTH_M
        assert height_m / n <= PLAN_HEIGHT_M
        smaller = [m for m in SCALES if m < n]
        assert all(width_m / m > PLAN_WIDTH_M or height_m / m > PLAN_HEIGHT_M for m in smaller)
