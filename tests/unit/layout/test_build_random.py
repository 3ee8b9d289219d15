"""What holds for the layout of any room: invariants on rooms drawn at random.

The rooms are in whole centimetres, so an oracle that counts centimetre cells says exactly which wall
carries skirting; it shares no code with the layout.
"""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from heatloop.layout.model import Piece, PlacedCrossing, PlacedEnd, PlacedJoint
from heatloop.survey.building import Room
from heatloop.survey.loops import RouteWalls
from tests.helpers.random_rooms import CATALOGUE, PROFILE, Cell, cases, laid, route_cells, survey_of

TAKE_OFF_M = {"angle": 0.060, "inside corner": 0.045, "outside corner": 0.055, "straight": 0.005}
TAKE_OFF_M |= {"valve end": 0.140, "turn end": 0.060, "": 0.0}


def state(room: Room, cell: Cell, floor_sections: tuple[str, ...]) -> str:
    """wall, blocked, or the name of the sill at a cell."""
    wall, middle = room.walls[cell[0] - 1], (cell[1] + 0.5) / 100
    low = [o for o in wall.openings if o.start_m < middle < o.end_m and o.sill_m < 0.15]
    if any(o.start_m < middle < o.end_m for o in wall.obstacles) or any(o.name not in floor_sections for o in low):
        return "blocked"
    return " ".join(str(o.name) for o in low) if low else "wall"


def groups(room: Room, cells: list[Cell], floor_sections: tuple[str, ...]) -> list[tuple[str, list[Cell]]]:
    """Neighbouring cells of one state, parted at corners and where the list has a gap."""
    found: list[tuple[str, list[Cell]]] = []
    for i, cell in enumerate(cells):
        here = state(room, cell, floor_sections)
        joined = bool(found) and found[-1][0] == here
        if joined:
            wall, x = cells[i - 1]
            if wall == cell[0] and abs(cell[1] - x) == 1:
                pass
            else:
                left, right = (wall, cell[0]) if cell[1] == 0 else (cell[0], wall)
                edge = x if cell[1] == 0 else cell[1]
                neighbours = right == left % len(room.walls) + 1 and 0 in (x, cell[1])
                at_end = edge == round(room.walls[left - 1].length_m * 100) - 1
                joined = neighbours and at_end and room.walls[left - 1].turn_deg == 0
        if joined:
            found[-1][1].append(cell)
        else:
            found.append((here, [cell]))
    return found


def covered_cells(room: Room, piece: Piece) -> list[Cell]:
    cells, wall, x = [], piece.wall, round(piece.from_m * 100)
    for _ in range(round(piece.tape_m * 100)):
        if x >= round(room.walls[wall - 1].length_m * 100):
            wall, x = wall % len(room.walls) + 1, 0
        cells.append((wall, x))
        x += 1
    return cells


def position(item: RouteWalls, cells: list[Cell], end: PlacedEnd) -> int:
    """How many centimetres of the route lie before an end."""
    at = round((end.at_m or 0.0) * 100)
    on_wall = [i for i, (wall, _) in enumerate(cells) if wall == end.wall]
    clockwise = item.direction == "clockwise"
    return on_wall[0] + sum(1 for i in on_wall if (cells[i][1] < at) == clockwise)


LONG_STOCK = replace(CATALOGUE, profiles=(replace(PROFILE, stock_m=(30.0,)),))


