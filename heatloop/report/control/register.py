"""The register of an issue: every document with its hash, its inputs, and its signatures."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Any

from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import NO_REVISION
from heatloop.text.files import file_bytes, write_whole

REGISTER = "document-register.json"

REGISTER_SCHEMA = 1

CALCULATED_BY = ("numpy", "scipy", "CoolProp")
"""Libraries whose version changes figures."""

MAX_BYTES = 500_000_000


@dataclass(frozen=True)
class RegisteredFile:
    """A file of the issue, its place in the folder with "/" between, and its identification where it has one.

    `part`: what distinguishes files of one type, for example the level of a drawing.
    """

    name: str
    identification: str = ""
    part: str = ""


def register_content(control: DocumentControl, folder: Path, files: Iterable[RegisteredFile]) -> dict[str, Any]:
    """Contents of the register, from the files in the folder.

    OSError or UnusableFile for a file that cannot be read. Two runs on one survey differ only in `made_on`.
    """
    document = control.document
    return {
        "schema": REGISTER_SCHEMA,
        "project": control.project,
        "job": document.job,
        "owner": document.owner,
        "client": document.client,
        "site_address": list(document.site_address),
        "created_by": document.prepared_by,
        "checked_by": control.checked_by,
        "approved_by": control.approved_by,
        "cautions": list(control.cautions),
        "status_asked": document.status,
        "status": control.status,
        "for_construction": control.is_for_construction,
        "reason": control.reason,
        "revision": control.revision if control.revisions else NO_REVISION,
        "revisions": [
            {"mark": revision.mark, "on": revision.on.isoformat(), "words": revision.words}
            for revision in control.revisions
        ],
        "issued_on": control.issued_on.isoformat(),
        "made_on": control.made_on.isoformat(),
        "verdict": {"state": control.state, "headline": control.headline},
        "input_sha256": control.inputs.sha256,
        "inputs": [{"role": file.role, "name": file.name, "sha256": file.sha256} for file in control.inputs.files],
        "design_sha256": control.design_sha256,
        "version": control.version,
        "libraries": _libraries(),
        "files": [_file(folder, file) for file in sorted(files, key=lambda file: file.name)],
    }


def write_register(control: DocumentControl, folder: Path, files: Iterable[RegisteredFile]) -> Path:
    """Write `document-register.json` into a folder that holds the files; errors as `register_content`."""
    text = json.dumps(register_content(control, folder, files), ensure_ascii=False, indent=1) + "\n"
    path = folder / REGISTER
    write_whole(path, text)
    return path


def _file(folder: Path, file: RegisteredFile) -> Mapping[str, Any]:
    held = file_bytes(folder / file.name, MAX_BYTES)
    return {
        "name": file.name,
        "identification": file.identification,
        "bytes": len(held),
        "sha256": hashlib.sha256(held).hexdigest(),
    }


def _libraries() -> dict[str, str]:
    return {name: metadata.version(name) for name in CALCULATED_BY}
