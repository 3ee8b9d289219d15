"""Which tests run in one process where several processes share a run: those of a file, and files that share a costly
fixture, which would otherwise be made in each process."""

from __future__ import annotations

from xdist.scheduler import LoadScopeScheduling

TOGETHER: dict[str, tuple[str, ...]] = {
    "pages of reports": (
        "tests/unit/report/documents/", "tests/unit/report/test_pages.py", "tests/unit/report/files/test_pdf.py"
    ),
    "JupyterLab": ("tests/unit/workflows/live/test_controls.py", "tests/unit/workflows/tracing/test_widget.py"),
}  # fmt: skip
"""Beginnings of paths by what the files share: a published report and the designs of three houses; a server."""


def shared(path: str) -> str:
    """What a file of tests is run with: the name of a shared fixture, or the file alone."""
    return next((name for name, parts in TOGETHER.items() if path.startswith(parts)), path)


class SharedWork(LoadScopeScheduling):  # type: ignore[misc]
    """Sends all tests that belong together to the process that is free next, in the order of collection."""

    def _split_scope(self, nodeid: str) -> str:
        return shared(nodeid.partition("::")[0])
