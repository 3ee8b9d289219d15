"""Names of columns carry their words and unit."""

from __future__ import annotations

from heatloop.text.units import heading_and_unit


def test_names_carry_words_and_unit() -> None:
    assert heading_and_unit("dose_ml_per_l") == ("Dose", "ml/l", 1)
    assert heading_and_unit("kv_m3_h") == ("Kv", "m³/h", 3)
    assert heading_and_unit("w") == ("W", "", None)
