"""Random cases are the same on every run, so that one command has one verdict; `--hypothesis-profile=explore` draws
new ones."""

import pytest
from hypothesis import settings

pytest.register_assert_rewrite("tests.helpers")

settings.register_profile("repeatable", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile("repeatable")
