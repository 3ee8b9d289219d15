"""An error of the input: one line an issue, all of them or a hundred and their number, nothing hidden in a line."""

from __future__ import annotations

import math

import pytest

from heatloop.findings.input_errors import (
    LONGEST,
    MAX_LISTED,
    InputError,
    InputIssue,
    check_given,
    is_number,
    number_faults,
    quoted_value,
)


def test_an_issue_is_one_line_of_place_found_and_required() -> None:
    assert str(InputIssue("a.toml", "room 2", "-1", "above 0")) == "a.toml: room 2: found -1; required: above 0"
    assert str(InputIssue("a.toml", "", "nothing", "a survey")) == "a.toml: found nothing; required: a survey"


@pytest.mark.parametrize("hidden", ["\n", "\r", "\x1b[2J", "\u202e", "\x07", "\u2028"])
def test_what_would_break_the_line_or_hide_in_it_is_written_out(hidden: str) -> None:
    line = str(InputIssue(f"a{hidden}b.toml", f"room{hidden}", hidden, "a name"))
    assert line.isprintable()
    assert line.count(ascii(hidden)[1:-1]) == 3


def test_joiners_inside_words_stay() -> None:
    assert "\u200d" in str(InputIssue("a.toml", "", "\U0001f469\u200d\U0001f527", "a name"))


def test_a_long_text_loses_its_middle() -> None:
    line = str(InputIssue("a.toml", "x" * 3 * LONGEST, "begin" + "y" * 3 * LONGEST + "end", "z"))
    assert len(line) < 2.2 * LONGEST
    assert "found begin" in line
    assert "end; required: z" in line


@pytest.mark.parametrize(("count", "more", "rest"), [(1, 0, 0), (MAX_LISTED, 0, 0), (MAX_LISTED + 7, 0, 7), (3, 5, 5)])
def test_the_first_hundred_have_a_line_and_the_others_are_counted(count: int, more: int, rest: int) -> None:
    issues = [InputIssue("a.toml", f"room {number}", "x", "y") for number in range(count)]
    error = InputError(issues, more=more)
    lines = str(error).splitlines()
    assert error.issues == tuple(issues)
    assert lines[: min(count, MAX_LISTED)] == [str(issue) for issue in issues[:MAX_LISTED]]
    assert lines[min(count, MAX_LISTED) :] == ([f"and {rest} more faults"] if rest else [])


def test_places_that_refer_to_the_same_missing_name_share_a_line() -> None:
    required = 'the name of a build-up; the nearest is "outer wal"'
    walls = [InputIssue("a.toml", f"wall {number}, build_up", '"outer wall"', required) for number in range(1, 6)]
    other = InputIssue("a.toml", "wall 2, length_m", "-1", "above 0")
    error = InputError([walls[0], other, *walls[1:]])
    assert error.issues == (walls[0], other, *walls[1:])
    assert str(error).splitlines() == [
        "a.toml: wall 1, build_up; wall 2, build_up; wall 3, build_up; and 2 more places: "
        f'found "outer wall"; required: {required}',
        str(other),
    ]
    assert str(InputError(walls[:1])) == str(walls[0])


def test_one_missing_name_is_one_line_where_the_requirements_differ() -> None:
    room = 'the name of a room; the nearest is "Hallx"'
    beyond = room.replace("a room;", "a room or a space;")
    wall = InputIssue("a.toml", "wall 1, beyond", '"Hall"', beyond)
    route = InputIssue("a.toml", "route item 1, room", '"Hall"', room)
    assert (
        str(InputError([wall, route]))
        == f'a.toml: wall 1, beyond; route item 1, room: found "Hall"; required: {beyond}'
    )
    others = [
        InputIssue("b.toml", "wall 1, beyond", '"Hall"', beyond),
        InputIssue("a.toml", "loop 1, trunk", '"Hall"', room.replace("a room", "a trunk")),
        InputIssue("a.toml", "route item 2, room", '"Hall"', room.replace("Hallx", "Halls")),
        InputIssue("a.toml", "route item 3, room", '"Hal"', room),
    ]
    assert str(InputError([wall, *others])).splitlines() == [str(issue) for issue in (wall, *others)]


def test_one_unknown_key_is_one_line() -> None:
    sure, near = 'the key "depth_m"', 'a key; the nearest is "depth_m"'
    issues = [
        InputIssue("a.toml", f"loop {number}", 'the key "drop_m"', sure if number < 3 else near)
        for number in range(1, 5)
    ]
    places = "loop 1; loop 2; loop 3; and 1 more place"
    assert str(InputError(issues)) == f'a.toml: {places}: found the key "drop_m"; required: {sure}'
    other = InputIssue("a.toml", "loop 5", 'the key "drop"', near)
    assert len(str(InputError([*issues, other])).splitlines()) == 2


def test_the_same_value_in_two_places_is_two_slips() -> None:
    issues = [InputIssue("a.toml", f"wall {number}, length_m", "-1", "above 0") for number in (1, 2)]
    assert str(InputError(issues)).splitlines() == [str(issue) for issue in issues]


def test_arguments_of_another_type_are_refused_together() -> None:
    check_given("size", survey=("a", str, "a path"), count=(1, int | float, "a number"))
    with pytest.raises(InputError) as caught:
        check_given("size", survey=(1, str, "a path"), count=("1", int | float, "a number"))
    assert str(caught.value).splitlines() == [
        "size: survey: found 1; required: a path",
        'size: count: found "1"; required: a number',
    ]


@pytest.mark.parametrize("value", [True, math.nan, math.inf, "1", None, 1j, 10**400])
def test_what_is_no_finite_number(value: object) -> None:
    assert not is_number(value)
    (fault,) = number_faults("simulate", {"flow": value, "other": 1.5}, "a number of K")
    assert (fault.place, fault.required) == ("flow", "a number of K")


def test_values_are_shown_on_one_short_line() -> None:
    assert quoted_value("Study") == '"Study"'
    assert quoted_value([1, 2]) == "[1, 2]"
    assert quoted_value({"a": "b\nc"}) == "{'a': 'b\\nc'}"
    assert len(quoted_value(list(range(1000)))) == 60
