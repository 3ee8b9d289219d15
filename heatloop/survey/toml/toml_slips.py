"""Syntax errors of a TOML file in plain words: what was found and what is required."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from heatloop.text.quoting import brief

CURLY = "“”„‟‘’‚«»"
TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]', re.DOTALL
)
AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
COMMENT = re.compile(r"[ \t]*#.*")
HEADING = re.compile(r"^[ \t]*\[[ \t]*([A-Za-z0-9_-]+)[ \t]*\][ \t]*(?:#.*)?$", re.MULTILINE)


@dataclass(frozen=True)
class Slip:
    """One syntax error: its place in the file, what was found and what to write instead."""

    place: str
    found: str
    required: str


def single_brackets(text: str, many: Collection[str]) -> list[Slip]:
    """Headings in single brackets of tables that can occur several times and require double brackets."""
    return [
        Slip(place_of(text, heading.start(1)), f"[{heading[1]}]", f"[[{heading[1]}]] in double brackets, once for each")
        for heading in HEADING.finditer(text)
        if heading[1] in many
    ]


def comment_count(text: str) -> int:
    """How many comments a TOML text has.

    >>> comment_count('a = "#"  # one\\n# two\\n')
    2
    """
    return sum(token[0].startswith("#") for token in TOKEN.finditer(text))


def slip_of(text: str, message: str) -> Slip:
    """The mistake behind an error of the TOML reader; the message of the reader ends with its position."""
    at = AT.search(message)
    reason = message[: at.start()] if at else message
    position = _position(text, int(at[1]), int(at[2])) if at and at[1] else len(text.rstrip("\n"))
    found, required = _words(text, position, reason)
    return Slip(place_of(text, position), found, required)


def _words(text: str, position: int, reason: str) -> tuple[str, str]:
    """Found and required, in words."""
    start = text.rfind("\n", 0, position) + 1
    line = text[start:].partition("\n")[0]
    following = text[position:].partition("\n")[0]
    ended = any(words in reason for words in ("Illegal character", "Unterminated string", "Expected \"'"))
    if re.search(r"=\s*[+-]?\d+,\d+\s*([,}#]|$)", line):
        return "a decimal comma", "a decimal point, not a comma"
    if any(c in CURLY for c in (line if ended else following[:1])):
        return "curly quotes", 'straight quotes: "Hall"'
    if (ended and not following.strip()) or ('"' in TOKEN.sub("", line) and '"' in line[: position - start]):
        return "a text without its closing quote", 'a quote at its end: "Hall"'
    if "Illegal character" in reason:
        return "a character that is not visible", "visible characters and spaces"
    if "Unescaped" in reason or "hex value" in reason:
        return "a backslash in a text", "/ in its place, or the text in single quotes: 'a\\b'"
    words = (
        _twice_words(line, reason)
        or _bracket_words(text, position, following, reason)
        or _value_words(line, following, reason)
        or (f"what is not TOML ({reason.lower()})", "a key = value or a [table]")
    )
    return words


def _bracket_words(text: str, position: int, following: str, reason: str) -> tuple[str, str] | None:
    """Words for an error inside brackets or braces; None where there is no such error."""
    if "at the end of" in reason and "declaration" in reason:
        return "the heading of a table without its closing bracket", "[source], or [[room]] where there are several"
    stack = _open(text, position)
    if not stack:
        return None
    bracket, began = stack[-1]
    since = f"that begins at {place_of(text, began)}"
    if bracket == "{":
        if not following.strip() or following.lstrip().startswith("#"):
            return f"a line break inside braces, {since}", "all of { ... } on one line, closed by }"
        if following.startswith("}"):
            return "a comma before }", "no comma after the last key in braces"
        if "Unclosed inline table" in reason:
            return "no comma between two keys in braces", 'a comma between them: { room = "Hall", walls = [1] }'
    elif "Unclosed array" in reason:
        if not following.strip() or re.match(r"\[|[\w-]+\s*=", following):
            return f"a list without its closing bracket, {since}", "] at its end"
        return "no comma between two items of a list", "a comma between them: [1, 2]"
    elif re.match(r"\[\[|[\w.-]+\s*=", following):
        return f"a list without its closing bracket, {since}", "] at its end"
    return None


def _twice_words(line: str, reason: str) -> tuple[str, str] | None:
    """Words for a key or a table that occurs twice."""
    inline = re.search(r"Duplicate inline table key '(.*)'", reason)
    if inline:
        return f'the key "{brief(inline[1])}" a second time', "it once"
    if not any(words in reason for words in ("Cannot overwrite", "Cannot declare", "Cannot mutate", "Cannot redefine")):
        return None
    heading = re.match(r"\s*(\[+[^\]]*\]+)", line)
    if heading:
        return f"{brief(heading[1])} a second time", "it once, with all its keys"
    key = re.match(r"\s*([^=]*?)\s*=", line)
    return f'the key "{brief(key[1]) if key else ""}" a second time', "it once"


def _value_words(line: str, following: str, reason: str) -> tuple[str, str] | None:
    """Words for a value or a key that is not in TOML form."""
    word = re.match(r"[A-Za-z_][\w -]*", following)
    if reason == "Invalid value" and word:
        name = brief(word[0].strip())
        if name.lower() in ("yes", "no", "true", "false", "on", "off"):
            return name, "true or false, in small letters"
        return f"{name} without quotes", f'a text in quotes: "{name}"'
    bare = "" if COMMENT.fullmatch(following) else COMMENT.sub("", following).strip()
    if reason == "Invalid value" and not bare:
        return "a key without a value", "a value after ="
    if "Expected '='" in reason:
        colon = following.lstrip().startswith(":")
        return ("a colon after a key" if colon else "a key without ="), "key = value"
    if reason.startswith("Expected newline") and bare:
        key = re.match(r"\s*([\w.-]+)\s*=", line)
        after = f' of "{brief(key[1])}"' if key else ""
        return f"{brief(bare)} after the value{after}", "one key = value on a line, numbers without a unit"
    return None


def _open(text: str, position: int) -> list[tuple[str, int]]:
    """Brackets and braces that are open at a position, outermost first, with the position of each."""
    stack: list[tuple[str, int]] = []
    for token in TOKEN.finditer(text, 0, position):
        if token[0] in ("[", "{"):
            stack.append((token[0], token.start()))
        elif token[0] in ("]", "}") and stack:
            stack.pop()
    return stack


def _position(text: str, line: int, column: int) -> int:
    """Position in a text of a line and a column, both from 1."""
    start = 0
    for _ in range(line - 1):
        start = text.find("\n", start) + 1
    return min(start + column - 1, len(text))


def place_of(text: str, position: int) -> str:
    """The line and the column of a position, in words."""
    start = text.rfind("\n", 0, position) + 1
    return f"line {text.count(chr(10), 0, position) + 1}, column {position - start + 1}"
