"""The pages are true: blocks print what they show, keys and schemas are current, links lead somewhere."""

import datetime as dt
import re
import shlex
import tomllib
from html.parser import HTMLParser

import jsonschema
import pytest

import heatloop as hl
from heatloop.cli.main import COMMANDS, parser
from heatloop.findings.input_errors import InputError
from heatloop.survey.files.json_schema import SCHEMAS, catalogue_schema, survey_schema, write_schemas, year_schema
from heatloop.survey.read import survey_of
from tests.helpers.paths import DATA, ROOT
from tests.helpers.scripts import loaded

DOCS = ROOT / "docs"
REFERENCE = DOCS / "reference"


refresh = loaded(DOCS / "refresh.py")
ALL_PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
CONFIG = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SURVEYS = [*sorted(DATA.glob("*/survey.toml")), *sorted((ROOT / "tests/surveys").glob("*/survey.toml"))]
SURVEYS.append(DOCS / "walk" / "survey.toml")


def name(path):
    return str(path.relative_to(ROOT))


def blocks(page, language):
    return [found[2] for found in refresh.BLOCK.finditer(page.read_text(encoding="utf-8")) if found[1] == language]


# --- what pages show -----------------------------------------------------------------------------------


@pytest.mark.parametrize("page", refresh.PAGES, ids=name)
def test_a_page_shows_what_its_blocks_print_and_every_key(page):
    assert refresh.refreshed(page) == page.read_text(encoding="utf-8"), "run python docs/refresh.py and read the change"


@pytest.mark.parametrize("page", refresh.PAGES, ids=name)
def test_every_key_has_a_meaning(page):
    bare = [
        row for row in re.findall(r"^\| `\w+` \|.*$", page.read_text(encoding="utf-8"), re.M) if row.endswith("|  |")
    ]
    assert not bare


def cells(line):
    """How many cells a row of a table has; "|" within code or after a backslash does not part cells."""
    return len(re.findall(r"(?<!\\)\|", re.sub(r"`[^`]*`", "", line))) - 1


@pytest.mark.parametrize("page", ALL_PAGES, ids=name)
def test_every_row_of_a_table_has_a_cell_for_each_heading(page):
    text = refresh.BLOCK.sub("", page.read_text(encoding="utf-8"))
    tables = [table.splitlines() for table in re.findall(r"(?:^\|.*\n?)+", text, re.M)]
    assert [row for head, *rows in tables for row in rows if cells(row) != cells(head)] == []


def test_every_table_of_every_file_is_described():
    kinds = ("survey", "catalogue", "year")
    text = "".join((REFERENCE / f"{kind}-format.md").read_text(encoding="utf-8") for kind in kinds)
    assert set(re.findall(r"<!-- keys (\w+) -->", text)) == set(refresh.key_tables())


@pytest.mark.parametrize("page", ALL_PAGES, ids=name)
def test_commands_that_are_shown_and_not_run_are_understood(page):
    lines = [line for block in blocks(page, "sh") for line in block.splitlines() if line.startswith("heatloop ")]
    for line in lines:
        assert parser().parse_args(shlex.split(line)[1:]).run
    assert lines or page.stem not in ("commands", "first-flat")