@settings(max_examples=150, deadline=None)
@given(case=cases())
def test_skirting_is_where_the_cells_say(case: tuple[Room, RouteWalls]) -> None:
    room, item = case
    layout = laid(survey_of(room, item, catalogue=LONG_STOCK))
    assume(layout is not None)
    assert layout is not None
    pieces = layout.loops[0].pieces
    expected = [
        g for g in groups(room, route_cells(room, item), item.floor_sections) if g[0] != "blocked" and len(g[1]) >= 25
    ]
    assert [sorted(covered_cells(room, p)) for p in pieces] == [sorted(cells) for _, cells in expected]
    assert [p.floor_section is not None for p in pieces] == [kind != "wall" for kind, _ in expected]
    used = {c for p in pieces for c in covered_cells(room, p)}
    ring = [(w + 1, x) for w, wall in enumerate(room.walls) for x in range(round(wall.length_m * 100))]
    free = [c for c in ring if c not in used]
    spare = sum(len(c) for kind, c in groups(room, free, ()) if kind == "wall" and len(c) >= 25)
    assert layout.rooms[0].spare_wall_m == pytest.approx(spare / 100, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(case=cases())
def test_every_side_of_a_piece_meets_one_thing_and_lengths_add_up(case: tuple[Room, RouteWalls]) -> None:
    room, item = case
    layout = laid(survey_of(room, item))
    assume(layout is not None)
    assert layout is not None
    run = list(layout.loops[0].arms[0].elements)
    assert isinstance(run[0], PlacedEnd)
    assert isinstance(run[-1], PlacedEnd)
    assert all(isinstance(e, Piece) == (i % 2 == 1) for i, e in enumerate(run))
    for before, piece, after in zip(run[::2], run[1::2], run[2::2], strict=False):
        assert isinstance(piece, Piece)
        taken = gained = 0.0
        for side in (before, after):
            name = side.joint if isinstance(side, PlacedJoint) else side.end if isinstance(side, PlacedEnd) else ""
            taken += TAKE_OFF_M[name]
            gained += TAKE_OFF_M[name] if name == "straight" else 0.0
        assert piece.cut_m == pytest.approx(piece.tape_m - taken, abs=1e-6)
        assert 0.0 < piece.cut_m <= 4.0 + 1e-6
        assert piece.heated_m == pytest.approx(piece.cut_m + gained, abs=1e-6)
    total = sum(p.tape_m for p in layout.loops[0].pieces)
    total += sum(e.length_m - 0.4 for e in run if isinstance(e, PlacedCrossing))
    cells = route_cells(room, item)
    start, stop = (position(item, cells, end) for end in (run[0], run[-1]))
    assert total == pytest.approx((stop - start) / 100, abs=1e-6)
    labels = [p.label for p in layout.loops[0].pieces]
    assert len(set(labels)) == len(labels)
    assert layout.rooms[0].heated_length_m == pytest.approx(layout.loops[0].heated_length_m)


@settings(max_examples=100, deadline=None)
@given(case=cases(), shift=st.integers(1, 8))
def test_the_wall_a_survey_starts_with_does_not_matter(case: tuple[Room, RouteWalls], shift: int) -> None:
    room, item = case
    count = len(room.walls)
    shift %= count
    turned = replace(room, walls=room.walls[shift:] + room.walls[:shift])
    renumbered = replace(item, walls=tuple((w - 1 - shift) % count + 1 for w in item.walls))
    one, other = laid(survey_of(room, item)), laid(survey_of(turned, renumbered))
    assert (one is None) == (other is None)
    if one is None or other is None:
        return

    def back(wall: int | None) -> int:
        return ((wall or 0) - 1 + shift) % count + 1

    restored: list[object] = []
    for e in other.loops[0].arms[0].elements:
        if isinstance(e, Piece):
            segments = tuple(replace(s, wall=back(s.wall)) for s in e.segments)
            restored.append(replace(e, wall=back(e.wall), segments=segments, label=""))
        elif isinstance(e, PlacedCrossing):
            restored.append(replace(e, wall=back(e.wall), to_wall=back(e.to_wall)))
        else:
            restored.append(replace(e, wall=back(e.wall)))
    plain = [replace(e, label="") if isinstance(e, Piece) else e for e in one.loops[0].arms[0].elements]
    assert restored == plain
    assert other.rooms[0].heated_length_m == pytest.approx(one.rooms[0].heated_length_m, abs=1e-9)
    assert other.rooms[0].spare_wall_m == pytest.approx(one.rooms[0].spare_wall_m, abs=1e-9)
    areas = [layout.rooms[0].geometry.floor_area_m2 for layout in (one, other) if layout.rooms[0].geometry]
    assert areas[1] == pytest.approx(areas[0], rel=1e-9)
