"""Columns of the tables on heat: what losses are made of, how sure outputs are, comfort beside glazing."""

from __future__ import annotations

from heatloop.report.columns.column import Column, TableSpec
from heatloop.report.columns.column import count_column as _count
from heatloop.report.columns.column import number_column as _number
from heatloop.report.columns.column import text_column as _text

LOSS_BY_KIND = (
    _number("loss_walls_w", "Walls", "W", 0, "part of the heat loss; blank where the loss is stated"),
    _number("loss_windows_w", "Windows", "W", 0, "part of the heat loss, glazed doors included"),
    _number("loss_doors_w", "Doors", "W", 0, "part of the heat loss"),
    _number("loss_floor_w", "Floor", "W", 0, "part of the heat loss"),
    _number("loss_ceiling_w", "Ceiling", "W", 0, "part of the heat loss"),
    _number("loss_bridges_w", "Thermal bridges", "W", 0, "part of the heat loss"),
    _number("loss_air_w", "Outdoor air", "W", 0, "part of the heat loss"),
    _number("loss_reheat_w", "Reheat", "W", 0, "part of the heat loss, after a setback"),
)

_LOSSES = TableSpec(
    "losses",
    "Heat loss, part by part",
    "What each room loses at the outdoor design temperature, and through what; a minus is heat from a warmer side.",
    (
        _text("room", "Room"),
        _text("kind", "Kind"),
        _text("label", "Part", "walls by their number in the survey; who stated a loss"),
        _text("beyond", "Beyond"),
        _number("area_m2", "Area", "m²", 2, "net of openings; of reheat, the floor"),
        _number("u_w_m2k", "U-value", "W/(m² K)", 2),
        _number("temp_beyond_c", "Temperature beyond", "°C", 1),
        _number("factor", "Factor", "", 3, "share of indoor less outdoor that counts, season and recovery in it"),
        Column("watts", "Heat loss", "W", "number", 0),
    ),
)

_SOURCE_HEAT = TableSpec(
    "source_heat",
    "Where the source's heat goes",
    "What the water gives between leaving the source and coming home; the last row is the sum of those above.",
    (
        _text("part", "Where to"),
        _number("watts", "Heat", "W", 1),
        _number("share_percent", "Of it", "%", 1),
        Column("in_output", "In the rooms' output", "", "flag", meaning="counted in the output of the rooms table"),
    ),
)

_GLAZING = TableSpec(
    "glazing",
    "Comfort beside glazing",
    "Each window or glazed door towards the cold. Draught and asymmetry are those of a free pane with nothing warm "
    "before it, told 1 m away: an upper measure where skirting stands, for no published rule tells how much it stops.",
    (
        _text("room", "Room"),
        _count("wall", "Wall"),
        _text("opening", "Opening"),
        _number("sill_m", "Sill", "m", 2, "height of its lower edge above the floor"),
        _number("width_m", "Width", "m", 2),
        _number("height_m", "Height", "m", 2),
        _number("u_w_m2k", "U-value", "W/(m² K)", 2),
        _number("beyond_c", "Beyond", "°C", 1),
        _number("glass_c", "Glass", "°C", 1, "inside surface, middle of the pane: ISO 6946 surface resistance"),
        _text("before", "Before it", "what stands along its width at the floor"),
        _number("covered_m", "Covered", "m", 2, "of its width that this stands along"),
        _number("skirting_w_m", "Skirting gives", "W/m", 0, "per metre of the opening"),
        _number("pane_loss_w_m", "Pane loses", "W/m", 0, "U · height · difference, a convention of our own"),
        Column("made_good", "Made good", "%", "percent", 0, meaning="the first over the second"),
        _number("foot_velocity_m_s", "Velocity at its foot", "m/s", 2, "Heiselberg 1994 in Manz and Frank 2004"),
        _number("velocity_m_s", "Velocity at 1 m", "m/s", 2, "on the floor, the same source"),
        _number("draught_rate_percent", "Draught rate", "%", 0, "dissatisfied, ISO 7730: 20 to 26 °C"),
        _number("asymmetry_k", "Asymmetry", "K", 1, "radiant, 1 m before its middle: ISO 7726"),
        _number("asymmetry_percent", "Feel it", "%", 1, "dissatisfied, ISO 7730, cool wall, to 15 K"),
    ),
)

_RATINGS = TableSpec(
    "ratings",
    "Ratings of the profiles",
    "What the catalogue states and what was identified from it.",
    (
        _text("profile", "Profile"),
        _number("output_w_m", "Rated output", "W/m", 0, "at 50 K, a heating effect divided out"),
        _number("exponent", "Exponent", "", 2),
        _number("k_w_mkn", "Constant", "W/(m Kⁿ)", 4, "with which the channel equations give the rating"),
        _number("link_w_mk", "Link", "W/(m K)", 1, "between neighbouring channels, through the metal"),
        Column("link_stated", "Link known", "", "flag", meaning="the catalogue tells it"),
        _text("arrangement", "Tested", "how water ran through the sample; unknown is taken as one-way"),
        _number("drop_k", "Drop in the test", "K", 1),
        _number("test_re", "Reynolds number in the test", "", 0, "below 4000 the film of the test is known badly"),
        _number("band_percent", "Band", "%", 0, "as the entry states, else what test houses differ by"),
        _number("plate_w_m", "Bare plate", "W/m", 0, "what one side of a flat plate of its height gives at 50 K"),
    ),
)

_BAND = TableSpec(
    "band",
    "How sure the outputs are",
    "The same design at the same flows, with what nobody knows exactly read otherwise, one thing at a time.",
    (
        _text("variant", "Read otherwise"),
        Column("in_band", "Counts", "", "flag", meaning="open for this job; else told to show what it would do"),
        _text("room", "Room"),
        _number("output_w", "Output", "W", 0),
        Column("change_w", "Change", "W", "number", 0, True),
        Column("change_percent", "Change", "%", "number", 1, True),
    ),
)

HEAT_TABLES = (_LOSSES, _SOURCE_HEAT, _GLAZING, _RATINGS, _BAND)
