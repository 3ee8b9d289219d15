"""A tracing saved and restored is the same; a file that was altered is refused at the place of the fault."""

import copy
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import heatloop as hl
from heatloop.survey.tracing.model import ScaleLine, TracedOpening, TracedPage, TracedRoom, Tracing
from heatloop.survey.tracing.rooms import traced_rooms
from heatloop.survey.tracing.saved import tracing_of, tracing_values

coordinate = st.floats(0.0, 900.0)
points = st.tuples(coordinate, coordinate)
levels = st.floats(-5.0, 20.0)
pixels = st.floats(0.1, 8.0)
names = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=20)


@st.composite
def pages(draw, number):
    spots = draw(st.lists(points, min_size=3, max_size=8, unique=True))
    named = draw(st.lists(names, max_size=3, unique=True))
    rooms = tuple(TracedRoom(f"{number} {name}", draw(levels), tuple(spots), draw(pixels)) for name in named)
    openings = tuple(
        TracedOpening(draw(st.sampled_from(["door", "window", "glazed door"])), room.level_m, room.walls_px[0], 1.0)
        for room in rooms
    )
    scale = ScaleLine(((0.0, 0.0), (draw(st.floats(50.0, 900.0)), 10.0)), draw(st.floats(0.5, 90.0)), draw(pixels))
    return TracedPage(number, 900, 900, draw(st.sampled_from([None, scale])), rooms, openings)


def blank_of(tracing):
    return Tracing(tuple(replace(page, scale=None, rooms=(), openings=()) for page in tracing.pages))


@given(pages(1), pages(2), st.tuples(levels, levels))
def test_a_tracing_comes_back_as_it_was(first, second, in_hand):
    tracing = Tracing((first, second))
    text = json.dumps(tracing_values(tracing, in_hand))
    assert tracing_of(json.loads(text), blank_of(tracing), (0.0, 0.0), "plan.json") == (tracing, in_hand)


ROOM = TracedRoom("Hall", 0.0, ((0.0, 0.0), (0.0, 300.0), (400.0, 300.0)), 1.0)
TRACING = Tracing((
    TracedPage(1, 900, 900, ScaleLine(((0.0, 0.0), (800.0, 0.0)), 8.0, 1.0), (ROOM,),
               (TracedOpening("door", 0.0, ((0.0, 100.0), (0.0, 184.0)), 1.0),)),
))  # fmt: skip
VALUES = tracing_values(TRACING, (0.0,))


def test_pages_that_are_new_are_blank():
    more = Tracing((TracedPage(3, 500, 500), *blank_of(TRACING).pages))
    tracing, in_hand = tracing_of(VALUES, more, (5.2, 9.9), "plan.json")
    assert tracing == Tracing((more.pages[0], TRACING.pages[0]))
    assert in_hand == (5.2, 0.0)


def altered(path, value):
    values = copy.deepcopy(VALUES)
    *way, last = path
    held = values
    for key in way:
        held = held[key]
    held[last] = value
    return values


PAGE = ("pages", 0)


@pytest.mark.parametrize(
    ("path", "value", "found"),
    [
        (("version",), 2, "version: found 2; required: 1"),
        (("pages",), "all", 'pages: found "all"'),
        ((*PAGE, "page"), 2, "a tracing of page 2 too"),
        ((*PAGE, "page"), 1.5, "a whole number"),
        ((*PAGE, "width_px"), 800, "page 1 as 800 x 900 pixels"),
        ((*PAGE, "level_m"), "up", "level_m"),
        ((*PAGE, "more"), 1, "required: the keys page"),
        ((*PAGE, "scale", "length_m"), 0, "length_m: found 0"),
        ((*PAGE, "scale", "ends_px"), [[0, 0], [1, 1]], "too near each other"),
        ((*PAGE, "rooms"), [VALUES["pages"][0]["rooms"][0]] * 2, "a name twice"),
        ((*PAGE, "rooms", 0, "name"), "a\nb", "a name in one line"),
        ((*PAGE, "rooms", 0, "corners_px"), [[0, 0], [1, 1]], "2 corners"),
        ((*PAGE, "rooms", 0, "corners_px"), [[0, 0], [1, 1], [9e9, 3]], "a number from -900 to 1800"),
        ((*PAGE, "rooms", 0, "corners_px"), [[0, 0], [1, 1], [3]], "two numbers for each point"),
        ((*PAGE, "rooms", 0, "click_px"), float("nan"), "click_px"),
        ((*PAGE, "openings", 0, "kind"), "hatch", "one of door, window, glazed door"),
        ((*PAGE, "openings", 0, "ends_px"), [[50, 50], [60, 60]], "a door beside every wall"),
        ((*PAGE, "openings", 0, "ends_px"), [[0, 100], [0, 100]], "two points apart from each other"),
    ],
)
def test_an_altered_file_is_refused(path, value, found):
    with pytest.raises(hl.InputError) as error:
        tracing_of(altered(path, value), blank_of(TRACING), (0.0,), "plan.json")
    assert found in str(error.value)
    assert len(error.value.issues) == 1
    assert str(error.value).startswith("plan.json: ")


@pytest.mark.parametrize("values", [None, [], {"pages": []}, 3])
def test_what_is_no_tracing_is_refused(values):
    with pytest.raises(hl.InputError, match="the keys version, pages"):
        tracing_of(values, blank_of(TRACING), (0.0,), "plan.json")


anything = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**400), 10**400) | st.floats() | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=4,
)


def places_of(values, path=()):
    """Every place in nested lists and dictionaries."""
    items = values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    for key, value in items:
        yield (*path, key)
        yield from places_of(value, (*path, key))


@given(st.sampled_from(list(places_of(VALUES))), anything)
def test_whatever_a_file_holds_it_is_read_or_refused(path, value):
    try:
        tracing, _ = tracing_of(altered(path, value), blank_of(TRACING), (0.0,), "plan.json")
    except hl.InputError as error:
        lines = str(error).splitlines()
    else:
        lines = ["read"]
        traced_rooms(tracing, "plan.pdf", 0.0)
    assert len(lines) == 1