def test_a_page_that_lies_is_caught(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("```python\nprint(1 + 1)\n```\n\n```text\n3\n```\n", encoding="utf-8")
    assert refresh.refreshed(page) == "```python\nprint(1 + 1)\n```\n\n```text\n2\n```\n"


def test_pages_run_nothing_but_the_program_and_their_own_scripts(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("```console\n$ rm -r /nothing\n```\n", encoding="utf-8")
    with pytest.raises(ValueError, match="not a command that a page may run"):
        refresh.refreshed(page)


def schema_errors(value, schema):
    """What a JSON schema finds wrong with a value."""
    return [error.message for error in jsonschema.Draft202012Validator(schema).iter_errors(value)]


@pytest.mark.parametrize("page", refresh.PAGES, ids=name)
def test_toml_shown_fits_the_schemas(page):
    for text in blocks(page, "toml"):
        for key, value in tomllib.loads(text).items():
            schema = next(s for s in (survey_schema(), catalogue_schema(), year_schema()) if key in s["properties"])
            assert not schema_errors(as_json(value), {**schema["properties"][key], "$defs": schema["$defs"]}), key


# --- schemas -------------------------------------------------------------------------------------------


def test_stored_schemas_are_current(tmp_path):
    write_schemas(tmp_path)
    for file in SCHEMAS:
        assert (DOCS / file).read_text(encoding="utf-8") == (tmp_path / file).read_text(encoding="utf-8"), (
            "run python docs/refresh.py"
        )


@pytest.mark.parametrize("make", SCHEMAS.values(), ids=SCHEMAS)
def test_schemas_are_schemas(make):
    jsonschema.Draft202012Validator.check_schema(make())


def as_json(node):
    """The tables of a file as JSON has them: a day is a text there."""
    if isinstance(node, dict):
        return {key: as_json(child) for key, child in node.items()}
    if isinstance(node, list):
        return [as_json(child) for child in node]
    return node.isoformat() if isinstance(node, dt.date) else node


@pytest.mark.parametrize("path", SURVEYS, ids=name)
def test_surveys_and_catalogues_in_the_checkout_validate(path):
    survey = as_json(tomllib.loads(path.read_text(encoding="utf-8")))
    assert not schema_errors(survey, survey_schema())
    catalogue = path.parent / survey["project"]["catalogue"]
    assert not schema_errors(tomllib.loads(catalogue.read_text(encoding="utf-8")), catalogue_schema())


def set_at(tables, place, value):
    *steps, last = place
    for step in steps:
        tables = tables[step]
    tables[last] = value


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("project", "outdoor_c"), "cold"),
        (("project", "flow_temp_c"), 111.0),
        (("project", "delta_t_k"), 0.0),
        (("project", "size_by"), "guess"),
        (("project", "nmae"), "a key that is not there"),
        (("room", 0, "walls", 0, "length_m"), 4200.0),
        (("room", 0, "walls", 0, "turn_deg"), 180.0),
        (("room", 0, "vulnerable"), 1),
        (("room", 0, "walls"), []),
        (("loop", 0, "name"), " "),
        (("loop", 0, "route", 0, "walls"), [0]),
        (("loop",), []),
    ],
)
def test_schema_and_reader_refuse_the_same(place, value):
    tables = tomllib.loads((DOCS / "walk" / "survey.toml").read_text(encoding="utf-8"))
    set_at(tables, place, value)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tables, survey_schema())
    with pytest.raises(InputError):
        survey_of(tables, DOCS / "walk" / "survey.toml")


def test_a_room_like_another_may_leave_out_all_but_its_name():
    tables = tomllib.loads((DOCS / "walk" / "survey.toml").read_text(encoding="utf-8"))
    tables["room"].append({"name": "Snug", "copy_of": "Parlour"})
    jsonschema.validate(tables, survey_schema())
    tables["room"][-1] = {"name": "Snug"}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tables, survey_schema())


# --- words and limits ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def lodge(alder_draft):
    return alder_draft


def test_every_column_has_its_unit_or_is_listed_without(lodge):
    text = (REFERENCE / "words.md").read_text(encoding="utf-8")
    endings = re.findall(r"^\| `(_\w+)` \|", text, re.M)
    without = set(re.findall(r"`([a-z]\w*)`", text))
    missing = [
        f"{table}.{column}"
        for table, frame in lodge.tables.items()
        for column in frame.select_dtypes(include=["number", "bool"]).columns
        if not column.endswith(tuple(endings)) and column not in without
    ]
    assert not missing


def test_every_check_is_on_the_page_of_checks(lodge):
    text = (REFERENCE / "checks.md").read_text(encoding="utf-8")
    assert not [check for check in lodge.checks["check"].unique() if f"| {check} |" not in text]


def test_every_check_of_the_closed_system_is_there_too(lodge):
    text = (REFERENCE / "checks.md").read_text(encoding="utf-8")
    for check in lodge.commissioning().tables["commissioning_checks"]["check"].unique():
        assert f"| {check} |" in text


