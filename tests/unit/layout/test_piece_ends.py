"""Both ends of every piece, facing the wall: what is there, what it takes off the piece, and why it is there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.layout.model import Arm, Layout, LoopLayout, PlacedCrossing, PlacedEnd, PlacedJoint, RunElement
from heatloop.layout.piece_ends import (
    Meets,
    cut_deduction_mm,
    joint_positions,
    joint_reason,
    kind_and_name,
    machining,
    placed_pieces,
)
from heatloop.survey.building import Room
from heatloop.survey.catalogue import Joint
from heatloop.survey.loops import (
    RouteCrossing,
    RouteEstimate,
    RouteWalls,
)
from heatloop.survey.survey import SurveyData
from tests.helpers.laid_room import CATALOGUE, laid

ESTIMATED = Room("Attic", 20.0, estimated_wall_m=6.0, heat_loss_w=300.0)
CORNERS = replace(
    CATALOGUE,
    joints=(
        *CATALOGUE.joints,
        Joint("corner", "inside corner", (80.0, 100.0), 45.0),
        Joint("sleeve", "crossing", (0.0, 0.0), 25.0, machining="drilled"),
    ),
    ends=(replace(CATALOGUE.ends[0], machining="threaded"), CATALOGUE.ends[1]),
)
SLEEVE = PlacedCrossing("door", "copper 15", 1.2, 4.0, "Room", "Room", 1, 1.0, 1.8, 1, 0.2)
FRONT = PlacedEnd("valve end", "front piece", "Room", 1, 0.0, 0.0)
FAR = PlacedEnd("turn end", "far piece", "Room", 2, 4.0, 0.0)


def ends(layout: Layout) -> list[tuple[str, str, str, int | None]]:
    found = [e for arm in layout.loops[0].arms for e in arm.elements if isinstance(e, PlacedEnd)]
    return [(end.kind, end.end, end.room, end.wall) for end in found]


def test_ends_are_the_entries_of_the_catalogue_on_walls_and_in_estimates() -> None:
    _, layout = laid(RouteWalls("Room", (1, 2)))
    assert ends(layout) == [("valve end", "front piece", "Room", 1), ("turn end", "far piece", "Room", 2)]
    _, layout = laid(RouteEstimate("Attic", 4.0), rooms=(ESTIMATED,))
    assert ends(layout) == [("valve end", "front piece", "Attic", None), ("turn end", "far piece", "Attic", None)]


def sides(survey: SurveyData, layout: Layout) -> list[tuple[str, str, str]]:
    """Piece, and the kinds of what is at its left and at its right."""
    return [(one.piece.label, one.left.kind, one.right.kind) for one in placed_pieces(survey, layout)]  # type: ignore[union-attr]


def test_left_and_right_of_a_piece_are_as_one_faces_the_wall() -> None:
    """Facing a wall from inside, a clockwise run goes from left to right; the other way round it comes from the
    right."""
    assert sides(*laid(RouteWalls("Room", (1, 2)))) == [
        ("Room 1", "valve end", "angle"),
        ("Room 2", "angle", "turn end"),
    ]
    assert sides(*laid(RouteWalls("Room", (2, 1)))) == [
        ("Room 2", "angle", "valve end"),
        ("Room 1", "turn end", "angle"),
    ]


def test_each_piece_has_its_loop_arm_and_bar() -> None:
    route = RouteWalls("Room", (1, 2))
    first, second = placed_pieces(*laid(route))
    assert (first.loop, first.arm, first.estimate, first.stock) == ("Loop", 1, False, "plain")
    assert (first.start.room, first.end, second.start) == ("Room", first.end, first.end)
    white, _ = placed_pieces(*laid(route, finish="white"))
    assert (white.finish, white.stock) == ("white", "plain, white")
    (estimate,) = placed_pieces(*laid(RouteEstimate("Attic", 4.0), rooms=(ESTIMATED,)))
    assert estimate.estimate


def by_hand(*elements: RunElement) -> tuple[SurveyData, Layout]:
    """A layout of these elements in one arm."""
    survey, layout = laid(RouteWalls("Room", (1, 2)))
    return survey, replace(layout, loops=(LoopLayout("Loop", (Arm(elements),)),))


def test_a_piece_without_a_joint_at_an_end_is_an_error() -> None:
    piece = laid(RouteWalls("Room", (1, 2)))[1].loops[0].pieces[0]
    other = replace(piece, label="Room 2")
    assert [one.piece for one in placed_pieces(*by_hand(FRONT, piece, FAR))] == [piece]
    with pytest.raises(ValueError, match="layout") as raised:
        placed_pieces(*by_hand(FRONT, piece, other))
    assert str(raised.value) == (
        "layout: loop 'Loop', piece 'Room 1': its end meets piece 'Room 2'; loop 'Loop', piece 'Room 2': its start "
        "meets piece 'Room 1'; loop 'Loop', piece 'Room 2': its end meets nothing; must be one joint, crossing or end "
        "at each"
    )
    with pytest.raises(ValueError, match="piece 'Room 1': its start meets nothing; must be"):
        placed_pieces(*by_hand(piece, FAR))


def test_joints_stand_between_the_pieces_before_and_after_them() -> None:
    survey, layout = laid(RouteWalls("Room", (1, 2)), RouteCrossing("copper 15", 1.0), RouteWalls("Room", (4,)))
    found = [(one.meets.__class__, one.before, one.after) for one in joint_positions(survey, layout)]
    assert found == [
        (PlacedEnd, "", "Room 1"),
        (PlacedJoint, "Room 1", "Room 2"),
        (PlacedCrossing, "Room 2", "Room 4"),
        (PlacedEnd, "Room 4", ""),
    ]
    assert {(one.loop, one.arm, one.profile.name) for one in joint_positions(survey, layout)} == {("Loop", 1, "plain")}


def turn(kind: str, joint: str, turn_deg: float, reason: str = "corner") -> PlacedJoint:
    return PlacedJoint(kind, joint, "Room", 1, 3.0, turn_deg, 0.0, reason)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("meets", "kind", "name", "off_mm", "words"),
    [
        (FRONT, "valve end", "front piece", 140.0, "threaded"),
        (FAR, "turn end", "far piece", 60.0, ""),
        (turn("inside corner", "corner", 90.0), "inside corner", "corner", 45.0, ""),
        (turn("floor section", "", 0.0), "floor section", "", 0.0, ""),
        (SLEEVE, "crossing", "sleeve", 25.0, "drilled"),
    ],
)
def test_what_a_joint_or_end_takes_off_a_piece_is_stated_in_the_catalogue(
    meets: Meets, kind: str, name: str, off_mm: float, words: str
) -> None:
    assert kind_and_name(CORNERS, meets) == (kind, name)
    assert (cut_deduction_mm(CORNERS, meets), machining(CORNERS, meets)) == (off_mm, words)


def test_a_crossing_that_the_catalogue_does_not_have_takes_nothing_off() -> None:
    assert kind_and_name(CATALOGUE, SLEEVE) == ("crossing", "")
    assert (cut_deduction_mm(CATALOGUE, SLEEVE), machining(CATALOGUE, SLEEVE)) == (0.0, "")


@pytest.mark.parametrize(
    ("meets", "reason"),
    [
        (FRONT, "the run begins or ends here"),
        (FAR, "the run turns here"),
        (SLEEVE, "past door"),
        (replace(SLEEVE, wall=None, reason="to the hall"), "to the hall"),
        (turn("inside corner", "corner", 90.0), "corner"),
        (turn("inside corner", "corner", 90.05), "corner"),
        (turn("outside corner", "corner", -90.0), "corner"),
        (turn("straight", "splice", 0.0, "longer than stock"), "longer than stock"),
        (
            turn("inside corner", "corner", 90.5),
            "a turn of 90.5 degrees, within the 80 to 100 of the square joint",
        ),
        (
            turn("inside corner", "corner", 90.0502),
            "a turn of 90.0502 degrees, within the 80 to 100 of the square joint",
        ),
        (
            turn("inside corner", "corner", 89.9),
            "a turn of 89.9 degrees, within the 80 to 100 of the square joint",
        ),
        (turn("angle", "any angle", 45.0), "a turn of 45 degrees: a deliberate angle"),
        (turn("angle", "any angle", 110.1), "a turn of 110.1 degrees: a deliberate angle"),
        (turn("angle", "any angle", -69.0), "a turn of -69 degrees: a deliberate angle"),
        (
            turn("angle", "any angle", 70.0),
            'a turn of 70 degrees: 20 degrees out of square, beyond the 80 to 100 that the joint "corner" takes',
        ),
        (
            turn("angle", "any angle", 101.25),
            'a turn of 101.25 degrees: 11.2 degrees out of square, beyond the 80 to 100 that the joint "corner" takes',
        ),
        (turn("angle", "any angle", -75.0), "a turn of -75 degrees: the catalogue has no outside corner"),
    ],
)
def test_the_reason_for_a_joint_is_stated_in_words(meets: Meets, reason: str) -> None:
    assert joint_reason(CORNERS, meets) == reason
