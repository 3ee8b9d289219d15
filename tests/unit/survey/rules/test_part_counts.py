"""Rules and packs of the catalogue: read as they stand, or refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.catalogue import END_KINDS, JOINT_KINDS, CountRule, PackSize
from heatloop.survey.read import read_catalogue
from heatloop.survey.rules.part_counts import names_at
from tests.helpers.one_loop import CATALOGUE
from tests.helpers.paths import HARBOUR_LOFT

GOOD = HARBOUR_LOFT / "catalogue.toml"


def catalogue_with(tmp_path: Path, rows: str) -> Path:
    path = tmp_path / "catalogue.toml"
    path.write_text(GOOD.read_text(encoding="utf-8") + rows, encoding="utf-8")
    return path


def test_rules_and_packs_are_read_as_they_stand(tmp_path: Path) -> None:
    rows = """
[[fitting]]
item = "elbow"
per = "joint-channel"
at = ["inside corner"]
profiles = ["duo 130"]
spares_percent = 5
[[fixing]]
item = "bracket"
per = "spacing"
quantity = 2
spacing_m = 0.6
end_m = 0.1
[[consumable]]
item = "inhibitor"
per = "litre"
unit = "l"
quantity = 0.01
source = "data sheet"
[[pack]]
item = "elbow"
name = "bag of 10"
holds = 10
invented = true
"""
    found = read_catalogue(catalogue_with(tmp_path, rows))
    assert found.fittings == (
        CountRule("elbow", "joint-channel", at=("inside corner",), profiles=("duo 130",), spares_percent=5.0),
    )
    assert found.fixings == (CountRule("bracket", "spacing", 2.0, spacing_m=0.6, end_m=0.1),)
    assert found.consumables == (CountRule("inhibitor", "litre", 0.01, unit="l", source="data sheet"),)
    assert found.packs == (PackSize("elbow", "bag of 10", 10.0, invented=True),)


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        (
            '[[fitting]]\nitem = "x"\nper = "joints"\n',
            "fitting 1, per: found the text 'joints'; required: \"joint\" or",
        ),
        (
            '[[fitting]]\nitem = "x"\nper = "end"\nat = ["vale end"]\n',
            'at, value 1: found "vale end"; required: the name of a part that can be',
        ),
        ('[[fixing]]\nitem = "x"\nper = "loop"\nat = ["wall"]\n', 'fixing 1, at: found at beside per = "loop"'),
        (
            '[[fixing]]\nitem = "x"\nper = "spacing"\n',
            "fixing 1, spacing_m: found nothing; required: the maximum distance",
        ),
        ('[[fixing]]\nitem = "x"\nper = "piece"\nspacing_m = 1\n', 'spacing_m: found spacing_m beside per = "piece"'),
        (
            '[[fixing]]\nitem = "x"\nper = "piece"\nprofiles = ["duo"]\n',
            'found "duo"; required: the name of a profile of the catalogue',
        ),
        (
            '[[fixing]]\nitem = "x"\nper = "piece"\n[[consumable]]\nitem = "x"\nper = "metre"\nunit = "m"\n',
            'consumable 1, unit: found "m"; required: "piece" as in the first rule for "x"',
        ),
        (
            '[[pack]]\nitem = "coper 15"\nname = "3 m"\nholds = 3\n',
            'found "coper 15"; required: the name of an item that is counted; the',
        ),
        (
            '[[pack]]\nitem = "copper 15"\nname = "a"\nholds = 3\n' * 2,
            'found "a" again; required: another name for each pack of "copper 15"',
        ),
        ('[[fitting]]\nitem = "x"\nper = "end"\nquantity = 0\n', "quantity: found 0; required: a number, more than 0"),
    ],
)
def test_rules_and_packs_that_cannot_be(rows: str, line: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        read_catalogue(catalogue_with(tmp_path, "\n" + rows))
    assert line in str(error.value)
    assert len(error.value.issues) == 1


def test_the_words_of_rules_are_the_words_of_the_layout() -> None:
    assert set(JOINT_KINDS) <= set(names_at(CATALOGUE, "joint"))
    assert set(END_KINDS) <= set(names_at(CATALOGUE, "end"))
    assert names_at(CATALOGUE, "loop") == ()
