"""The pages are true: blocks print what they show, keys and schemas are current, links lead somewhere."""

import datetime as dt
import json
import re
import shlex
import tomllib
from html.parser import HTMLParser

import jsonschema
import pytest

import heatloop as hl
from heatloop.cli.main import parser
from heatloop.findings.input_errors import InputError
from heatloop.handover.commissioning import pressures, water_treatment
from heatloop.survey.files.json_schema import SCHEMAS, catalogue_schema, survey_schema, write_schemas
from heatloop.survey.read import survey_of
from tests.helpers.paths import DATA, ROOT
from tests.helpers.scripts import loaded

DOCS = ROOT / "docs"


refresh = loaded(DOCS / "refresh.py")
ALL_PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]
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


def test_every_table_of_both_files_is_described():
    text = "".join((DOCS / page).read_text(encoding="utf-8") for page in ("survey-format.md", "catalogue-format.md"))
    assert set(re.findall(r"<!-- keys (\w+) -->", text)) == set(refresh.key_tables())


@pytest.mark.parametrize("page", ALL_PAGES, ids=name)
def test_commands_that_are_shown_and_not_run_are_understood(page):
    lines = [line for block in blocks(page, "sh") for line in block.splitlines() if line.startswith("heatloop ")]
    for line in lines:
        assert parser().parse_args(shlex.split(line)[1:]).run
    assert lines or page.stem != "how-to"


def test_a_page_that_lies_is_caught(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("```python\nprint(1 + 1)\n```\n\n```text\n3\n```\n", encoding="utf-8")
    assert refresh.refreshed(page) == "```python\nprint(1 + 1)\n```\n\n```text\n2\n```\n"


def test_pages_run_nothing_but_the_program_and_their_own_scripts(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("```console\n$ rm -r /nothing\n```\n", encoding="utf-8")
    with pytest.raises(ValueError, match="not a command that a page may run"):
        refresh.refreshed(page)


@pytest.mark.parametrize("page", refresh.PAGES, ids=name)
def test_toml_shown_fits_the_schemas(page):
    for text in blocks(page, "toml"):
        for key, value in tomllib.loads(text).items():
            schema = next(s for s in (survey_schema(), catalogue_schema()) if key in s["properties"])
            jsonschema.validate(value, {**schema["properties"][key], "$defs": schema["$defs"]})


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


@pytest.mark.parametrize("path", SURVEYS, ids=name)
def test_surveys_and_catalogues_in_the_checkout_validate(path):
    survey = tomllib.loads(path.read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(json.dumps(survey, default=dt.date.isoformat)), survey_schema())
    catalogue = path.parent / survey["project"]["catalogue"]
    jsonschema.validate(tomllib.loads(catalogue.read_text(encoding="utf-8")), catalogue_schema())


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


def test_every_column_has_its_unit_or_is_told_to_have_none(lodge):
    text = (DOCS / "words.md").read_text(encoding="utf-8")
    endings = re.findall(r"^\| `(_\w+)` \|", text, re.M)
    without = set(re.findall(r"`([a-z]\w*)`", text))
    untold = [
        f"{table}.{column}"
        for table, frame in lodge.tables.items()
        for column in frame.select_dtypes(include=["number", "bool"]).columns
        if not column.endswith(tuple(endings)) and column not in without
    ]
    assert not untold


def test_every_check_stands_in_limits_and_cautions(lodge):
    text = (DOCS / "limits-and-cautions.md").read_text(encoding="utf-8")
    assert not [check for check in lodge.checks["check"].unique() if f"| {check} |" not in text]


def test_every_check_of_the_closed_system_stands_there_too(lodge):
    text = (DOCS / "limits-and-cautions.md").read_text(encoding="utf-8")
    checks = set(lodge.commissioning().tables["commissioning_checks"]["check"])
    limits = (pressures.VESSEL, pressures.PRECHARGE, pressures.ROOM_ABOVE, pressures.HOT, pressures.WEAKEST,
              pressures.TEST, water_treatment.SOFTENED, water_treatment.INHIBITOR, water_treatment.FILTER)  # fmt: skip
    for check in checks | {limit.check for limit in limits}:
        assert f"| {check} |" in text


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
        for target in re.findall(r"!\[[^\]]+\]\((?:docs/)?pictures/([\w.-]+)\)", page.read_text(encoding="utf-8"))
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
    reference = (tmp_path / "reference.html").read_text(encoding="utf-8")
    for public in set(hl.__all__) - {"physics", "plotting"}:
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
    assert all(tool in needs for tool in ("ruff", "mypy", "pytest", "pytest-xdist"))
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in ci
    # .ci/run takes the first block of README that holds this word
    assert "/pytest/" in ci
    fenced = re.findall(r"^```.*?\n(.*?)^```$", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    assert next(block for block in fenced if "pytest" in block) == second


def test_python_version_is_the_one_that_pyproject_asks_for():
    least = CONFIG["project"]["requires-python"].removeprefix(">=")
    assert f"Python {least} or newer" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_licence_is_the_one_that_pyproject_names():
    (file,) = CONFIG["project"]["license-files"]
    text = (ROOT / file).read_text(encoding="utf-8")
    assert text.startswith(f"{CONFIG['project']['license']} License")
    assert "heatloop maintainers" in text
