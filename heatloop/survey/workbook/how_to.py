"""What the first sheet of a workbook says."""

from __future__ import annotations

from collections.abc import Mapping

COMMON = (
    "Each sheet is a list: a row for each thing, a column for each key. Row 2 has the units; rows begin at row 3.",
    "The comment on a heading says what is required and what a blank cell means. Headings stay as they are.",
    "The name of what a row belongs to counts for the rows below it too, until another is written.",
    "Several values in one cell are parted by semicolons: 1; 2; 3. Decimals have a point.",
    "The column Note is yours: it is kept and not read.",
)

HOW_TO: Mapping[str, tuple[str, ...]] = {
    "survey": (
        "How to fill in this survey",
        "Rooms: one row each, with its temperature and what is below and above it.",
        "Walls: walk round the room clockwise, seen from above, with the wall on your left hand. Number the walls from "
        "1 and tape each from its left-hand end as you face it. Beyond it lies outdoors, ground, neighbour, a room or "
        "a space.",
        "turn_deg is the turn at the end of a wall: blank for an ordinary inside corner, -90 for an outside corner, 0 "
        "where a straight wall goes on in another row because another room lies behind it.",
        "Openings, Obstacles, Covered: what stands in or against a wall; start_m counts from the left-hand end of it.",
        "Loops and Route: a loop runs along walls of rooms in the order of the water; pipe between has a length_m.",
        "Check it with: heatloop check FILE.xlsx --mark. The cells with an error are then red in a copy.",
        *COMMON,
    ),
    "catalogue": (
        "How to fill in this catalogue",
        "Profiles and their channels, what joins and ends them, pipes, valves and what is counted for each.",
        "Enter figures of data sheets and test reports, and name these under source. TRUE under invented marks figures "
        "that nobody has measured.",
        *COMMON,
    ),
}
