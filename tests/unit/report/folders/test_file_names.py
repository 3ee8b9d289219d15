"""Names of files that a result is saved under."""

import pytest

import heatloop as hl
from heatloop.report.folders.file_names import file_to_save


def test_a_name_with_one_of_the_endings_is_taken_as_it_is(tmp_path):
    assert file_to_save(str(tmp_path / "plan.svg"), ".svg", ".html") == tmp_path / "plan.svg"


def test_another_ending_is_refused_in_one_printable_line():
    with pytest.raises(hl.InputError) as refused:
        file_to_save("two\nlines.txt", ".svg", ".html")
    assert str(refused.value) == r'save: path: found "two\nlines.txt"; required: a name that ends in .svg or .html'
