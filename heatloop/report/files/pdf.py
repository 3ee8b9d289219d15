"""The page as PDF, printed by a Chromium that is installed on the machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from heatloop.report.files.export import ReportError

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
TIMEOUT_S = 180.0
SWITCHES = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def find_chromium() -> Path:
    """The first Chromium on the search path; ReportError with the names searched for if there is none."""
    for name in NAMES:
        program = shutil.which(name)
        if program:
            return Path(program)
    raise ReportError(
        f"PDF: found no Chromium on this machine (searched: {', '.join(NAMES)}); required: one of these. "
        "Otherwise leave out --pdf and print the page from a browser"
    )


def browser_options(profile: Path | str) -> list[str]:
    """Options of Chromium: no window, no network connection, its files in `profile`."""
    alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    return [*SWITCHES, *alone, f"--user-data-dir={profile}"]


def print_pdf(page: Path, target: Path) -> Path:
    """Print a page by its own rules for paper into `target`.

    ReportError where there is no Chromium, or it fails or takes more than three minutes.
    """
    chromium = find_chromium()
    with tempfile.TemporaryDirectory(prefix="heatloop-", ignore_cleanup_errors=True) as profile:
        command = [
            str(chromium),
            *browser_options(profile),
            "--no-pdf-header-footer",
            "--generate-pdf-document-outline",
        ]
        command += [f"--print-to-pdf={target.resolve()}", page.resolve().as_uri()]
        try:
            done = subprocess.run(command, capture_output=True, timeout=TIMEOUT_S, check=False)
        except subprocess.TimeoutExpired as error:
            raise ReportError(f"PDF: {chromium} took more than {TIMEOUT_S:.0f} s; nothing changed") from error
    if not target.is_file() or target.read_bytes()[:5] != b"%PDF-":
        lines = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise ReportError(f"PDF: {chromium} printed nothing ({lines[-1] if lines else 'no message'}); nothing changed")
    return target
