"""A TOML file as a dictionary, or one plain fault that says why it cannot be read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import Fault, SurveyError


def load_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file in UTF-8 (a byte-order mark is passed over).

    Raises SurveyError with one fault: no such file, a folder, not readable, not UTF-8, not TOML.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise _error(path, "", "no such file", "the path of a TOML file") from None
    except IsADirectoryError:
        raise _error(path, "", "a folder", "the path of a TOML file") from None
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        found = f"the byte 0x{error.object[error.start]:02x}, which is not UTF-8"
        raise _error(path, f"line {line}", found, "a text file saved as UTF-8") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _error(path, "", f"a file that cannot be opened ({reason})", "one that can be read") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place, reason = _split(str(error), text)
        wanted = "a decimal point, not a comma" if _comma(place, text) else "a key = value or a [table]"
        raise _error(path, place, f"what is not TOML ({reason})", wanted) from None
    except RecursionError:
        raise _error(path, "", "lists nested too deeply to read", "a survey or a catalogue") from None
    except ValueError as error:
        raise _error(path, "", f"a value that cannot be read ({error})", "numbers of ordinary size") from None


def _split(message: str, text: str) -> tuple[str, str]:
    """Line and column in words, and what remains of the reader's message."""
    found = re.search(r" \(at line (\d+), column (\d+)\)$", message)
    if found:
        return f"line {found[1]}, column {found[2]}", message[: found.start()].lower()
    reason = message.removesuffix(" (at end of document)").lower()
    lines = text.rstrip("\n").split("\n")
    return f"line {len(lines)}, column {len(lines[-1]) + 1}", reason


def _comma(place: str, text: str) -> bool:
    """Whether the line at fault, unlike a list, holds a number written with a decimal comma."""
    line = text.split("\n")[int(place.split(",")[0].removeprefix("line ")) - 1]
    return re.search(r"=\s*[+-]?\d+,\d+\s*([,}#]|$)", line) is not None


def _error(path: Path, place: str, found: str, wanted: str) -> SurveyError:
    return SurveyError([Fault(str(path), place, found, wanted)])
