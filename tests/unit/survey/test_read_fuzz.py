"""Whatever a file holds, it is read or its errors are reported in lines: never another exception."""

import copy
import datetime
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import layout_faults
from heatloop.survey import read
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import HARBOUR_LOFT

GOOD = HARBOUR_LOFT
TABLES = tomllib.loads((GOOD / "survey.toml").read_text(encoding="utf-8"))
CATALOGUE = tomllib.loads((GOOD / "catalogue.toml").read_text(encoding="utf-8"))

SCRAPS = st.one_of(
    st.sampled_from([0, -1, 1, 2.5, 1e308, -1e-9, 6000, 10**400, True, "", " ", "Saloon", "riser", "source"]),
    st.sampled_from([float("nan"), float("inf"), "outdoors", "ground", "neighbour", "duo 130", "copper 15"]),
    st.sampled_from([[], {}, [[]], [{}], {"name": "x"}, [1, 2], ["a"], [[{}], [{}]]]),
    st.just(datetime.date(2024, 2, 29)),
    st.floats(),
    st.text(max_size=4),
    st.integers(),
)


def places(node, path=()):
    """Every place in nested tables and lists."""
    steps = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, child in steps:
        yield (*path, step)
        yield from places(child, (*path, step))


def altered(tables, changes, scraps):
    """Tables with some places dropped (no scrap) or given a scrap; places that are gone are passed over."""
    tables = copy.deepcopy(tables)
    for path, scrap in zip(changes, scraps, strict=True):
        node = tables
        try:
            for step in path[:-1]:
                node = node[step]
            if scrap is None:
                del node[path[-1]]
            else:
                node[path[-1]] = copy.deepcopy(scrap)
        except (KeyError, IndexError, TypeError):
            continue
    return tables


def changes_to(tables):
    return st.lists(
        st.tuples(st.sampled_from(list(places(tables))), st.one_of(st.none(), SCRAPS)), min_size=1, max_size=4
    )


def told(error):
    """The faults of an error, each whole and on one line."""
    assert error.issues
    for fault in error.issues:
        assert fault.found
        assert fault.required
        assert "\n" not in str(fault)
        assert "UNREAD" not in str(fault)
        assert "MISSING" not in str(fault)
        assert "nan mm" not in str(fault)


@settings(max_examples=300, deadline=None)
@given(changes_to(TABLES))
def test_altered_survey(changes):
    tables = altered(TABLES, [path for path, _ in changes], [scrap for _, scrap in changes])
    try:
        survey = read.survey_of(tables, GOOD / "survey.toml")
    except InputError as error:
        told(error)
        survey = error.partial
    else:
        assert isinstance(survey, SurveyData)
        assert "nan" not in repr(survey)
    found = () if survey is None else layout_faults(survey)
    if found:
        told(InputError(found))


@settings(max_examples=150, deadline=None)
@given(changes_to(CATALOGUE))
def test_altered_catalogue(changes):
    tables = altered(CATALOGUE, [path for path, _ in changes], [scrap for _, scrap in changes])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(read, "load_toml", lambda path, many: tables)
        try:
            catalogue = read.read_catalogue(GOOD / "catalogue.toml")
        except InputError as error:
            told(error)
        else:
            assert "nan" not in repr(catalogue)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("bytes") / "survey.toml"
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_survey(path)
    told(caught.value)
