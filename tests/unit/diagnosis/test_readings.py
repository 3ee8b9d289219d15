"""Every quantity that can be read says what it is."""

from __future__ import annotations

from heatloop.diagnosis.readings import HEADS, PERCENT, QUANTITIES


def test_every_quantity_says_what_it_is():
    for name, quantity in QUANTITIES.items():
        assert quantity.meaning
        assert quantity.minimum < quantity.maximum
        assert quantity.usual_error.endswith("%") == (name in PERCENT)
    assert HEADS in QUANTITIES
