"""The demo house: a draft that is not ready, and the design that came of it."""

from __future__ import annotations

import heatloop as hl


def test_the_design_is_ready_and_all_its_rooms_are_warm(alder_lodge: hl.Design) -> None:
    assert alder_lodge.verdict.headline == "Ready for installation: all limits are met."
    assert (alder_lodge.rooms["margin_w"] > 0.0).all()
    assert alder_lodge.summary["pump_head_kpa"] < alder_lodge.survey.source.pump.constant_kpa


def test_the_draft_is_the_same_house_and_not_ready(alder_lodge: hl.Design, alder_draft: hl.Design) -> None:
    assert alder_draft.verdict.headline == "Not ready for installation: Kitchen-diner is 150 W short of its heat loss."
    assert len(alder_draft.verdict.cautions) == 10
    assert alder_draft.survey.rooms == alder_lodge.survey.rooms
    assert alder_draft.survey.spaces == alder_lodge.survey.spaces
