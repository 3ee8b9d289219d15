"""The surveys and catalogues of the repository."""

from tests.helpers.paths import DATA, HARBOUR_LOFT, ROOT

SURVEYS = (
    DATA / "alder-lodge" / "survey.toml",
    DATA / "alder-lodge" / "draft.toml",
    DATA / "mill-annexe" / "survey.toml",
    HARBOUR_LOFT / "survey.toml",
    ROOT / "docs" / "walk" / "survey.toml",
    ROOT / "heatloop" / "survey" / "templates" / "survey.toml",
)
CATALOGUES = (
    DATA / "alder-lodge" / "catalogue.toml",
    DATA / "mill-annexe" / "catalogue.toml",
    HARBOUR_LOFT / "catalogue.toml",
)


def name_of(path) -> str:
    """Folder and name of a file, for the names of tests."""
    return f"{path.parent.name}-{path.stem}"
