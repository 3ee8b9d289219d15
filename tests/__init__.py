"""Tests of the package, and what they share."""

import pytest

pytest.register_assert_rewrite("tests.helpers")
