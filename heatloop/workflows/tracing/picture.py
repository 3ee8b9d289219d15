"""Pages of a PDF, or an image file, as pictures for the screen.

PDF pages are rendered with pypdfium2, images are read with Pillow, which matplotlib brings; both are imported only
when used.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.text.files import UnusableFile, file_bytes

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_FILE_BYTES = 200_000_000
LONGEST_SIDE_PX = 4000
"""A picture is made smaller than this, so that a page of any paper size can be sent to the screen."""
SHORTEST_SIDE_PX = 20
MAX_IMAGE_PX = 170_000_000
"""A scan of the largest paper at 300 pixels per inch."""
POINTS_IN_INCH = 72.0
PDF_MARK, PDF_MARK_WITHIN = b"%PDF", 1024
"""A PDF contains this mark within so many bytes from its start."""
JPEG_QUALITY = 88
IMAGES = "a PDF, or an image such as PNG or JPEG"


@dataclass(frozen=True)
class PagePicture:
    """One page as a picture: its number, size in pixels, and the bytes of a PNG or JPEG file."""

    number: int
    width_px: int
    height_px: int
    content: bytes
    media_type: str


def page_pictures(path: Path, numbers: Sequence[int], dpi: float) -> tuple[PagePicture, ...]:
    """The pages of those numbers, from 1; an image file is page 1.

    Raises InputError in one line: no such file, a folder, neither PDF nor image, a PDF that is encrypted or has no
    pages, no such page, a picture that is damaged, too large or too small.
    """
    content = _content(path)
    if PDF_MARK in content[:PDF_MARK_WITHIN] or path.suffix.casefold() == ".pdf":
        return _pdf_pages(path, content, numbers, dpi)
    if tuple(numbers) != (1,):
        raise _error(path, f"page {', '.join(map(str, numbers))} of an image", "page 1: an image has no other")
    return (_image(path, content),)


def _error(path: Path, found: str, required: str) -> InputError:
    return InputError([InputIssue(str(path), "", found, required)])


def _content(path: Path) -> bytes:
    try:
        return file_bytes(path, MAX_FILE_BYTES)
    except FileNotFoundError:
        raise _error(path, "no such file", f"the path of {IMAGES}") from None
    except IsADirectoryError:
        raise _error(path, "a folder", f"the path of {IMAGES}") from None
    except UnusableFile as error:
        raise _error(path, error.found, error.required) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _error(path, f"a file that cannot be opened ({reason})", IMAGES) from None


def _pdf_pages(path: Path, content: bytes, numbers: Sequence[int], dpi: float) -> tuple[PagePicture, ...]:
    import pypdfium2 as pdfium

    if PDF_MARK not in content[:PDF_MARK_WITHIN]:
        raise _error(path, "a file that is no PDF, whatever its name", IMAGES)
    try:
        document = pdfium.PdfDocument(content)
    except pdfium.PdfiumError as error:
        if "password" in str(error).casefold() and b"/Encrypt" in content:  # the error may be that of a file before
            raise _error(path, "a PDF that is encrypted", "the same saved without a password") from None
        found = "a PDF that is damaged or has no pages"
        raise _error(path, found, "a complete PDF, saved again by the program that made it") from None
    try:
        count = len(document)
        missing = [number for number in numbers if number > count]
        if missing:
            raise _error(path, f"page {missing[0]}", f"a page from 1 to {count}")
        return tuple(_pdf_page(path, document, number, dpi) for number in numbers)
    finally:
        document.close()


def _pdf_page(path: Path, document: Any, number: int, dpi: float) -> PagePicture:
    import pypdfium2 as pdfium

    try:
        page = document[number - 1]
        size = page.get_size()
        scale = min(dpi / POINTS_IN_INCH, LONGEST_SIDE_PX / max(size))
        if not math.isfinite(scale) or min(size) * scale < SHORTEST_SIDE_PX:
            found = f"page {number} of {size[0]:.4g} x {size[1]:.4g} points"
            raise _error(path, found, f"a page of ordinary proportions, at least {SHORTEST_SIDE_PX} pixels wide")
        return _encoded(number, page.render(scale=scale).to_pil(), "PNG")
    except (pdfium.PdfiumError, ZeroDivisionError, OverflowError):
        raise _error(path, f"page {number}, which is damaged", "a complete PDF, saved again") from None


def _image(path: Path, content: bytes) -> PagePicture:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # large scans are in order
            opened = Image.open(io.BytesIO(content))
        kind = "JPEG" if opened.format in ("JPEG", "MPO") else "PNG"
        if opened.width * opened.height > MAX_IMAGE_PX:
            found = f"an image of {opened.width} x {opened.height} pixels"
            raise _error(path, found, f"at most {MAX_IMAGE_PX // 1_000_000} million pixels")
        shown = _on_white(ImageOps.exif_transpose(opened))
    except UnidentifiedImageError:
        raise _error(path, "a file that is no PDF and no image", IMAGES) from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise _error(path, "an image that is damaged or too large", "a complete image, saved again") from None
    shown.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    if min(shown.size) < SHORTEST_SIDE_PX:
        found = f"an image of {shown.width} x {shown.height} pixels"
        raise _error(path, found, f"at least {SHORTEST_SIDE_PX} pixels each way")
    return _encoded(1, shown, kind)


def _on_white(image: Image) -> Image:
    """An image in red, green and blue, with white in place of transparent parts, within the size limit."""
    from PIL import Image as images

    if image.mode in ("L", "RGB", "RGBA"):
        image.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))  # before it takes more memory
    if "A" not in image.getbands() and "transparency" not in image.info:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    return images.alpha_composite(images.new("RGBA", layer.size, "white"), layer).convert("RGB")


def _encoded(number: int, image: Image, kind: str) -> PagePicture:
    held = io.BytesIO()
    image.convert("RGB").save(held, kind, quality=JPEG_QUALITY)
    return PagePicture(number, image.width, image.height, held.getvalue(), f"image/{kind.lower()}")
