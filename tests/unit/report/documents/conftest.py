"""Interactive plans of one, nine and twenty rooms, made once a session."""

from __future__ import annotations

import pytest

from tests.helpers.handed import Handed
from tests.helpers.plan_pages import PlanPage, plan_page


@pytest.fixture(scope="session")
def plan_pages(sizes: dict[str, Handed], tmp_path_factory: pytest.TempPathFactory) -> dict[str, PlanPage]:
    """The pages by the words of their sizes."""
    return {words: plan_page(one, tmp_path_factory.mktemp("plan")) for words, one in sizes.items()}


@pytest.fixture(scope="session")
def lodge(plan_pages: dict[str, PlanPage]) -> PlanPage:
    """Nine rooms, all warm."""
    return plan_pages["nine rooms"]


@pytest.fixture(scope="session")
def short(draft: Handed, tmp_path_factory: pytest.TempPathFactory) -> PlanPage:
    """Nine rooms, one of them short of heat."""
    return plan_page(draft, tmp_path_factory.mktemp("short"))
