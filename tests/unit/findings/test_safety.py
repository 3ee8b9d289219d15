"""Safety notices: chosen by their titles, each once and in one order."""

from __future__ import annotations

import pytest

from heatloop.findings.safety import CAUTIONS, cautions_for, notice_titles


def test_notices_come_once_and_in_the_order_of_all() -> None:
    titles = [notice.title for notice in CAUTIONS]
    assert len(set(titles)) == len(titles)
    assert cautions_for(reversed(titles + titles)) == CAUTIONS
    assert cautions_for([titles[3], titles[0]]) == (CAUTIONS[0], CAUTIONS[3])
    assert cautions_for([]) == ()


def test_an_unknown_title_is_named() -> None:
    with pytest.raises(KeyError, match="no safety notice has the title 'Sunburn'"):
        cautions_for(["Pressure", "Sunburn"])


def test_every_title_can_stand_in_a_cell() -> None:
    titles = tuple(notice.title for notice in CAUTIONS)
    assert notice_titles("; ".join(titles)) == titles
