"""The picture for sliders: what moves is moved, what stands is kept, and it says what the trial says."""

import io
from dataclasses import replace
from timeit import repeat

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.image import imread

import heatloop as hl
from heatloop.physics.water import plain_water
from heatloop.report.plans.interactive_loop import InteractiveLoopPlan
from heatloop.workflows.one_loop.single_loop import SingleLoop
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


@pytest.fixture(scope="module")
def laid(lodge):
    return {ends_at_m: SingleLoop.from_survey(lodge, "Bedrooms", ends_at_m) for ends_at_m in (2.4, 4.4)}


@pytest.fixture
def picture(laid):
    return InteractiveLoopPlan(laid[4.4].at(70.0, 5.0))


def words(picture):
    return [artist.get_text() for artist in picture._moving if hasattr(artist, "get_text")]


def test_it_says_what_the_trial_found(laid, picture):
    tried = laid[2.4].at(50.0, 7.0)
    picture.changed(tried)
    assert [room for room, heat_w in tried.margin_w.items() if heat_w < 0] == ["Main bedroom"]
    said = words(picture)
    assert f"Main bedroom is {-tried.margin_w['Main bedroom']:.0f} W short" in said
    assert f"Landing\n{tried.margin_w['Landing']:.0f} W margin" in said
    assert f"output {tried.room_w['Box room']:.0f} W" in said
    metres = laid[2.4].layout.loop("Bedrooms").heated_length_m
    flow_l_h = 3.6e6 * tried.flow_kg_s / float(plain_water().density_kg_m3(50.0))
    assert f"50.0 °C flow, 43.0 °C return, {flow_l_h:.0f} l/h through {metres:.1f} m of skirting" in said


@pytest.mark.parametrize(
    ("flow_temp_c", "title"), [(60.0, "Every room of the loop is warm"), (40.0, "All 3 rooms are short, by ")]
)
def test_the_title_counts_the_rooms(laid, picture, flow_temp_c, title):
    picture.changed(laid[4.4].at(flow_temp_c, 7.0))
    assert any(text.startswith(title) for text in words(picture))


def test_bars_and_skirting_follow_the_trial(laid, picture):
    tried = laid[4.4].at(45.0, 7.0)
    picture.changed(tried)
    assert [bar.get_width() for bar in picture._got.values()] == pytest.approx(list(tried.room_w.values()))
    assert sorted(picture._out.get_array()) == pytest.approx(sorted(temps[0] for temps in tried.piece_c.values()))
    assert sorted(picture._back.get_array()) == pytest.approx(sorted(temps[-1] for temps in tried.piece_c.values()))

    def drawn_m(lines):
        return sum(np.hypot(*(path[-1] - path[0])) for path in lines.get_segments())

    long_m = drawn_m(picture._out)
    picture.changed(laid[2.4].at(45.0, 7.0))
    assert long_m - drawn_m(picture._out) == pytest.approx(2.0, abs=0.02)


def test_a_picture_depends_on_its_trial_alone(laid, picture):
    """Nothing of the trial before is left on it, and what does not move is there each time."""
    first, other = (laid[ends_at_m].at(50.0, 7.0) for ends_at_m in (2.4, 4.4))
    before = picture.changed(first)
    between = picture.changed(other)
    assert between != before
    assert picture.changed(first) == before
    pixels = [imread(io.BytesIO(png)) for png in (before, between)]
    assert pixels[0].shape == pixels[1].shape
    still = np.all(pixels[0] == pixels[1], axis=2).mean()
    assert 0.9 < still < 1.0


def test_no_figure_is_left_to_show_itself(laid):
    before = plt.get_fignums()
    InteractiveLoopPlan(laid[2.4].at(50.0, 7.0)).changed(laid[2.4].at(45.0, 7.0))
    assert plt.get_fignums() == before


def test_one_way_has_no_return():
    annexe = SingleLoop.from_survey(hl.read_survey(DATA / "mill-annexe" / "survey.toml"), "Annexe")
    picture = InteractiveLoopPlan(annexe.at(75.0, 10.0))
    picture.changed(annexe.at(55.0, 10.0))
    assert len(picture._out.get_segments()) > 0
    assert len(picture._back.get_segments()) == 0


def test_rooms_on_two_levels_are_refused(lodge, laid):
    upstairs = [replace(room, level_m=5.3) if room.name == "Box room" else room for room in lodge.rooms]
    apart = SingleLoop.from_survey(replace(lodge, rooms=tuple(upstairs)), "Bedrooms")
    with pytest.raises(ValueError, match="several levels"):
        InteractiveLoopPlan(apart.at(60.0, 7.0))


def test_a_move_is_quicker_than_a_design_with_a_new_figure(lodge, laid, picture):
    def anew():
        return hl.size(lodge).plots.rooms()._repr_html_()

    def move():
        return picture.changed(laid[4.4].at(49.0, 7.0))

    move_s, anew_s = (min(repeat(work, number=1, repeat=3)) for work in (move, anew))
    assert move_s < anew_s
