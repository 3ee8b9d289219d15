"""Whether a design meets its limits: one value, which every command, page and notebook prints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.findings.limits import CheckResult, Outcome

Readiness = Literal["not ready", "ready with cautions", "ready"]

OUTCOMES: dict[Readiness, Outcome] = {"not ready": "fail", "ready with cautions": "caution", "ready": "pass"}


@dataclass(frozen=True)
class Verdict:
    """Whether a design meets its limits, so that its installation can be prepared.

    Whether it is also released for construction, checked by a second person and approved, is a matter of its documents.

    Attributes
    ----------
    state : {"not ready", "ready with cautions", "ready"}
    headline : str
        The verdict in one or two sentences, with place and figure.
    fails, cautions : tuple of CheckResult
        Checks that are not met, in the order of the limits.
    scope : tuple of str
        What was checked.
    """

    state: Readiness
    headline: str
    fails: tuple[CheckResult, ...]
    cautions: tuple[CheckResult, ...]
    scope: tuple[str, ...]

    @property
    def outcome(self) -> Outcome:
        """The worst outcome of all checks."""
        return OUTCOMES[self.state]
