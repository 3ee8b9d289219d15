"""A live design shows what sizing its survey gives, whatever came before, and says why where there is none."""

import asyncio
import re

import numpy as np
import pytest

import heatloop as hl
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "survey.toml"
ANNEXE = DATA / "mill-annexe" / "survey.toml"


@pytest.fixture(scope="module")
def live() -> hl.InteractiveDesign:
    """After a walk of changes of every kind."""
    live = hl.InteractiveDesign(LODGE)
    live.change(flow_temp_c=55.0)
    live.change(loops_off=frozenset({"Bedrooms"}))
    live.change(heat_losses_w={"Hall": 400.0})
    live.change(profiles={"Nursery": "three-channel 175"})
    live.change(outdoor_c=1.0, delta_t_k=6.0)
    live.change(loops_off=frozenset())
    return live


def test_after_any_walk_it_shows_what_sizing_its_survey_gives(live: hl.InteractiveDesign) -> None:
    assert live.design is not None
    assert live.survey is not None
    fresh = hl.size(live.survey)
    for table, columns in {"rooms": ["heat_to_rooms_w", "margin_w"], "loops": ["flow_l_h", "return_temp_c"]}.items():
        shown, sized = getattr(live.design, table)[columns], getattr(fresh, table)[columns]
        assert np.allclose(shown, sized, rtol=1e-6, atol=1e-6)
    assert live.design.verdict == fresh.verdict
    assert live.survey.room("Hall").heat_loss_w == 400.0
    assert live.survey.loop("Nursery").profile == "three-channel 175"
    assert live.solves == 6


def test_the_page_has_the_figures_of_the_design(live: hl.InteractiveDesign) -> None:
    assert live.design is not None
    page = live.markup()
    assert live.design.verdict.headline in page
    for row in live.design.rooms.to_dict("records"):
        assert f">{row['margin_w']:+.0f}<" in page.replace(">0<", ">+0<")
    assert page.count("<svg") == len(live.design.levels_m)
    assert len(re.findall(r'<th scope="row">', page)) == len(live.design.rooms) + len(live.design.loops)


def test_values_without_a_design_are_explained_and_the_next_change_works() -> None:
    live = hl.InteractiveDesign(ANNEXE)
    live.change(flow_temp_c=15.0)
    assert live.design is None
    assert "found 15" in " ".join(live.faults)
    assert "No design at these values" in live.markup()
    with pytest.raises(ValueError, match="no design to keep"):
        live.keep("too cold")
    with pytest.raises(ValueError, match="no survey to save"):
        live.save("nowhere.toml")
    live.change(flow_temp_c=60.0)
    assert live.faults == ()
    assert live.design is not None


def test_kept_designs_stand_side_by_side_and_the_shown_one_is_saved(tmp_path) -> None:
    live = hl.InteractiveDesign(ANNEXE)
    live.keep("as surveyed")
    live.change(flow_temp_c=74.0)
    live.keep("warmer")
    table = live.comparison().set_index("design")
    assert list(table.index) == ["as surveyed", "warmer"]
    assert table.loc["warmer", "flow_temp_c"] == 74.0
    assert table.loc["warmer", "min_margin_w"] > table.loc["as surveyed", "min_margin_w"]
    saved = hl.size(live.save(tmp_path / "warmer.toml"))
    assert saved.rooms["heat_to_rooms_w"].to_numpy() == pytest.approx(
        live.design.rooms["heat_to_rooms_w"].to_numpy(), rel=1e-6
    )


def test_the_controls_change_the_design() -> None:
    widgets = pytest.importorskip("ipywidgets")
    live = hl.InteractiveDesign(ANNEXE)
    flow, drop, outdoor, more, _, shown = live.widget.children
    before = shown.value
    flow.value = 62.0
    assert live.values.flow_temp_c == 62.0
    assert shown.value == live.markup() != before
    drop.value, outdoor.value = 7.0, 2.0
    assert (live.values.delta_t_k, live.values.outdoor_c) == (7.0, 2.0)
    loops, losses = more.children
    room = losses.children[0]
    room.value = room.value + 100.0
    assert list(live.values.heat_losses_w.values()) == [room.value]
    tick = loops.children[0].children[0]
    assert isinstance(tick, widgets.Checkbox)
    tick.value = False
    assert live.values.loops_off == {live.base.loops[0].name}
    tick.value = True
    assert live.values.loops_off == frozenset()


def test_the_checks_may_follow_later() -> None:
    """The page shows all but the verdict meanwhile; the earlier one keeps its place, unseen."""
    live = hl.InteractiveDesign(ANNEXE)
    before = live.markup()
    live.change(check=False, flow_temp_c=60.0)
    assert not live.is_checked
    page = live.markup()
    assert "… checks follow" in page
    assert 'style="visibility:hidden"' in page
    assert "… checks follow" not in before
    assert live.design is not None
    live.check()
    assert live.is_checked
    assert live.design.verdict.headline in live.markup()
    whole = hl.InteractiveDesign(ANNEXE)
    whole.change(flow_temp_c=60.0)
    assert whole.markup() == live.markup()


def test_checks_wait_until_no_other_value_comes() -> None:
    """With an event loop, as in a notebook: three values at once are sized, the last of them is checked."""
    live, checked = hl.InteractiveDesign(ANNEXE), []
    flow, _, _, _, _, shown = live.widget.children
    check = live.check
    live.check = lambda: (checked.append(live.values.flow_temp_c), check())  # type: ignore[method-assign]

    async def drag() -> None:
        for flow_temp_c in (62.0, 61.0, 60.0):
            flow.value = flow_temp_c
            assert "… checks follow" in shown.value
        while "… checks follow" in shown.value:
            await asyncio.sleep(0.02)

    asyncio.run(drag())
    assert checked == [60.0]
    assert shown.value == live.markup()


def test_designs_are_kept_by_a_button() -> None:
    live = hl.InteractiveDesign(ANNEXE)
    flow, _, _, _, keeping, _ = live.widget.children
    row, kept = keeping.children
    name, button = row.children
    assert kept.value == ""
    button.click()
    flow.value = 62.0
    name.value = "<b>cooler</b>"
    button.click()
    assert list(live.kept) == ["70 °C, outdoor -4 °C", "<b>cooler</b>"]
    assert "&lt;b&gt;cooler&lt;/b&gt;" in kept.value
    assert kept.value.count('<th scope="row">') == 2
    rows = live.comparison().to_dict("records")
    assert all(f"{row['min_margin_w']:+.0f}" in kept.value and row["verdict"] in kept.value for row in rows)
    live.change(flow_temp_c=15.0)
    button.click()
    assert kept.value.startswith("no design to keep: ")
    assert len(live.kept) == 2


def test_an_unknown_value_is_refused() -> None:
    with pytest.raises(TypeError, match="warmth"):
        hl.InteractiveDesign(ANNEXE).change(warmth=3.0)
