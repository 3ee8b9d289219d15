"""Water treatment: doses by both kinds of label, rules by metals and by the age of the system, rules as data."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path

import pytest

from heatloop.findings.safety import SAFETY_NOTICES
from heatloop.handover.commissioning import water_treatment
from heatloop.handover.commissioning.water_treatment import (
    TreatmentRule,
    applicable_rules,
    load_rules,
    treatment_checks,
    treatment_inputs,
    treatment_table,
)
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Additive, Antifreeze, WaterSystem
from tests.helpers.paths import DATA

ANNEXE = read_survey(DATA / "mill-annexe" / "survey.toml")
INHIBITOR = Additive("inhibitor A", per_cent=1.0, container_l=0.5, mixed_metals=True)
CLEANSER = Additive("cleanser B", dose_ml_per_l=8.0)


def with_system(survey: SurveyData = ANNEXE, **keys: object) -> SurveyData:
    return dataclasses.replace(survey, system=WaterSystem(**keys))  # type: ignore[arg-type]


def copper() -> SurveyData:
    """The annexe with profiles whose waterways are lined with copper."""
    stock = ANNEXE.catalogue
    profiles = tuple(dataclasses.replace(profile, wetted_metal="copper") for profile in stock.profiles)
    return dataclasses.replace(ANNEXE, catalogue=dataclasses.replace(stock, profiles=profiles))


def said(survey: SurveyData) -> str:
    return " ".join(rule.what for rule in applicable_rules(treatment_inputs(survey, 100.0)))


def verdicts(survey: SurveyData) -> dict[str, str]:
    return {row.check: row.verdict for row in treatment_checks(treatment_inputs(survey, 100.0))}


# --- doses -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("additive", "content_l", "litres"),
    [
        (Additive("a", per_cent=1.0), 100.0, 1.0),
        (Additive("a", per_cent=0.5), 45.0, 0.225),
        (Additive("a", dose_ml_per_l=10.0), 100.0, 1.0),
        (Additive("a", dose_ml_per_l=4.0), 45.0, 0.18),
    ],
)
def test_dose_by_the_label(additive: Additive, content_l: float, litres: float) -> None:
    assert water_treatment.additive_volume_l(additive, content_l) == pytest.approx(litres)


def test_per_cent_and_millilitres_a_litre_say_the_same() -> None:
    """One per cent of a litre is ten millilitres."""
    for content_l in (14.0, 45.45, 300.0):
        one, other = Additive("a", per_cent=0.8), Additive("a", dose_ml_per_l=8.0)
        assert water_treatment.additive_volume_l(one, content_l) == pytest.approx(
            water_treatment.additive_volume_l(other, content_l)
        )


def test_no_additive_has_no_dose() -> None:
    assert math.isnan(water_treatment.additive_volume_l(None, 100.0))


def test_doses_to_buy_are_whole_containers() -> None:
    survey = with_system(inhibitor=INHIBITOR, cleanser=CLEANSER)
    table = water_treatment.doses_table(treatment_inputs(survey, 130.0)).set_index("use")
    assert table["dose_l"]["inhibitor"] == pytest.approx(1.3)
    assert table["containers"]["inhibitor"] == 3.0
    assert table["dose_l"]["cleanser"] == pytest.approx(1.04)
    assert math.isnan(table["containers"]["cleanser"])
    whole = water_treatment.doses_table(treatment_inputs(survey, 150.0)).set_index("use")
    assert whole["containers"]["inhibitor"] == 3.0


# --- procedure ---------------------------------------------------------------------------------------------


@pytest.mark.common_practice
def test_an_old_system_is_cleansed_warm_before_it_is_drained_and_the_skirting_comes_after() -> None:
    rules = applicable_rules(treatment_inputs(with_system(old_system=True, cleanser=CLEANSER), 100.0))
    stages = [rule.stage for rule in rules]
    assert stages[:3] == ["old system"] * 3
    assert "cleanser B (8 ml per litre of content)" in rules[1].what
    assert "at least 60 minutes" in rules[1].what
    assert "Only then connect the new skirting" in rules[2].what


def test_a_new_system_is_flushed_cleaned_flushed_protected_and_labelled() -> None:
    rules = applicable_rules(treatment_inputs(with_system(), 100.0))
    order = list(dict.fromkeys(rule.stage for rule in rules))
    assert [rule.stage for rule in rules if rule.stage not in ("metals", "filter")][:5] == [
        "flush", "clean", "flush", "refill", "protect",
    ]  # fmt: skip
    assert order == ["metals", "filter", "flush", "clean", "refill", "protect", "label", "afterwards"]


def test_quantities_stand_beside_their_steps() -> None:
    survey = with_system(inhibitor=INHIBITOR, cleanser=CLEANSER, flush_volumes=4.0)
    table = treatment_table(treatment_inputs(survey, 50.0))
    assert list(table["quantity_l"].dropna()) == pytest.approx([200.0, 0.4, 200.0, 0.5])
    assert list(table["stage"][table["quantity_l"].notna()]) == ["flush", "clean", "flush", "protect"]
    assert list(table["step"]) == list(range(1, len(table) + 1))
    assert (table["source"].str.len() > 0).all()


# --- metals ------------------------------------------------------------------------------------------------


def test_bare_aluminium_with_copper() -> None:
    words = said(with_system())
    assert "aluminium and copper (copper is assumed" in words
    assert "pH 7 to 8.5" in words
    assert "Bare aluminium and other metals" in words
    assert "Do not fill or top up with softened water" in words
    assert "do not fill with softened water" in words


def test_copper_alone_has_no_rules_of_aluminium() -> None:
    words = said(copper())
    assert "aluminium" not in words
    assert "softener" not in words
    assert "pH 7 to 10" in words
    assert set(verdicts(copper())) == {"pipe size at the filter"}


def test_stated_metals_and_ph_are_used() -> None:
    survey = with_system(metals=("stainless steel",), ph=(7.5, 8.2))
    words = said(survey)
    assert "aluminium and stainless steel. Keep its pH at 7.5 to 8.2" in words
    assert "assumed" not in words
    rule = next(rule for rule in applicable_rules(treatment_inputs(survey, 50.0)) if rule.stage == "metals")
    assert rule.source.endswith("pH: survey")


def test_plastic_is_no_other_metal() -> None:
    assert "inhibitor suitable for mixed metals" not in verdicts(with_system(metals=("plastic",)))


@pytest.mark.parametrize(
    ("keys", "check", "verdict"),
    [
        ({}, "inhibitor suitable for mixed metals", "caution"),
        ({"inhibitor": Additive("x", per_cent=1.0)}, "inhibitor suitable for mixed metals", "caution"),
        ({"inhibitor": Additive("x", per_cent=1.0, mixed_metals=False)}, "inhibitor suitable for mixed metals", "fail"),
        ({"inhibitor": INHIBITOR}, "inhibitor suitable for mixed metals", "pass"),
        ({"softened_fill": True}, "fill water suitable for bare aluminium", "fail"),
        (
            {"softened_fill": True, "softened_fill_allowed": True},
            "fill water suitable for bare aluminium",
            "pass",
        ),
        ({"filter_line_mm": 15.0}, "pipe size at the filter", "pass"),
        ({}, "pipe size at the filter", "caution"),
    ],
)
def test_verdicts(keys: dict[str, object], check: str, verdict: str) -> None:
    assert verdicts(with_system(**keys))[check] == verdict


def test_a_failed_check_says_what_would_mend_it() -> None:
    (row,) = (
        r for r in treatment_checks(treatment_inputs(with_system(softened_fill=True), 50.0)) if r.verdict == "fail"
    )
    assert "plain mains water" in row.recommendation
    assert row.source


def test_allowed_softened_water_is_watched() -> None:
    words = said(with_system(softened_fill=True, softened_fill_allowed=True))
    assert "Softened water is used" in words
    assert "softener." not in words


def test_antifreeze_is_dosed_by_volume() -> None:
    project = dataclasses.replace(ANNEXE.project, antifreeze=Antifreeze("propylene glycol", percent_by_volume=30.0))
    found = treatment_inputs(dataclasses.replace(ANNEXE, project=project), 50.0)
    (rule,) = (rule for rule in applicable_rules(found) if rule.amount == "antifreeze")
    assert "30 % by volume of propylene glycol" in rule.what
    assert found.amount_l(rule.amount) == pytest.approx(15.0)
    assert "antifreeze" not in said(ANNEXE)


# --- rules as data -----------------------------------------------------------------------------------------


def test_every_rule_has_a_source_and_cautions_that_exist() -> None:
    titles = {caution.title for caution in SAFETY_NOTICES}
    rules = load_rules()
    assert len(rules) > 10
    for rule in rules:
        assert rule.source, rule.what
        assert set(rule.caution) <= titles, rule.what
        (shown,) = applicable_rules(treatment_inputs(ANNEXE, 50.0), (dataclasses.replace(rule, when=()),))
        assert not re.search(r"[{}]", shown.what + shown.source)


def test_chemicals_and_hot_water_carry_their_caution() -> None:
    for rule in load_rules():
        if rule.amount in ("cleanser", "inhibitor", "antifreeze"):
            assert "Chemicals" in rule.caution, rule.what
        if "drain" in rule.what.lower() and "authority" in rule.what:
            assert "Scalding" in rule.caution, rule.what


def test_rules_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "rules.toml"
    path.write_text('[[rule]]\nstage = "own"\nwhat = "pH {ph}"\nwhen = ["aluminium"]\n', encoding="utf-8")
    rules = load_rules(path)
    assert rules == (TreatmentRule("own", "pH {ph}", ("aluminium",)),)
    assert list(treatment_table(treatment_inputs(ANNEXE, 50.0), rules)["what"]) == ["pH 7 to 8.5"]
    assert treatment_table(treatment_inputs(copper(), 50.0), rules).empty


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ('stage = "a"', "rule 1: found 'what'"),
        ('stage = "a"\nwhat = "b"\nwhen = ["wet"]', "rule 1: found 'wet'"),
        ('stage = "a"\nwhat = "b"\namount = "lots"', "rule 1: found 'lots'"),
        ('stage = "a"\nwhat = "b"\nhow = "c"', "rule 1: found 'how'"),
        ('stage = "a"\nwhat = "{litres}"', "rule 1: found '{litres}'"),
    ],
)
def test_a_bad_rule_is_reported_in_one_line(row: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "rules.toml"
    path.write_text(f"[[rule]]\n{row}\n", encoding="utf-8")
    with pytest.raises(ValueError, match=re.escape(words)) as caught:
        load_rules(path)
    assert "\n" not in str(caught.value)


def test_names_may_hold_anything() -> None:
    survey = with_system(inhibitor=Additive("{ph} <b>", per_cent=1.0))
    assert "{ph} <b> (1 % of the content)" in said(survey)
