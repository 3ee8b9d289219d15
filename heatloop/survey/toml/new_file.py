"""Write a new file completely, and never over an existing one."""

from __future__ import annotations

from pathlib import Path

from heatloop.survey.toml.input_text import file_error
from heatloop.text.files import write_whole


def write_new(path: Path, content: str | bytes) -> Path:
    """Write a file that does not exist yet; return its path.

    Raises InputError, one line, where it exists or cannot be written.
    """
    try:
        write_whole(path, content, over=False)
    except FileExistsError:
        raise file_error(path, "", "a file there already", "another name: nothing is overwritten") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise file_error(path, "", f"a place that cannot be written to ({reason})", "another folder") from None
    return path
