"""Keep the pages up to date: run their code blocks and commands, and write the output back into them.

`python docs/refresh.py` writes the schemas, the tables of keys, the files shown and the output of every
python and console block; `tests/unit/docs/test_docs.py` fails while a page differs from what this would write.
Pictures have a script of their own, `docs/pictures/make.py`.

What a page may hold:

- ```` ```python ````: run in order, one set of names for a page; a ```` ```text ```` block right after is its output;
- ```` ```console ````: lines after `$ ` are run from the top of the checkout, the rest is their output;
- `<!-- keys XTable -->` before a table: a line that states what it is and the keys of that table of the survey or
  catalogue file, all of it written from the table in `heatloop/survey/files/`;
- `<!-- tables RESULT -->` before sections of the third level: the tables of that result, its key figures last, column
  by column, all of it written from their descriptions;
- `<!-- build-ups -->` before a table: the library of usual build-ups, U or deck resistance and source of each;
- `<!-- commands -->`: every command with its arguments, from the argument parser;
- `<!-- exit statuses -->` before a block: the exit statuses of the help text;
- `<!-- checks MODULE ... -->`: the limits of these modules, with the words of `reference/limits.toml`;
- `<!-- file PATH -->` before a block: that file, path from `docs/`.

Blocks marked ```` ```sh ```` install things and are not run here.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import re
import runpy
import shlex
import sys
import textwrap
import tomllib
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import heatloop as hl
from heatloop.__main__ import main as heatloop_command
from heatloop.cli.main import COMMANDS, EXIT_STATUSES, parser
from heatloop.findings.limits import Limit
from heatloop.handover.commissioning import pressure_checks, water_treatment
from heatloop.handover.first_fix import checks as first_fix_checks
from heatloop.handover.second_fix import thermal_movement
from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.report.files.design_schema import write_design_schema
from heatloop.results.checks import frost_checks, heat_checks, limits, plausibility
from heatloop.survey.files.json_schema import key_tables, write_schemas
from heatloop.text.column import Column, TableDescription
from heatloop.text.formatting import listing
from heatloop.text.table_set import Table

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
WRITTEN_ELSEWHERE = {"validation.md", "reliability.md"}
"""Pages that the tests write from their own records."""

PAGES = (
    ROOT / "README.md",
    DOCS / "index.md",
    *(page for page in sorted(DOCS.glob("*/*.md")) if page.name not in WRITTEN_ELSEWHERE),
)
"""The pages whose blocks are run."""

CHECK_MODULES = (
    *(heat_checks, limits, frost_checks, plausibility),
    *(pressure_checks, water_treatment, thermal_movement, first_fix_checks),
)
"""The modules that declare limits."""

DATA_FLOW = DOCS / "pictures" / "data_flow.py"

BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
OUTPUT = re.compile(r"\n\n```text\n(.*?)^```$", re.MULTILINE | re.DOTALL)
KEYS = re.compile(r"^<!-- keys (\w+) -->\n(?:[^|\n].*\n\n)?(?:\|.*\n)*", re.MULTILINE)
TABLES = re.compile(r"^<!-- tables (\w+) -->\n(?:(?!## ).*\n)*", re.MULTILINE)
BUILD_UPS = re.compile(r"^<!-- build-ups -->\n(?:\|.*\n)*", re.MULTILINE)
COMMAND_LIST = re.compile(r"^<!-- commands -->\n(?:\n|(?!## Exit status).*\n)*(?=## Exit status)", re.MULTILINE)
CHECK_LIST = re.compile(r"^<!-- checks ([\w ]+) -->\n+(?:\|.*\n)*", re.MULTILINE)
EXIT_LIST = re.compile(r"^<!-- exit statuses -->\n```text\n.*?^```$", re.MULTILINE | re.DOTALL)
FILE = re.compile(r"^<!-- file (\S+) -->\n```(\w+)\n.*?^```$", re.MULTILINE | re.DOTALL)
HEAD = "| key | value | default | meaning |\n| --- | --- | --- | --- |\n"


def refreshed(page: Path) -> str:
    """The text of a page as it should be."""
    text = page.read_text(encoding="utf-8")
    text = KEYS.sub(lambda found: _keys(found[1]), text)
    text = TABLES.sub(lambda found: _tables(found[1]) + ("\n" if found.end() < len(text) else ""), text)
    text = BUILD_UPS.sub(lambda _: _build_ups(), text)
    text = COMMAND_LIST.sub(lambda _: _commands(), text)
    text = EXIT_LIST.sub(lambda _: f"<!-- exit statuses -->\n```text\n{textwrap.dedent(EXIT_STATUSES)}```", text)
    text = CHECK_LIST.sub(lambda found: _checks(found[1]), text)
    text = FILE.sub(lambda found: _file(found[1], found[2]), text)
    with _from_root():
        return _run_blocks(text, page.name)


def _run_blocks(text: str, name: str) -> str:
    """The same text with the output of its blocks as they give it now."""
    done, at, names = "", 0, {"__name__": name}
    while found := BLOCK.search(text, at):
        done += text[at : found.start()]
        language, body, at = found[1], found[2], found.end()
        if language == "console":
            body = _console(body)
        done += f"```{language}\n{body}```"
        if language == "python":
            printed = _captured(partial(exec, compile(body, name, "exec"), names))
            after = OUTPUT.match(text, at)
            at = after.end() if after else at
            done += f"\n\n```text\n{printed}```" if printed else ""
    return done + text[at:]


def _console(body: str) -> str:
    commands = [line for line in body.splitlines() if line.startswith("$ ")]
    return "".join(f"{line}\n{_captured(partial(_command, line[2:]))}" for line in commands)


def _command(line: str) -> None:
    """Run `heatloop ...` or `python SCRIPT ...` in this process."""
    program, *arguments = shlex.split(line)
    if program == "heatloop":
        with _wide_terminal():
            heatloop_command(arguments)
    elif program == "python":
        _script(Path(arguments[0]), arguments)
    else:
        raise ValueError(f"{line}: not a command that a page may run")


def _script(path: Path, arguments: list[str]) -> None:
    before = sys.argv, sys.path
    sys.argv, sys.path = arguments, [str(path.parent), *sys.path]
    try:
        runpy.run_path(str(path), run_name="__main__")
    finally:
        sys.argv, sys.path = before


def _captured(run: Callable[[], object]) -> str:
    """What `run` prints, on both streams, without spaces at the ends of lines."""
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        run()
    return "".join(line.rstrip() + "\n" for line in printed.getvalue().splitlines())


@contextlib.contextmanager
def _wide_terminal() -> Iterator[None]:
    """A terminal of 100 columns, wherever the pages are made."""
    before = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "100"
    try:
        yield
    finally:
        if before is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = before


@contextlib.contextmanager
def _from_root() -> Iterator[None]:
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        yield
    finally:
        os.chdir(before)


def _file(path: str, language: str) -> str:
    text = (DOCS / path).read_text(encoding="utf-8")
    return f"<!-- file {path} -->\n```{language}\n{text}```"


def _build_ups() -> str:
    """The library of usual build-ups as a table."""
    lines = ["<!-- build-ups -->\n", "| build_up | U, W/(m2 K) | source |\n", "| --- | --- | --- |\n"]
    for one in usual_build_ups().values():
        deck = f"deck {one.floor_m2k_w or 0.0:g} m2 K/W" + (", suspended" if one.suspended else "")
        value = deck if one.u_w_m2k is None else f"{one.u_w_m2k:g}"
        lines.append(f"| `{one.name}` | {value} | {one.source} |\n")
    return "".join(lines)


def _commands() -> str:
    """Every command with its arguments and examples."""
    (subparsers,) = (a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    parts = ["<!-- commands -->\n"]
    for command in COMMANDS:
        lines = [f"## `heatloop {command.name}`\n", f"\n{command.about[0].upper()}{command.about[1:]}.\n"]
        lines.append("\n| argument | meaning |\n| --- | --- |\n")
        for action in subparsers.choices[command.name]._actions:
            if not isinstance(action, argparse._HelpAction):
                lines.append(f"| {_argument(action)} | {(action.help or '').replace('%%', '%')} |\n")
        lines.append("\n```sh\n" + "\n".join(command.examples) + "\n```\n")
        parts.append("".join(lines))
    return "\n".join(parts) + "\n"


def _argument(action: argparse.Action) -> str:
    """An argument as it is typed."""
    values = [str(action.metavar)] if action.metavar else list(action.choices or ())
    if not action.option_strings:
        return f"`{values[0]}`"
    takes = f" {values[0]}" if values and action.nargs != 0 else ""
    names = ", ".join(f"`{name}{takes}`" for name in action.option_strings)
    names = listing([names, *(f"`{value}`" for value in values[1:])], "or")
    return f"{names}, required" if action.required else names


def check_limits(module: str) -> dict[str, Limit]:
    """The limits that a module declares, by the name of their constant; one that it imports counts where it is used."""
    (held,) = (one for one in CHECK_MODULES if one.__name__.endswith(f".{module}"))
    return {name: value for name, value in vars(held).items() if isinstance(value, Limit)}


def _checks(modules: str) -> str:
    """A row for every limit of these modules: check, limit, consequence, recommendation, source."""
    words = tomllib.loads((DOCS / "reference" / "limits.toml").read_text(encoding="utf-8"))
    lines = [f"<!-- checks {modules} -->\n\n", "| check | limit | if not met | what to do | source |\n"]
    lines.append("| --- | --- | --- | --- | --- |\n")
    listed = set()
    for module in modules.split():
        found = check_limits(module)
        for name, limit in words[module].items():
            one = found[name]
            if (one.check, limit) not in listed:
                listed.add((one.check, limit))
                remedy = one.remedy or "as the report states for this place"
                lines.append(f"| {one.check} | {limit} | {one.miss} | {remedy} | {one.source} |\n")
    return "".join(lines)


def _tables(result: str) -> str:
    """Every table of a result, and its key figures, as tables of their columns."""
    held = getattr(hl, result)
    attributes = {
        member.description.name: name
        for base in reversed(held.__mro__)
        for name, member in vars(base).items()
        if isinstance(member, Table)
    }
    of_design = {} if held is hl.Design else hl.Design.descriptions()
    parts = []
    for one in held.descriptions().values():
        columns = _columns(one.columns)
        if one.name in of_design and one.columns == of_design[one.name].columns:
            columns = f"The columns are those of the [table of a design](#{_anchor(one)}).\n"
        about = f"{one.about}{_other_name(one.name, attributes[one.name])}"
        parts.append(f"### {one.title}: `{attributes[one.name]}`\n\n{about}\n\n{columns}")
    if held.summary_columns:
        parts.append(f"### Key figures: `summary`\n\n{_columns(held.summary_columns)}")
    return "\n".join((f"<!-- tables {result} -->\n", *parts))


def _anchor(table: TableDescription) -> str:
    """Where the section of a table of a design begins."""
    return f"{table.title.lower().replace(' ', '-')}-{table.name}"


def _other_name(name: str, attribute: str) -> str:
    return "" if name == attribute else f" In `tables`, files and workbook: `{name}`."


def _columns(columns: Iterable[Column]) -> str:
    lines = ["| column | heading | meaning: source |\n", "| --- | --- | --- |\n"]
    for column in columns:
        meaning = column.documented_meaning or "–"
        lines.append(f"| `{column.name}` | {column.documented_heading} | {meaning} |\n")
    return "".join(lines)


def _keys(table: str) -> str:
    """What the table is, in one line, and a row for every key of the schema."""
    schema = key_tables()[table]
    lines = [
        f"| `{key}` | {_value(given)} | {_default(key, given, schema)} | {given.get('description', '')} |\n"
        for key, given in schema["properties"].items()
    ]
    return f"<!-- keys {table} -->\n{' '.join(schema['description'].split())}\n\n{HEAD}{''.join(lines)}"


def _value(given: dict[str, Any]) -> str:
    """What a key requires, in the words of the schema."""
    if "$ref" in given:
        return f"{_table_name(given)} table"
    items = given.get("items", {})
    if "$ref" in items:
        return f"list of {_table_name(items)} tables"
    if "$ref" in items.get("items", {}):
        return f"two lists of {_table_name(items['items'])} tables"
    words = re.sub(r", (as a text in quotes|without quotes).*", "", str(given["requirement"]))
    return words.removeprefix("a number in ").replace("a list of", "list of")


def _table_name(given: dict[str, Any]) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", given["$ref"].rsplit("/", 1)[1].removesuffix("Table")).lower()


def _default(key: str, given: dict[str, Any], schema: dict[str, Any]) -> str:
    if key in schema.get("required", ()):
        return "required"
    if any(key in choice["required"] for choice in schema.get("anyOf", ())):
        return "required, or `copy_of`" if key != "copy_of" else "–"
    if given.get("default", "") == "":
        return "–"
    value = given["default"]
    return f"`{str(value).lower()}`" if isinstance(value, bool) else f"`{value!r}`".replace("'", '"')


def main() -> None:
    """Write everything back."""
    write_schemas(DOCS)
    write_design_schema(DOCS)
    _script(DATA_FLOW, [str(DATA_FLOW)])
    for page in PAGES:
        text = refreshed(page)
        if text != page.read_text(encoding="utf-8"):
            page.write_text(text, encoding="utf-8")
            print(f"{page.relative_to(ROOT)} rewritten")


if __name__ == "__main__":
    main()
