"""A picture is taken by what its bytes say, and its marks are shares of it."""

import io

import pytest
from PIL import Image

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.picture import look_at, read_marks, tapped, write_marks


def drawn(kind: str, size: tuple[int, int] = (400, 300), **how: object) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, "wheat").save(held, kind, **how)
    return held.getvalue()


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (drawn("JPEG"), "image/jpeg"),
        (drawn("JPEG", progressive=True), "image/jpeg"),
        (drawn("PNG"), "image/png"),
        (drawn("WEBP"), "image/webp"),
        (drawn("WEBP", lossless=True), "image/webp"),
    ],
    ids=["jpeg", "progressive", "png", "webp", "lossless webp"],
)
def test_a_picture_says_its_kind_and_size(content: bytes, media_type: str) -> None:
    found = look_at(content)
    assert (found.media_type, found.width, found.height) == (media_type, 400, 300)


def test_a_camera_held_upright_gives_an_upright_picture() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    found = look_at(drawn("JPEG", exif=exif))
    assert (found.width, found.height) == (300, 400)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "Take or choose"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "drawing"),
        (b"%PDF-1.7 and so on", "document"),
        (drawn("GIF"), "GIF"),
        (b"\x00\x00\x00\x18ftypheic" + b"\0" * 200, "HEIC"),
        (b"<html><body>larvae.jpg</body></html>", "no picture"),
        (drawn("JPEG")[:600], "no picture"),  # the wifi broke off
        (drawn("PNG")[:-30], "no picture"),
        (drawn("WEBP")[:-40], "no picture"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 60, "no picture"),
        (drawn("PNG", (20, 20)), "too small"),
        (b"\xff\xd8\xff" + b"\0" * 7_400_000, "MB"),
    ],
)
def test_what_is_no_picture_is_refused_in_words(content: bytes, sentence: str) -> None:
    with pytest.raises(RuleBroken, match=sentence):
        look_at(content)


def test_a_picture_no_tablet_can_unpack_is_refused() -> None:
    huge = bytearray(drawn("PNG"))
    huge[16:24] = (30_000).to_bytes(4, "big") * 2
    with pytest.raises(RuleBroken, match="too many pixels"):
        look_at(bytes(huge))


def test_a_tap_sets_a_mark_and_a_tap_on_it_takes_it_away() -> None:
    marks = tapped(tapped((), (0.5, 0.5)), (0.7, 0.2))
    assert marks == ((0.5, 0.5), (0.7, 0.2))
    assert tapped(marks, (0.505, 0.503)) == ((0.7, 0.2),)


def test_marks_are_read_as_they_were_written() -> None:
    marks = ((0.1234, 0.5), (1.0, 0.0))
    assert read_marks(write_marks(marks)) == marks
    for text in ("0.5", "0.5,1.2", "nan,0.1", "a,b", "0.5,0.5 " * 2001):
        with pytest.raises(RuleBroken):
            read_marks(text)
