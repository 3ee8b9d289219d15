"""Wording of messages, docstrings, comments and documentation, by a list of words that they do not use."""

import ast
import io
import json
import re
import tokenize

import pytest

from tests.helpers.paths import ROOT

FORBIDDEN = re.compile(
    r"\b(?:wants?|wanted|tells?|told|reckons?|reckoned|(?:comes?|goes) home|on whose word|as it runs|how sure|no rest"
    r"|made good|robs|quoted before|nobody|at odds|if need be|has no say|second-hand|hearsay|neediest|promises)\b",
    re.IGNORECASE,
)

AMERICAN = re.compile(
    r"\b(?:behaviors?|neighbors?|neighboring|centered|aluminum|labeled|labeling|modeled|modeling|catalogs?"
    r"|liters?|gray|analyz\w+|minimiz\w+|optimiz\w+|summariz\w+|normaliz\w+)\b"
)

HERE = "tests/unit/docs/test_language.py"

BLOCK = re.compile(r"^```(?:text|console)\n.*?^```$", re.MULTILINE | re.DOTALL)


def files(*suffixes):
    found = (
        path for folder in ("heatloop", "tests", "docs", "notebooks", "data") for path in (ROOT / folder).rglob("*")
    )
    there = [
        path for path in (*found, *ROOT.glob("*.md")) if path.suffix in suffixes and "__pycache__" not in path.parts
    ]
    names = sorted(str(path.relative_to(ROOT)) for path in there)
    return [name for name in names if name != HERE and "bad_surveys/latin" not in name]


def words_of_code(source):
    """Line and text of every string and docstring of a module, and of every comment where a forbidden word is."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value
    if not FORBIDDEN.search(source):  # nor does any of its comments, which stand there as they are
        return
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string


def words_of(name):
    """Line and text of all that a file says; what a page shows as output is worded where it is printed."""
    text = (ROOT / name).read_text(encoding="utf-8")
    if name.endswith(".py"):
        yield from words_of_code(text)
    elif name.endswith(".ipynb"):
        for number, cell in enumerate(json.loads(text)["cells"], start=1):
            yield number, "".join(cell["source"])
    else:
        text = BLOCK.sub("", text) if name.endswith(".md") else text
        yield from enumerate(text.splitlines(), start=1)


def test_forbidden_words_are_found():
    said = "This wants a valve. It tells all. the water comes home; found 3 W, wanted at most 2 W"
    assert [match[0] for match in FORBIDDEN.finditer(said)] == ["wants", "tells", "comes home", "wanted"]
    source = '"""It wants."""\nx = f"told {1}"  # reckoned\nwanted = told = 1\n'
    assert [line for line, text in words_of_code(source) if FORBIDDEN.search(text)] == [1, 2, 2]


@pytest.mark.parametrize("suffix", [".py", ".md", ".ipynb", ".toml", ".html", ".pyi"])
def test_no_forbidden_word(suffix):
    found = {
        f"{name}:{line}: {match[0]}"
        for name in files(suffix)
        for line, text in words_of(name)
        for match in FORBIDDEN.finditer(text)
    }
    assert not sorted(found)


def test_spelling_is_british():
    found = {
        f"{name}:{line}: {match[0]}"
        for name in files(".md", ".ipynb", ".html")
        for line, text in words_of(name)
        for match in AMERICAN.finditer(text)
    }
    assert not sorted(found)
