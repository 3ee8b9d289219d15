"""The table of figures, without measuring any."""

from __future__ import annotations

from tests.benchmarks.figures import table


def test_a_ratio_just_beyond_its_goal_is_printed_with_the_decimals_that_show_it() -> None:
    name = "`heatloop report`: all documents"
    assert f"| {name} | 1.003 | 1 | no |" in table({name: 1.0032})
    assert f"| {name} | 1.00 | 1 | yes |" in table({name: 0.9968})
    assert f"| {name} | 1.01 | 1 | no |" in table({name: 1.0071})
