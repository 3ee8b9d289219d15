"""What a folder holds, and a process that has ended."""

from __future__ import annotations

from pathlib import Path

DEAD = 2**22 + 12345
"""The number of no process: Linux gives none above 2**22."""


def contents(folder: Path) -> dict[str, str]:
    """Every file under a folder with its text."""
    return {
        str(path.relative_to(folder)): path.read_text(encoding="utf-8")
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
