"""Photos: what is taken, what is refused, what never survives."""

import io
import struct
import zlib

import pytest
from PIL import Image, ImageFile

from horses import photos
from horses.photos import cleaned
from practice.errors import Refused


def picture(size=(60, 40), kind="JPEG", mode="RGB", **more):
    out = io.BytesIO()
    Image.new(mode, size, "red").save(out, kind, **more)
    return out.getvalue()


def clean(raw):
    return cleaned(io.BytesIO(raw))


def opened(photo):
    return Image.open(io.BytesIO(photo.content))


def with_gps(orientation=1):
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010E] = "a comment"
    exif[0x0110] = "Some Camera"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (55.0, 36.0, 0.0)
    gps[3], gps[4] = "W", (2.0, 48.0, 0.0)
    return picture(exif=exif, comment=b"where it was taken")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_formats_become_jpegs(kind):
    photo = clean(picture(kind=kind))
    assert (photo.width_px, photo.height_px) == (60, 40)
    assert opened(photo).format == "JPEG"


def test_position_camera_and_comments_do_not_survive():
    raw = with_gps()
    assert Image.open(io.BytesIO(raw)).getexif().get_ifd(0x8825)
    photo = clean(raw)
    again = opened(photo)
    assert not again.getexif()
    assert "comment" not in again.info
    for trace in (b"Exif", b"Camera", b"where it was"):
        assert trace not in photo.content


def test_a_photo_is_turned_upright():
    photo = clean(with_gps(orientation=6))
    assert (photo.width_px, photo.height_px) == (40, 60)


def test_a_large_photo_is_made_smaller():
    photo = clean(picture((4000, 3000)))
    assert (photo.width_px, photo.height_px) == (2048, 1536)
    assert Image.open(io.BytesIO(photo.small)).size == (640, 480)


def test_what_is_seen_through_becomes_white():
    raw = io.BytesIO()
    Image.new("RGBA", (4, 4), (0, 0, 0, 0)).save(raw, "PNG")
    assert opened(clean(raw.getvalue())).getpixel((1, 1)) == (255, 255, 255)


def test_what_hides_behind_a_picture_is_left_behind():
    photo = clean(picture() + b"<script>alert(1)</script>")
    assert b"script" not in photo.content


def bomb(width, height):
    """A PNG header that promises a huge picture, with next to nothing behind it."""

    def chunk(name, body):
        check = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(7100, 7100), (12_000, 12_000), (60_000, 60_000)])
def test_a_bomb_is_refused_before_a_pixel_is_decoded(size, monkeypatch):
    def never(*args, **kwargs):
        raise AssertionError("decoded")

    monkeypatch.setattr(Image.Image, "convert", never)
    with pytest.raises(Refused) as refused:
        clean(bomb(*size))
    assert refused.value.field == "photo"


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>",
        b"<!doctype html><script>alert(1)</script>",
        b"GIF89a" + b"\0" * 40,
        picture()[:300],
        picture(kind="PNG")[:60],
    ],
    ids=["empty", "text", "svg", "html", "gif", "cut jpeg", "cut png"],
)
def test_what_is_no_whole_photo_is_refused_in_a_sentence(raw):
    with pytest.raises(Refused) as refused:
        clean(raw)
    assert refused.value.sentence.endswith(".")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_half_a_photo_is_refused_also_after_a_pdf_was_made(kind, monkeypatch):
    # WeasyPrint sets this for the whole process when it is imported
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    raw = io.BytesIO()
    Image.effect_noise((300, 200), 80).convert("RGB").save(raw, kind)
    with pytest.raises(Refused):
        clean(raw.getvalue()[: len(raw.getvalue()) // 2])
    assert ImageFile.LOAD_TRUNCATED_IMAGES


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "PPM", "ICO"])
def test_other_formats_are_refused(kind):
    with pytest.raises(Refused):
        clean(picture((32, 32), kind))


def test_too_many_bytes_are_refused(monkeypatch):
    monkeypatch.setattr(photos, "MOST_BYTES", 100)
    with pytest.raises(Refused, match="15 MB"):
        clean(picture())
