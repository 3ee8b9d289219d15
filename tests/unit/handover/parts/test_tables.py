"""The cut list as a table: the remainder of a bar stands once, at its last cut, with its use."""

import math

from heatloop.handover.cutting.model import CutPiece, CuttingOptions, Stock
from heatloop.handover.cutting.plan import plan_cuts
from heatloop.handover.parts.tables import cuts_table


def test_what_remains_is_an_offcut_to_keep_or_waste():
    """A bar of 2 m with 0.5 m and 0.4 m leaves more than 300 mm; one with 1.9 m leaves less."""
    pieces = [CutPiece(label, length) for label, length in (("a", 500.0), ("b", 400.0), ("c", 1900.0))]
    options = CuttingOptions(kerf_mm=4.0, min_offcut_mm=300.0)
    rows = cuts_table(plan_cuts(pieces, [Stock(2000.0)], options=options)).to_dict("records")
    by_bar = {}
    for row in rows:
        by_bar.setdefault(row["bar"], []).append((row["remainder_use"], row["remainder_mm"]))
    assert sorted(len(bar) for bar in by_bar.values()) == [1, 2]
    for bar in by_bar.values():
        assert all(word == "" and math.isnan(left) for word, left in bar[:-1])
    short, long = (next(bar for bar in by_bar.values() if len(bar) == count) for count in (1, 2))
    assert (short[-1][0], round(short[-1][1])) == ("waste", 2000 - 1900 - 4)
    assert (long[-1][0], round(long[-1][1])) == ("offcut to keep", 2000 - 500 - 400 - 8)
