"""Parts that a design requires and a parts list does not name."""

from __future__ import annotations

import dataclasses

import heatloop as hl
from heatloop.handover.parts.not_ordered import not_ordered

CLOSED = ("expansion vessel", "relief valve", "pressure gauge", "filter with magnet", "backflow preventer for filling")


def test_an_item_that_names_a_part_takes_it_off_the_list(alder_lodge: hl.Design) -> None:
    items = [part.item for part in alder_lodge.parts().part_lines]
    missing = not_ordered(alder_lodge.survey, items)
    assert "inhibitor" not in missing, "the catalogue counts it"
    assert set(CLOSED) <= set(missing)
    assert not_ordered(alder_lodge.survey, [*items, "Expansion vessel 12 l"]) == tuple(
        part for part in missing if part != "expansion vessel"
    )
    assert not_ordered(alder_lodge.survey, [*items, *missing]) == ()


def test_only_what_the_design_has_is_required(mill_annexe: hl.Design) -> None:
    missing = not_ordered(mill_annexe.survey, [])
    assert not any("trunk" in part or "mixing" in part for part in missing)
    assert "antifreeze" not in missing
    loop = dataclasses.replace(mill_annexe.survey.loops[0], flow_temp_c=45.0)
    mixed = not_ordered(dataclasses.replace(mill_annexe.survey, loops=(loop,)), [])
    assert 'mixing valve of loop "Annexe"' in mixed
    plain = tuple(dataclasses.replace(valve, kvs_m3_h=None) for valve in mill_annexe.survey.catalogue.valves)
    catalogue = dataclasses.replace(mill_annexe.survey.catalogue, valves=plain)
    without = not_ordered(dataclasses.replace(mill_annexe.survey, catalogue=catalogue), [])
    assert set(missing) - set(without) == {"thermostatic heads"}
