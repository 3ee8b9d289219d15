"""Hashes of the inputs of documents.

The input hash is calculated from the files as written; the design hash from their content. A comment in the survey, the
tables of document control, or the order of keys change the input hash but not the design hash.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from importlib import metadata, resources
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from heatloop.text.files import file_bytes

SHOWN_DIGITS = 12
"""Hexadecimal digits of a hash that documents print."""

SIGNIFICANT_DIGITS = 9
"""To which numbers enter the design hash."""

NOT_DESIGN = frozenset({"path", "document", "quotation"})
"""Fields of a survey that do not change the design."""

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class InputFile:
    """An input file of documents: its role, its name and the SHA-256 of its text."""

    role: str
    name: str
    sha256: str


@dataclass(frozen=True)
class InputFiles:
    """All input files of documents, and their common hash; "" where there are none."""

    files: tuple[InputFile, ...]
    sha256: str


def plain_text_bytes(path: Path) -> bytes:
    """The bytes of a text file with LF at the end of lines and without byte-order mark; OSError, UnusableFile."""
    return file_bytes(path).removeprefix(BYTE_ORDER_MARK).replace(b"\r\n", b"\n")


def input_files(survey: SurveyData, more: Mapping[str, Path] | None = None) -> InputFiles:
    """The files of a survey, then those of `more` by their roles.

    The hash runs over role, NUL, length in decimal digits, NUL and bytes of each. There is none for a survey that was
    not read from a file, was changed after reading, or whose files have changed since.
    """
    if not _as_its_files(survey):
        return InputFiles((), "")
    paths = {"survey": Path(survey.file), "catalogue": Path(survey.catalogue_file), **(more or {})}
    whole = hashlib.sha256()
    files = []
    for role, path in paths.items():
        text = plain_text_bytes(path)
        for part in (role.encode(), b"\0", str(len(text)).encode(), b"\0", text):
            whole.update(part)
        files.append(InputFile(role, path.name, hashlib.sha256(text).hexdigest()))
    return InputFiles(tuple(files), whole.hexdigest())


def _as_its_files(survey: SurveyData) -> bool:
    """Whether the files of a survey, read again, are this survey; never of a pipe, which can be read only once."""
    if survey.path is None or not survey.path.is_file():
        return False
    try:
        return read_survey(survey.path) == survey
    except InputError:
        return False


def design_hash(survey: SurveyData, treatment_rules: bytes | None = None) -> str:
    """SHA-256 of the parsed survey and catalogue with the version of the package and the rules of water treatment.

    Canonical JSON: keys in order, numbers to nine significant digits. Paths and the tables `[document]` and
    `[quotation]` are left out.
    """
    rules = packaged_treatment_rules() if treatment_rules is None else treatment_rules
    plain = {name: value for name, value in _plain(survey).items() if name not in NOT_DESIGN}
    del plain["project"]["catalogue"]  # a path; what it leads to is here in full
    design = {
        "survey": plain,
        "treatment_rules": hashlib.sha256(rules).hexdigest(),
        "version": package_version(),
    }
    text = json.dumps(design, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    """A value of a survey as what JSON holds, numbers as texts."""
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(child) for key, child in value.items()}
    if isinstance(value, str | bool) or value is None:
        return value
    if isinstance(value, int | float):
        return f"{value + 0.0:.{SIGNIFICANT_DIGITS}g}"
    if isinstance(value, Iterable):
        return [_plain(child) for child in value]
    return str(value)


def packaged_treatment_rules() -> bytes:
    """The rules of water treatment that come with the package, with LF at the end of lines."""
    file = resources.files("heatloop.handover.commissioning").joinpath("treatment_rules.toml")
    return file.read_bytes().replace(b"\r\n", b"\n")


def package_version() -> str:
    """The version of this package; "unknown" where it is not installed."""
    try:
        return metadata.version("heatloop")
    except metadata.PackageNotFoundError:
        return "unknown"
