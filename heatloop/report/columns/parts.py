"""Columns of what is ordered, cut and laid: parts, pieces, cuts, joints, movement, first fix, a quotation."""

from __future__ import annotations

from heatloop.report.columns.column import Column, TableSpec, count_column, number_column, text_column

_LOOP = text_column("loop", "Loop")
_ROOM = text_column("room", "Room")
_ARM = count_column("arm", "Arm", "the second arm of a loop fed from the middle is 2")
_WALL = count_column("wall", "Wall")
_PIPE = text_column("pipe", "Pipe")
_NOTE = text_column("note", "Note")
_NOTES = (text_column("topic", "Topic"), _NOTE, text_column("source", "Source"))
_LEFT = "from the left-hand end of the wall as you face it"

_PARTS = TableSpec(
    "parts",
    "Parts",
    "What to order, in the packs the catalogue has.",
    (
        text_column("item", "Item"),
        text_column("kind", "Kind"),
        text_column("unit", "Unit"),
        Column("net_quantity", "Needed", "", "figure", meaning="what the design holds, in the unit beside it"),
        Column("allowance", "Allowance", "", "figure", meaning="waste and spares on top"),
        Column("order_quantity", "Order", "", "figure", meaning="the least that can be bought for both"),
        text_column("pack", "Pack"),
        count_column("packs", "Packs"),
        text_column("for_loops", "For loops"),
        Column("estimate", "Estimate", "", "flag", meaning="some of it from rooms before their survey"),
        _NOTE,
    ),
)
_PIECES = TableSpec(
    "pieces",
    "Pieces for second fix",
    "One row a piece, left and right as one faces the wall.",
    (
        text_column("label", "Label"),
        _LOOP,
        _ARM,
        _ROOM,
        _WALL,
        number_column("tape_m", "Tape", "m", 3, "length of wall that it covers"),
        number_column("cut_mm", "Cut", "mm", 1, "length to saw"),
        text_column("left_end", "Left end", "what its left-hand end meets"),
        text_column("right_end", "Right end", "what its right-hand end meets"),
        text_column("free_end", "Free end", "the end left its gap, the other is fixed first"),
        text_column("profile", "Profile"),
        text_column("laid", "Laid"),
        text_column("machining", "Machining"),
        text_column("fixings_mm", "Fixings, mm", "positions from the left-hand end of the piece"),
    ),
)
_CUTS = TableSpec(
    "cuts",
    "Cuts",
    "Every cut, bar by bar, from the left end.",
    (
        count_column("bar", "Bar"),
        text_column("profile", "Profile"),
        number_column("stock_mm", "Stock", "mm", 0),
        text_column("from", "From", "new stock, or an offcut on hand"),
        count_column("cut", "Cut"),
        text_column("label", "Piece"),
        number_column("start_mm", "Starts at", "mm", 1),
        number_column("length_mm", "Length", "mm", 1),
        number_column("remainder_mm", "Remainder", "mm", 1, "what is left of the bar after its last cut"),
        text_column("remainder_is", "It is"),
    ),
)
_JOINTS = TableSpec(
    "joints",
    "Joints, crossings and ends",
    "In water order, each with the reason it stands there.",
    (
        _LOOP,
        _ARM,
        count_column("position", "Place", "order along the water"),
        text_column("kind", "Kind"),
        text_column("joint", "Entry", "of the catalogue"),
        _ROOM,
        _WALL,
        number_column("at_m", "At", "m", 3, _LEFT),
        number_column("turn_deg", "Turn", "°", 1),
        count_column("channels", "Channels"),
        text_column("before", "After piece", "the piece the water comes from"),
        text_column("after", "Before piece", "the piece the water goes to"),
        text_column("reason", "Reason"),
    ),
)
_MOVEMENT = TableSpec(
    "movement",
    "Movement",
    "One row a straight: how much it grows, where it is held and where it slides.",
    (
        text_column("straight", "Straight"),
        _LOOP,
        _ROOM,
        _WALL,
        number_column("length_m", "Length", "m", 2),
        number_column("growth_mm", "Growth", "mm", 1, "from fitting to the hottest water"),
        text_column("free_end", "Free end", "as one faces the wall"),
        text_column("held_end", "Held"),
        number_column(
            "gap_mm", "Gap", "mm", 1, "to leave at each free end on a fitting day of the temperature assumed"
        ),
        Column("verdict", "Verdict", "", "verdict"),
        text_column("reason", "Reason"),
        text_column("remedy", "What would mend it"),
    ),
)
_GAPS = TableSpec(
    "gaps",
    "Gaps by fitting temperature",
    "The gap to leave at each free end; a dash where the profile cannot be that cold or warm.",
    (
        text_column("straight", "Straight"),
        _LOOP,
        text_column("free_end", "Free end"),
        *(number_column(f"at_{temp_c}_c_mm", f"At {temp_c} °C", "mm", 1) for temp_c in range(0, 31, 5)),
    ),
)
_PIPES = TableSpec(
    "pipes",
    "Plain pipe",
    "What is laid before the profile; lengths of one pipe, the total of all.",
    (
        text_column("use", "Use"),
        _LOOP,
        _ROOM,
        _WALL,
        number_column("from_m", "From", "m", 3, _LEFT),
        count_column("to_wall", "To wall"),
        number_column("to_m", "To", "m", 3, _LEFT),
        text_column("past", "Past"),
        _PIPE,
        count_column("pipes", "Pipes"),
        number_column("length_m", "Length", "m", 2, "of one pipe"),
        number_column("first_fix_m", "Left over", "m", 2, "of one pipe, cut off at second fix"),
        number_column("total_m", "Total", "m", 2, "of all its pipes, with what is left over"),
    ),
)
_PARTS_NOTES = TableSpec("notes", "Assumed of parts", "What was assumed in counting, cutting and movement.", _NOTES)
_FIRST_FIX = TableSpec(
    "first_fix",
    "First fix",
    "One row a pipe: where it must stand before the floors close.",
    (
        text_column("mark", "Mark", "as on the drawing"),
        _ROOM,
        number_column("level_m", "Level", "m", 2),
        _WALL,
        number_column("from_left_m", "From left", "m", 3, f"to the centre of the pipe, {_LEFT}"),
        text_column("corner", "Nearer corner"),
        number_column("from_corner_m", "From it", "m", 3, "to the centre of the pipe, from the nearer corner"),
        number_column("height_m", "Height", "m", 3, "above the finished floor, where it meets the profile"),
        number_column("off_wall_mm", "Off the wall", "mm", 0, "from the finished wall to the centre of the pipe"),
        _PIPE,
        number_column("outside_mm", "Outside", "mm", 1),
        number_column("hole_mm", "Hole", "mm", 0, "in the floor"),
        text_column("use", "Use"),
        _LOOP,
        text_column("channel", "Channel"),
        text_column("direction", "Direction", "of the water"),
        text_column("past", "Past"),
        number_column(
            "drop_m", "Drop", "m", 2, "at this side of a crossing; a dash where the survey states the length"
        ),
        number_column("left_over_m", "Left over", "m", 2, "above the height, cut off at second fix"),
        text_column("piece", "Piece"),
    ),
)
_PIPE_RUNS = TableSpec(
    "pipe_runs",
    "Runs of pipe",
    "One row a set of pipes side by side and the marks that it joins.",
    (
        count_column("run", "Run"),
        text_column("use", "Use"),
        _LOOP,
        text_column("what", "What"),
        text_column("from_marks", "From marks"),
        text_column("to_marks", "To marks"),
        _PIPE,
        count_column("pipes", "Pipes"),
        number_column("length_m", "Length", "m", 2, "of one pipe"),
        count_column("drops", "Drops"),
        number_column("drop_m", "Drop", "m", 2, "each"),
        number_column("left_over_m", "Left over", "m", 2, "of all its pipes"),
        number_column("total_m", "Total", "m", 2, "of all its pipes"),
    ),
)
_PIPE_TOTALS = TableSpec(
    "pipe_totals",
    "Pipe in all",
    "One row a pipe of the catalogue.",
    (
        _PIPE,
        number_column("outside_mm", "Outside", "mm", 1),
        number_column("lagged_mm", "Outside lagged", "mm", 1),
        number_column("trunks_m", "Trunks", "m", 2),
        number_column("tails_m", "Tails", "m", 2),
        number_column("crossings_m", "Crossings", "m", 2),
        number_column("left_over_m", "Left over", "m", 2),
        number_column("waste_m", "Waste", "m", 2, "lost in cutting"),
        number_column("total_m", "Total", "m", 2),
    ),
)
_FIRST_FIX_NOTES = TableSpec("first_fix_notes", "Notes on first fix", "What was assumed, and what is crowded.", _NOTES)
_QUOTATION = TableSpec(
    "quotation",
    "Quotation",
    "The parts list priced, without waste and as ordered.",
    (
        text_column("item", "Item"),
        text_column("kind", "Kind"),
        text_column("pack", "Pack"),
        Column("quantity_net", "Needed", "", "figure", meaning="counts what the price is per"),
        Column("quantity_order", "Ordered", "", "figure", meaning="counts what the price is per"),
        text_column("unit", "Unit"),
        text_column("per", "Price per"),
        number_column("price", "Price", "", 2, "a dash where the file has none"),
        number_column("discount_percent", "Discount", "%", 1),
        number_column("cost_net", "Cost, needed", "", 2),
        number_column("cost_order", "Cost, ordered", "", 2),
        text_column("currency", "Currency"),
        number_column("labour_min", "Labour", "min", 0),
        Column("estimate", "Estimate", "", "flag", meaning="some of it from rooms before their survey"),
        _NOTE,
    ),
)

PARTS_TABLES = (
    _PARTS, _PIECES, _CUTS, _JOINTS, _MOVEMENT, _GAPS, _PIPES, _PARTS_NOTES, _FIRST_FIX, _PIPE_RUNS, _PIPE_TOTALS,
    _FIRST_FIX_NOTES, _QUOTATION,
)  # fmt: skip
