"""The text of an input file, or one error with the reason why it cannot be read."""

from __future__ import annotations

from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.text.files import UnusableFile, file_bytes

SAVED_AS_UTF_8 = "a text file saved as UTF-8"


def input_text(path: Path, kind: str, saved_as: str = SAVED_AS_UTF_8) -> str:
    """The text of a UTF-8 file of ordinary size; a byte-order mark is ignored.

    `kind` describes the expected file; `saved_as` describes how to save it. Raises InputError with one error: no such
    file, a folder, a device or pipe, too large, not readable, not UTF-8.
    """
    try:
        return file_bytes(path).decode("utf-8-sig")
    except FileNotFoundError:
        raise file_error(path, "", "no such file", f"the path of {kind}") from None
    except IsADirectoryError:
        raise file_error(path, "", "a folder", f"the path of {kind}") from None
    except UnusableFile as error:
        raise file_error(path, "", error.found, error.required) from None
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        found = f"the byte 0x{error.object[error.start]:02x}, which is not UTF-8"
        raise file_error(path, f"line {line}", found, saved_as) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise file_error(path, "", f"a file that cannot be opened ({reason})", "a file that can be read") from None


def file_error(path: Path | str, place: str, found: str, required: str) -> InputError:
    """InputError with one error of a file."""
    return InputError([InputIssue(str(path), place, found, required)])
