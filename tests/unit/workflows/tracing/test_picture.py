"""Pictures of pages, and one line for every file that gives none."""

import io
import random

import pytest

import heatloop as hl
from heatloop.workflows.tracing.picture import LONGEST_SIDE_PX, page_pictures
from tests.helpers.traced_house import PLAN

images = pytest.importorskip("PIL.Image")
pdfium = pytest.importorskip("pypdfium2")


def opened(picture):
    return images.open(io.BytesIO(picture.content))


def test_pages_of_a_pdf_at_their_resolution():
    first, second = page_pictures(PLAN, (1, 2), 150.0)
    assert (first.number, first.width_px, first.height_px, first.media_type) == (1, 1754, 1241, "image/png")
    assert opened(first).size == (1754, 1241)
    assert second.content != first.content
    (small,) = page_pictures(PLAN, (2,), 75.0)
    assert abs(small.width_px - 877) <= 1


def blank_pdf(path, width_pt=595.0, height_pt=842.0):
    document = pdfium.PdfDocument.new()
    document.new_page(width_pt, height_pt)
    document.save(str(path))
    return path


def test_a_huge_page_is_made_smaller(tmp_path):
    (page,) = page_pictures(blank_pdf(tmp_path / "a0.pdf", 14400.0, 7200.0), (1,), 600.0)
    assert abs(page.width_px - LONGEST_SIDE_PX) <= 1
    assert abs(page.height_px - LONGEST_SIDE_PX / 2) <= 1


def image(path, size=(300, 200), **more):
    images.new("RGB", size, "red").save(path, **more)
    return path


def test_an_image_is_turned_upright_and_kept_within_limits(tmp_path):
    turned = images.Exif()
    turned[0x0112] = 6  # a camera held upright
    (photo,) = page_pictures(image(tmp_path / "photo.jpg", exif=turned), (1,), 150.0)
    assert (photo.width_px, photo.height_px, photo.media_type) == (200, 300, "image/jpeg")
    (large,) = page_pictures(image(tmp_path / "large.png", (8000, 100)), (1,), 150.0)
    assert (large.width_px, large.height_px, large.media_type) == (4000, 50, "image/png")


def test_transparent_parts_are_white_as_paper(tmp_path):
    images.new("RGBA", (40, 40), (0, 0, 0, 0)).save(tmp_path / "clear.png")
    (picture,) = page_pictures(tmp_path / "clear.png", (1,), 150.0)
    assert opened(picture).getpixel((20, 20)) == (255, 255, 255)


def no_pages():
    held = io.BytesIO()
    pdfium.PdfDocument.new().save(held)
    return held.getvalue()


def encrypted():
    """A PDF with the dictionary of an encryption, which no password opens."""
    return (
        b"%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[]/Count 0>>endobj\n"
        b"3 0 obj<</Filter/Standard/V 1/R 2/O<" + b"00" * 32 + b">/U<" + b"11" * 32 + b">/P -4>>endobj\n"
        b"trailer<</Root 1 0 R/Encrypt 3 0 R/ID[<00><00>]>>\n%%EOF\n"
    )


FILES = {
    "missing.pdf": (None, "no such file"),
    "notes.pdf": (b"only a text", "a file that is no PDF, whatever its name"),
    "cut.pdf": (b"%PDF-1.7\nand no more", "a PDF that is damaged or has no pages"),
    "none.pdf": (no_pages(), "a PDF that is damaged or has no pages"),
    "locked.pdf": (encrypted(), "a PDF that is encrypted"),
    "notes.png": (b"only a text", "a file that is no PDF and no image"),
    "empty.jpg": (b"", "a file that is no PDF and no image"),
}


@pytest.mark.parametrize("name", [*FILES, "none.pdf"])
def test_a_file_that_cannot_be_used_gives_one_line(tmp_path, name):
    content, found = FILES[name]
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(hl.InputError) as error:
        page_pictures(path, (1,), 150.0)
    assert str(error.value).startswith(f"{path}: found {found}")
    assert "\n" not in str(error.value)


def test_pages_and_folders_that_cannot_be_used(tmp_path):
    truncated = tmp_path / "half.png"
    truncated.write_bytes(image(tmp_path / "whole.png", (600, 600)).read_bytes()[:200])
    narrow = blank_pdf(tmp_path / "narrow.pdf", 14000.0, 3.0)
    for path, numbers, found in (
        (PLAN, (3,), "page 3; required: a page from 1 to 2"),
        (tmp_path, (1,), "a folder"),
        (tmp_path / "whole.png", (2,), "page 2 of an image"),
        (truncated, (1,), "damaged"),
        (narrow, (1,), "ordinary proportions"),
        (image(tmp_path / "dot.png", (3, 3)), (1,), "an image of 3 x 3 pixels"),
    ):
        with pytest.raises(hl.InputError) as error:
            page_pictures(path, numbers, 150.0)
        assert found in str(error.value)
        assert "\n" not in str(error.value)


def test_an_image_of_too_many_pixels_is_not_unpacked(tmp_path, monkeypatch):
    monkeypatch.setattr("heatloop.workflows.tracing.picture.MAX_IMAGE_PX", 1000)
    with pytest.raises(hl.InputError, match="an image of 300 x 200 pixels"):
        page_pictures(image(tmp_path / "big.png"), (1,), 150.0)


@pytest.mark.parametrize("name", ["plan.pdf", "photo.png", "photo.jpg"])
def test_a_damaged_file_gives_a_picture_or_one_line(tmp_path, name):
    rng = random.Random(7)
    whole = PLAN.read_bytes() if name == "plan.pdf" else image(tmp_path / name).read_bytes()
    for _ in range(40):
        content = bytearray(whole)
        for _ in range(rng.randint(1, 30)):
            content[rng.randrange(len(content))] = rng.randrange(256)
        (tmp_path / name).write_bytes(bytes(content[: rng.randint(1, len(content))] if rng.random() < 0.3 else content))
        try:
            (page,) = page_pictures(tmp_path / name, (1,), 36.0)
        except hl.InputError as error:
            lines = str(error).splitlines()
        else:
            lines = [f"{page.width_px} pixels"]
        assert len(lines) == 1
