"""Parts that a design requires and a parts list does not name."""

from __future__ import annotations

import dataclasses

import heatloop as hl
from heatloop.handover.parts.model import Part
from heatloop.handover.parts.not_ordered import NotOrdered, not_ordered

CLOSED = ("expansion vessel", "relief valve", "pressure gauge", "filter with magnet", "backflow preventer for filling")


def every(found: NotOrdered) -> tuple[str, ...]:
    return (*found.perhaps_in_source, *found.separate)


def ordered(item: str, quantity: float = 1.0) -> Part:
    return Part(item, "fitting", "piece", quantity, 0.0, quantity, (), (), 0.0, "")


def test_an_item_that_names_a_part_takes_it_off_the_list(alder_lodge: hl.Design) -> None:
    parts = alder_lodge.parts().part_lines
    missing = every(not_ordered(alder_lodge.survey, parts))
    assert "inhibitor" not in missing, "the catalogue counts it"
    assert set(CLOSED) <= set(missing)
    assert every(not_ordered(alder_lodge.survey, [*parts, ordered("Expansion vessel 12 l")])) == tuple(
        part for part in missing if part != "expansion vessel"
    )
    assert every(not_ordered(alder_lodge.survey, [*parts, *(ordered(part, 9.0) for part in missing)])) == ()


def test_a_buffer_vessel_is_required_and_is_no_expansion_vessel(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    assert not_ordered(survey, []).perhaps_in_source[-1] == "buffer vessel, 30 l of water"
    bought = every(not_ordered(survey, [ordered("Buffer vessel 30 l")]))
    assert "buffer vessel, 30 l of water" not in bought
    assert "expansion vessel" in bought


def test_pumps_and_heads_are_counted_by_their_quantity(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    pumps = ("pump at the heat source", 'pump of trunk "nursery"')
    without = every(not_ordered(survey, []))
    assert without[0] == pumps[0]
    assert not_ordered(survey, []).separate[:2] == (pumps[1], 'mixing valve of trunk "nursery"')
    rest = tuple(part for part in without if part not in pumps)
    one = every(not_ordered(survey, [ordered("Circulating pump 25-60")]))
    assert set(one) == {f"1 of 2 pumps ({pumps[0]} and {pumps[1]})", *rest}
    assert every(not_ordered(survey, [ordered("Circulating pump 25-60", 2.0)])) == rest
    assert every(not_ordered(survey, [ordered("Circulating pump 25-60"), ordered("Pump 15-40")])) == rest
    assert "thermostatic heads" in without
    assert "4 of 6 thermostatic heads" in every(not_ordered(survey, [ordered("Thermostatic head", 2.0)]))
    assert not [part for part in every(not_ordered(survey, [ordered("Thermostatic head", 6.0)])) if "head" in part]


def test_a_part_of_a_litre_of_an_additive_is_enough(mill_annexe: hl.Design) -> None:
    assert "cleanser" in every(not_ordered(mill_annexe.survey, []))
    assert "cleanser" not in every(not_ordered(mill_annexe.survey, [ordered("Cleanser", 0.5)]))


def test_only_what_the_design_has_is_required(mill_annexe: hl.Design) -> None:
    missing = every(not_ordered(mill_annexe.survey, []))
    assert not any("trunk" in part or "mixing" in part for part in missing)
    assert "antifreeze" not in missing
    loop = dataclasses.replace(mill_annexe.survey.loops[0], flow_temp_c=45.0)
    mixed = every(not_ordered(dataclasses.replace(mill_annexe.survey, loops=(loop,)), []))
    assert 'mixing valve of loop "Annexe"' in mixed
    plain = tuple(dataclasses.replace(valve, kvs_m3_h=None) for valve in mill_annexe.survey.catalogue.valves)
    catalogue = dataclasses.replace(mill_annexe.survey.catalogue, valves=plain)
    without = every(not_ordered(dataclasses.replace(mill_annexe.survey, catalogue=catalogue), []))
    assert set(missing) - set(without) == {"thermostatic heads"}
