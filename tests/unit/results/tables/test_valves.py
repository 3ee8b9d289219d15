"""The loop most affected when another is isolated is another one, also where no flow changes."""

from __future__ import annotations

import heatloop as hl


def test_the_loop_most_affected_is_never_the_isolated_one(harbour_loft: hl.Design, alder_lodge: hl.Design) -> None:
    for design in (harbour_loft, alder_lodge):
        table = design.loop_isolation
        assert len(table) == len(design.loops)
        assert not (table["isolated_loop"] == table["most_affected_loop"]).any()
        assert set(table["most_affected_loop"]) <= set(design.loops["loop"])
