"""A plan on paper, traced as a hand does it, gives the rooms, the lengths and the design of its survey."""

import pytest

import heatloop as hl
from tests.helpers.traced_house import PLAN


def test_nothing_is_traced_at_first(tmp_path):
    trace = hl.trace_plan(PLAN, state=tmp_path / "plan.json")
    assert [issue.found for issue in trace.issues] == ["no room"]
    with pytest.raises(hl.InputError, match="no room"):
        trace.to_toml()
    assert not trace.state_path.exists()
