"""Interactive plans of one, nine and twenty rooms, each made once a session when a test first asks for it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from tests.helpers.handed import Handed
from tests.helpers.plan_pages import PlanPage, plan_page


@pytest.fixture(scope="session")
def plan_of(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], PlanPage]:
    """Gives the page of a size by the name of its fixture."""
    return cache(lambda size: plan_page(request.getfixturevalue(size), tmp_path_factory.mktemp("plan")))


@pytest.fixture(scope="session")
def lodge(plan_of: Callable[[str], PlanPage]) -> PlanPage:
    """Nine rooms, all warm."""
    return plan_of("nine_rooms")


@pytest.fixture(scope="session")
def short(draft: Handed, tmp_path_factory: pytest.TempPathFactory) -> PlanPage:
    """Nine rooms, one of them short of heat."""
    return plan_page(draft, tmp_path_factory.mktemp("short"))