def test_every_limit_of_the_code_has_its_words():
    words = tomllib.loads((REFERENCE / "limits.toml").read_text(encoding="utf-8"))
    declared = {
        module.__name__.rpartition(".")[2]: set(refresh.check_limits(module.__name__.rpartition(".")[2]))
        for module in refresh.CHECK_MODULES
    }
    assert {module: set(rows) for module, rows in words.items()} == declared
    shown = re.findall(r"<!-- checks ([\w ]+) -->", (REFERENCE / "checks.md").read_text(encoding="utf-8"))
    assert set(" ".join(shown).split()) == set(words)


def test_every_module_with_limits_is_read():
    declaring = {
        path.stem
        for path in (ROOT / "heatloop").rglob("*.py")
        if re.search(r"^[A-Z_]+ = Limit\(", path.read_text(encoding="utf-8"), re.M)
    }
    assert declaring - {"limits"} == {module.__name__.rpartition(".")[2] for module in refresh.CHECK_MODULES} - {
        "limits"
    }


# --- commands and standards ----------------------------------------------------------------------------


def test_every_command_and_argument_is_on_the_page_of_commands():
    text = (REFERENCE / "commands.md").read_text(encoding="utf-8")
    for command in COMMANDS:
        assert f"## `heatloop {command.name}`" in text
        assert all(example in text for example in command.examples)
    assert "`--without-thermostats`" in text
    assert "`-o FOLDER`, `--output FOLDER`, required" in text


STANDARD = re.compile(
    r"\b(?:(?:BS|DIN) )?(?:EN ISO|EN|ISO|BS|DIN|VDI|IEC|SAP|IAPWS)[ -][A-Z]?\d{2,5}(?:-\d{1,2})*(?::\d{4})?(?!\d)"
)


def standards_of(text):
    """Standards named in a text, without national prefixes of European standards."""
    return {re.sub(r"^(?:BS|DIN) (?=EN)", "", name) for name in STANDARD.findall(text)}


def test_standards_are_recognised():
    text = "EN 12831-1:2017 and EN ISO 12241, BS EN ISO 6946, VDI 2035; SAP 2012, IAPWS R12-08; ISO 8601x, EN 7"
    assert standards_of(text) == {
        "EN 12831-1:2017",
        "EN ISO 12241",
        "EN ISO 6946",
        "VDI 2035",
        "SAP 2012",
        "ISO 8601",
    } | {"IAPWS R12-08"}


def test_every_standard_of_the_code_is_on_the_page_of_standards():
    page = (REFERENCE / "standards.md").read_text(encoding="utf-8")
    listed = {number for name in standards_of(page) for number in (name, name.partition(":")[0])}
    missing = set()
    for path in (ROOT / "heatloop").rglob("*"):
        if path.suffix in (".py", ".toml", ".csv"):
            for name in standards_of(path.read_text(encoding="utf-8")):
                plain = name.replace("EN ISO ", "ISO ") if name not in listed else name
                parent = re.sub(r"-\d$", "", plain)
                if plain not in listed and not any(one.startswith(f"{parent}-") for one in listed):
                    missing.add(f"{name}: {path.relative_to(ROOT)}")
    assert not missing


# --- links, pictures, site -----------------------------------------------------------------------------


def anchors(page):
    """The anchors that headings get from the site builder."""
    heads = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.M)
    return {re.sub(r"[\s-]+", "-", re.sub(r"[^\w\s-]", "", head).strip().lower()) for head in heads}


