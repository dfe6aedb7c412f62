"""The only place that opens an image: bounded, turned upright, made anew without its
position, camera or comments.

Limits and cost, measured on a two-core machine: a 12-megapixel JPEG of 4.5 MB becomes
1.1 MB in about 0.35 s. Sizes are read from the header before any pixel is decoded, so
that a small file that unfolds into a huge picture is refused unopened.
"""

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from practice.errors import Refused

FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 15_000_000
MOST_PIXELS = 50_000_000
LONGEST_SIDE = 2048
SMALL_SIDE = 640
QUALITY = 85
_one_at_a_time = threading.Lock()
"""Decoding a large picture takes much memory: requests wait for each other."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A JPEG that holds pixels and nothing else, and a small one for lists."""

    content: bytes
    small: bytes
    width_px: int
    height_px: int


def small_path(path: str) -> str:
    """Where the small copy of a photo lies."""
    return path.removesuffix(".jpg") + ".small.jpg"


def cleaned(upload: BinaryIO) -> CleanPhoto:
    """The picture in ``upload``, upright, at most 2048 px a side, as a fresh JPEG.

    Raises:
        Refused: too large, not a JPEG, PNG or WebP, or not whole; field ``photo``.
    """
    raw = upload.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise _refused("The photo is larger than 15 MB: send a smaller one.")
    try:
        with _one_at_a_time, _strictly():
            return _made_anew(raw)
    except Refused:
        raise
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
        OSError,
        SyntaxError,
        ValueError,
        EOFError,
    ) as fault:
        raise _refused(
            "This is no photo that can be read. Send a whole JPEG, PNG or WebP."
        ) from fault


@contextmanager
def _strictly() -> Iterator[None]:
    """A bomb is an error, and so is half a picture: WeasyPrint, once imported, tells
    the library to take those for the whole process.
    """
    lenient = ImageFile.LOAD_TRUNCATED_IMAGES
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = lenient


def _refused(sentence: str) -> Refused:
    return Refused(sentence, field="photo")


def _made_anew(raw: bytes) -> CleanPhoto:
    with Image.open(io.BytesIO(raw), formats=FORMATS) as picture:
        width, height = picture.size
        if width * height > MOST_PIXELS:
            raise _refused("The photo has more than 50 megapixels: send a smaller one.")
        if picture.format == "JPEG":
            picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        picture.load()
        upright = ImageOps.exif_transpose(picture)
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        shown = upright.convert("RGBA")
        fresh = Image.new("RGB", shown.size, "white")
        fresh.paste(shown, mask=shown.getchannel("A"))
    small = fresh.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return CleanPhoto(_jpeg(fresh), _jpeg(small), fresh.width, fresh.height)


def _jpeg(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
