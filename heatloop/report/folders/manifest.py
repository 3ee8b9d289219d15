"""The list of files that a report writes into its folder, each with a hash of its content.

A file belongs to a report if it is in the list, has a name that reports use, and has the listed hash. So a forged or
outdated list cannot cause another file to be replaced.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Container, Iterable, Mapping
from pathlib import Path

from heatloop.report.files.export import MANIFEST, ReportError
from heatloop.text.files import file_bytes, write_whole
from heatloop.text.quoting import single_line

HEAD = "Files of this report. The next report in this folder replaces or removes them if they are unchanged."
LINE = re.compile(r"([0-9a-f]{64})  ((?:[a-z]+/)?[^/\\]+)")
"""A line of the list: hash and name, which may be in a folder of the report."""
MAX_BYTES = 500_000_000
"""Maximum size of a file of a report."""


def file_hash(path: Path) -> str | None:
    """SHA-256 of a plain file in hexadecimal digits; None for a link, a folder or an unreadable file."""
    try:
        if path.is_symlink() or path.parent.is_symlink() or not path.is_file():
            return None
        return hashlib.sha256(file_bytes(path, MAX_BYTES)).hexdigest()
    except (OSError, ValueError):
        return None


def manifest_text(hashes: Mapping[str, str]) -> str:
    """Text of the list: its heading, then one line for each file with hash and name."""
    return "\n".join([HEAD, *(f"{digest}  {name}" for name, digest in sorted(hashes.items()))]) + "\n"


def listed(folder: Path, known: Container[str]) -> dict[str, str]:
    """Hashes by name of the files in the list of a folder, for `known` names only; empty without a valid list."""
    path = folder / MANIFEST
    try:
        if path.is_symlink():
            return {}
        head, *lines = file_bytes(path).decode("utf-8").split("\n")
    except (OSError, ValueError):
        return {}
    matches = [LINE.fullmatch(line) for line in lines if line]
    if head != HEAD or not all(matches):
        return {}
    return {match[2]: match[1] for match in matches if match is not None and match[2] in known}


def of_earlier_report(folder: Path, known: Container[str]) -> dict[str, str]:
    """Hashes by name of the files that an earlier report wrote into a folder and that are unchanged since."""
    kept = {name: digest for name, digest in listed(folder, known).items() if file_hash(folder / name) == digest}
    digest = file_hash(folder / MANIFEST) if _is_ours(folder / MANIFEST) else None
    return kept if digest is None else {**kept, MANIFEST: digest}


def _is_ours(path: Path) -> bool:
    """Whether a file is a list in the form of :func:`manifest_text`."""
    try:
        head, *lines = file_bytes(path).decode("utf-8").split("\n")
    except (OSError, ValueError):
        return False
    return head == HEAD and all(LINE.fullmatch(line) for line in lines if line)


def refuse_foreign(folder: Path, names: Iterable[str], known: Container[str]) -> None:
    """Raise ReportError where one of these files exists and is not as an earlier report wrote it."""
    ours = of_earlier_report(folder, known)
    foreign = [name for name in names if name not in ours and os.path.lexists(folder / name)]
    if not foreign:
        return
    found = ", ".join(foreign[:4]) + (f" and {len(foreign) - 4} more" if len(foreign) > 4 else "")
    changed = set(foreign) <= set(listed(folder, known))
    reason = "changed since a report made them" if changed else f"which no earlier report made (by its {MANIFEST})"
    required = "a folder without these files, so that nothing is overwritten"
    raise ReportError(f"{single_line(str(folder))}: found {found}, {reason}; required: {required}")


def note_replaced(path: Path, before: str | None) -> None:
    """Write the hash of a replaced file into the list beside it, if the list contained the earlier content."""
    hashes = listed(path.parent, (path.name,))
    after = file_hash(path)
    if before is None or after is None or hashes.get(path.name) != before:
        return
    manifest = path.parent / MANIFEST
    text = manifest.read_text(encoding="utf-8").replace(f"{before}  {path.name}\n", f"{after}  {path.name}\n")
    write_whole(manifest, text)
