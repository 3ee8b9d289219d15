"""Files are written whole: parts of ended processes are cleared, permissions kept, nothing of others replaced."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from heatloop.text.files import write_whole
from tests.helpers.folder_contents import DEAD, contents


def test_parts_of_ended_processes_are_cleared_and_those_of_running_ones_stay(tmp_path: Path) -> None:
    dead, alive = tmp_path / f".heatloop-{DEAD}-aaaaaaaa.part", tmp_path / f".heatloop-{os.getpid()}-aaaaaaaa.part"
    for path in (dead, alive):
        path.write_text("half", encoding="utf-8")
    write_whole(tmp_path / "a", "whole")
    assert {path.name for path in tmp_path.iterdir()} == {alive.name, "a"}


def test_permissions_are_those_of_the_file_replaced_or_the_usual_ones(tmp_path: Path) -> None:
    (tmp_path / "old").write_text("", encoding="utf-8")
    (tmp_path / "old").chmod(0o640)
    (tmp_path / "plain").touch()
    for name in ("old", "new"):
        write_whole(tmp_path / name, "x")
    assert (tmp_path / "old").stat().st_mode & 0o777 == 0o640
    assert (tmp_path / "new").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_what_is_there_already_stays_where_a_new_file_is_wanted(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "a", "x", over=False)
    assert contents(tmp_path) == {"a": "mine"}
