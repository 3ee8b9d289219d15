"""The font's own tables, as read here, against the program that prints with it and the one that draws with it."""

from __future__ import annotations

import subprocess
import sys
import unicodedata

import pytest
from matplotlib import ft2font
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.textpath import TextPath

from heatloop.report.drawings.letters import FAMILY, MEASURED_SIZE, font_path, letter_advance, letter_ink
from heatloop.report.drawings.writers.sheet_pdf import embedded_font

LATIN = [chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0xAD), *range(0xAE, 0x180))]
OTHERS = list("αβπΩЖя–—‘’“”…•€→−×≤≥✓𝄞\U0001d400")

OLD_LIBRARY = tuple(map(int, ft2font.__freetype_version__.split("."))) < (2, 7)


@pytest.mark.parametrize("bold", [False, True])
def test_it_is_the_file_that_figures_are_drawn_with(bold: bool) -> None:
    assert str(font_path(bold)) == findfont(FontProperties(family=FAMILY, weight="bold" if bold else "normal"))


@pytest.mark.parametrize("bold", [False, True])
def test_letters_advance_as_they_are_printed(bold: bool) -> None:
    face = embedded_font(bold).face
    for letter in (*LATIN, *OTHERS):
        assert letter_advance(letter, bold) == face.charWidths.get(ord(letter), face.defaultWidth), letter


@pytest.mark.parametrize("bold", [False, True])
def test_letters_with_and_without_accents_are_as_wide_and_as_high_as_their_outlines(bold: bool) -> None:
    """Older drawing libraries set an accent on a whole pixel at a size of 100: half a pixel off at most."""
    font = FontProperties(family=FAMILY, weight="bold" if bold else "normal")
    for letter in LATIN:
        ink = letter_ink(letter, bold)
        if not letter.strip():
            assert ink is None
            continue
        drawn = TextPath((0.0, 0.0), letter, size=MEASURED_SIZE, prop=font).get_extents()
        assert ink is not None, letter
        extent = (ink.left, ink.low, ink.right, ink.top)
        off = 5.0 if OLD_LIBRARY and len(unicodedata.normalize("NFKD", letter)) > 1 else 0.0
        assert extent == pytest.approx((drawn.x0, drawn.y0, drawn.x1, drawn.y1), rel=0.0, abs=off + 1e-8), letter


def test_measuring_letters_loads_no_matplotlib() -> None:
    code = (
        "import sys; from heatloop.report.drawings.letters import ink_of; ink_of('Kitchen', True); "
        "print([name for name in ('matplotlib', 'reportlab') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
