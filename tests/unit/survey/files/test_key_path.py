"""A key with a slip in it is reported at the table that it is in, whichever key it is."""

import copy
import os
import random

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.files.key_path import location_text
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.read import survey_of
from heatloop.survey.toml.toml_reader import load_toml
from tests.helpers.paths import DATA, HARBOUR_LOFT

WRONG_KEYS = int(os.environ.get("HEATLOOP_WRONG_KEYS", "40"))
"""How many keys are spoilt, one after another; 300 in the long run."""

FILES = (DATA / "alder-lodge" / "survey.toml", HARBOUR_LOFT / "survey.toml")


def keys(node, loc=()):
    """The place of every key."""
    for step, child in node.items() if isinstance(node, dict) else enumerate(node):
        if isinstance(step, str):
            yield (*loc, step)
        if isinstance(child, dict | list):
            yield from keys(child, (*loc, step))


def slip(key, rng):
    """The key with a letter doubled, lost, or put in the place of its neighbour."""
    at = rng.randrange(len(key) - 1)
    doubled, added = key[:at] + key[at] + key[at:], key[:at] + "_x" + key[at:]
    swapped = key[:at] + key[at + 1] + key[at] + "q" + key[at + 2 :]
    return rng.choice([doubled, added, swapped])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.name)
def test_a_slip_in_any_key_is_told_at_its_table(path):
    tables = load_toml(path, SurveyTable.list_names())
    rng = random.Random(11)
    places = list(keys(tables))
    for loc in rng.sample(places, min(WRONG_KEYS // 2, len(places))):
        spoilt = copy.deepcopy(tables)
        node = spoilt
        for step in loc[:-1]:
            node = node[step]
        wrong = slip(loc[-1], rng)
        node[wrong] = node.pop(loc[-1])
        with pytest.raises(InputError) as caught:
            survey_of(spoilt, path)
        place = location_text(spoilt, loc[:-1])
        told = [(issue.place, issue.found) for issue in caught.value.issues]
        assert (place, f'the key "{wrong}"') in told, f"{loc} as {wrong}: {caught.value}"
