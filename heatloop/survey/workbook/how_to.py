"""Text of the first sheet of a workbook."""

from __future__ import annotations

from collections.abc import Mapping

COMMON = (
    "Each sheet is a list: a row for each item, a column for each key. Row 2 has the units; entries begin in row 3.",
    "The comment on a heading states what is required and what a blank cell means. Do not change the headings.",
    "The name of a room or loop also applies to the rows below it, until another name is entered.",
    "Separate several values in one cell by semicolons: 1; 2; 3. Decimals have a point.",
    "The column Note is for your own notes: it is kept and not read.",
)

HOW_TO: Mapping[str, tuple[str, ...]] = {
    "survey": (
        "How to fill in this survey",
        "Rooms: one row for each room, with its temperature and the spaces below and above it.",
        "Walls: walk round the room clockwise, seen from above, with the wall on your left hand. Number the walls from "
        "1 and measure each from its left-hand end as you face it. The adjacent space (beyond) is outdoors, ground, "
        "neighbour, a room or a space.",
        "turn_deg is the turn at the end of a wall: blank for an ordinary inside corner, -90 for an outside corner, 0 "
        "where a straight wall continues in another row because its adjacent space changes.",
        "Openings, Obstacles, Covered: doors and windows, objects and furniture at a wall; start_m is from its left "
        "end.",
        "Loops and Route: a loop runs along walls of rooms in water order; pipe between them has a length_m.",
        "Check it with: heatloop check FILE.xlsx --mark. The cells with an error are then red in a copy.",
        *COMMON,
    ),
    "catalogue": (
        "How to fill in this catalogue",
        "Profiles and their channels, joints, ends, pipes, valves and counting rules.",
        "Enter figures of data sheets and test reports, and name these under source. TRUE under invented marks figures "
        "that were not measured.",
        *COMMON,
    ),
}
