"""Safety notices: chosen by their titles, each once and in one order."""

from __future__ import annotations

import pytest

from heatloop.findings.safety import SAFETY_NOTICES, notice_titles, notices_for


def test_notices_come_once_and_in_the_order_of_all() -> None:
    titles = [notice.title for notice in SAFETY_NOTICES]
    assert len(set(titles)) == len(titles)
    assert notices_for(reversed(titles + titles)) == SAFETY_NOTICES
    assert notices_for([titles[3], titles[0]]) == (SAFETY_NOTICES[0], SAFETY_NOTICES[3])
    assert notices_for([]) == ()


def test_an_unknown_title_is_named() -> None:
    with pytest.raises(KeyError, match="no safety notice has the title 'Sunburn'"):
        notices_for(["Pressure", "Sunburn"])


def test_every_title_can_stand_in_a_cell() -> None:
    titles = tuple(notice.title for notice in SAFETY_NOTICES)
    assert notice_titles("; ".join(titles)) == titles
