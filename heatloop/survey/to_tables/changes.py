"""Tables of a file with some of their values changed."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue, quoted_value
from heatloop.survey.files.key_path import ITEMS, Loc, location_text
from heatloop.text.quoting import closest_name


def changed_tables(tables: Mapping[str, Any], changes: Mapping[str, Any], file: str) -> dict[str, Any]:
    """A copy of tables with the values of `changes`, which has the same structure.

    One of several tables is identified by its name, or by its number from 1 if tables have no names; None removes a
    key. Raises InputError for an unknown name or number, and for changes that are not a mapping.
    """
    changed = copy.deepcopy(dict(tables))
    issues: list[InputIssue] = []
    if isinstance(changes, Mapping):
        _change(changed, changes, (), changed, file, issues)
    else:
        issues.append(InputIssue(file, "changes", quoted_value(changes), "a mapping of tables to the keys to change"))
    if issues:
        raise InputError(issues)
    return changed


def _change(
    node: dict[str, Any],
    changes: Mapping[Any, Any],
    loc: Loc,
    root: dict[str, Any],
    file: str,
    issues: list[InputIssue],
) -> None:
    for key, value in changes.items():
        held = node.get(key)
        if value is None:
            node.pop(key, None)
        elif isinstance(value, Mapping) and isinstance(held, list):
            _change_items(held, value, (*loc, key), root, file, issues)
        elif isinstance(value, Mapping):
            table = node.setdefault(key, {}) if held is None or isinstance(held, dict) else {}
            node[key] = table
            _change(table, value, (*loc, key), root, file, issues)
        else:
            node[key] = copy.deepcopy(value)


def _change_items(
    items: list[Any], changes: Mapping[Any, Any], loc: Loc, root: dict[str, Any], file: str, issues: list[InputIssue]
) -> None:
    names = [item.get("name", number) if isinstance(item, dict) else number for number, item in enumerate(items, 1)]
    for name, value in changes.items():
        if name not in names or not isinstance(value, Mapping):
            kind = ITEMS.get(str(loc[-1]), str(loc[-1]))
            required = f"a mapping of the keys to change of {kind} {name}"
            if name not in names:
                required = closest_name(f"the name or number of a {kind}", str(name), map(str, names))
            found = quoted_value(name if name not in names else value)
            issues.append(InputIssue(file, location_text(root, loc), found, required))
            continue
        index = names.index(name)
        if isinstance(items[index], dict):
            _change(items[index], value, (*loc, index), root, file, issues)
        else:
            required = "the whole list: its items cannot be changed one by one"
            issues.append(InputIssue(file, location_text(root, loc), quoted_value(value), required))
