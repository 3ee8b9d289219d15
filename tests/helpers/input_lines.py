"""Lines in which an input is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey


def lines_of(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_survey(path)
    return str(caught.value).splitlines()