@pytest.mark.parametrize("page", ALL_PAGES, ids=name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        path, _, anchor = target.partition("#")
        assert not re.match(r"\w+:", target), f"{target}: an outside address"
        there = (page.parent / path).resolve() if path else page
        assert there.is_file(), target
        assert not anchor or anchor in anchors(there), target


def test_every_picture_is_made_shown_and_small():
    shown = {
        target
        for page in ALL_PAGES
        for target in re.findall(r"!\[[^\]]+\]\((?:docs/|\.\./)?pictures/([\w.-]+)\)", page.read_text(encoding="utf-8"))
    }
    stored = {path.name for path in (DOCS / "pictures").glob("*.png")}
    assert shown == stored == {*maker().PICTURES, "data-flow.png"}
    assert max((DOCS / "pictures" / picture).stat().st_size for picture in stored) < 150_000


def maker():
    return loaded(DOCS / "pictures" / "make.py")


@pytest.mark.parametrize("picture", ["rooms.png", "ground-floor.png", "water.png", "walk.png"])
def test_pictures_can_be_drawn(picture, lodge, tmp_path):
    make = maker()
    draw, survey = make.PICTURES[picture]
    figure = draw(lodge if survey == make.LODGE else hl.size(survey))
    figure.savefig(tmp_path / picture)
    make.plt.close(figure)
    assert (tmp_path / picture).stat().st_size > 5_000


def test_the_shortcut_picture_rests_on_published_figures():
    """E14 of the check tables: 938.7 W by the mean, 930.4 W with no link, 876.8 W with a link of 5."""
    measure = loaded(DOCS / "pictures" / "measure.py")
    cases = [measure.Case(0.030, link) for link in (0.0, 5.0)]
    assert measure.promised_w(cases[0]) == pytest.approx(938.7, abs=0.1)
    assert measure.arrives_w(cases) == pytest.approx([930.4, 876.8], abs=0.1)


class OutsideAddresses(HTMLParser):
    """Collects what a page would fetch from outside."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        if tag in ("script", "link", "img", "iframe"):
            self.found += [
                value for key, value in attrs if key in ("src", "href") and re.match(r"(https?:)?//", value or "")
            ]


def test_the_site_builds_and_fetches_nothing_from_outside(tmp_path):
    build = pytest.importorskip("mkdocs.commands.build", reason='needs pip install -e ".[docs]"').build
    from mkdocs.config import load_config

    build(load_config(str(ROOT / ".mkdocs.yml"), site_dir=str(tmp_path)))
    reader = OutsideAddresses()
    for page in tmp_path.rglob("*.html"):
        reader.feed(page.read_text(encoding="utf-8"))
    assert not reader.found
    assert (tmp_path / "survey.schema.json").is_file()
    reference = (tmp_path / "reference" / "api.html").read_text(encoding="utf-8")
    for public in set(hl.__all__) - {"build", "physics", "plotting"}:
        assert re.search(rf'id="heatloop\.[a-z_.]+\.{public}"', reference), public


# --- the two commands of README ------------------------------------------------------------------------


def test_the_first_command_names_what_there_is():
    first, _ = blocks(ROOT / "README.md", "sh")
    assert 'pip install -e ".[notebook]"' in first
    assert "notebook" in CONFIG["project"]["optional-dependencies"]
    *_, command = first.split("&&")
    program, action, survey, option, _ = shlex.split(command)
    assert program in CONFIG["project"]["scripts"]
    assert (action, option) == ("report", "-o")
    assert (ROOT / survey).is_file()


def test_the_second_command_is_the_one_that_ci_runs():
    _, second = blocks(ROOT / "README.md", "sh")
    needs = " ".join(CONFIG["project"]["optional-dependencies"]["test"])
    assert all(tool in needs for tool in ("ruff", "mypy", "pytest", "pytest-xdist", "codespell"))
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in ci
    # .ci/run takes the first block of README that holds this word
    assert "/pytest/" in ci
    fenced = re.findall(r"^```.*?\n(.*?)^```$", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    assert next(block for block in fenced if "pytest" in block) == second


def test_python_version_is_the_one_that_pyproject_asks_for():
    minimum = CONFIG["project"]["requires-python"].removeprefix(">=")
    assert f"Python {minimum} or newer" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_licence_is_the_one_that_pyproject_names():
    (file,) = CONFIG["project"]["license-files"]
    text = (ROOT / file).read_text(encoding="utf-8")
    assert text.startswith(f"{CONFIG['project']['license']} License")
    assert "heatloop maintainers" in text
