"""What a picture's own bytes say: its kind, how wide and high it is shown; and marks on it.

Only the head is read: the picture itself is never unpacked here, and is kept as it came.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from hatchery_app.domain.errors import RuleBroken

LARGEST_BYTES = 7 * 1024 * 1024  # a post holds 8 MB; the rest of the form has to fit too
LARGEST_PIXELS = 60_000_000  # beyond it a tablet cannot unpack the picture
SMALLEST_SIDE = 48
MOST_MARKS = 2000
ON_A_MARK = 0.012  # a tap so near a mark, as a share of the width, means that mark

_TURNED = frozenset({5, 6, 7, 8})  # orientations of Exif that lie on their side
_SIZE_MARKERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_NOT_TAKEN = {
    b"GIF8": "A moving picture (GIF) cannot be marked; take a photograph.",
    b"%PDF": "That is a document (PDF); take a photograph of the tile or the dish.",
    b"<svg": "A drawing (SVG) is not taken; take a photograph.",
}


@dataclass(frozen=True)
class Picture:
    """A picture's kind and the width and height at which it is shown, in pixels."""

    media_type: str
    width: int
    height: int


def look_at(content: bytes) -> Picture:
    """What kind of picture these bytes are: JPEG, PNG or WebP, by what stands in them.

    Raises RuleBroken with a sentence for anything else, for what is cut off or empty, and for
    sizes that no tablet shows.
    """
    if not content:
        raise RuleBroken("Take or choose a picture.", field="picture")
    if len(content) > LARGEST_BYTES:
        megabytes = LARGEST_BYTES // (1024 * 1024)
        raise RuleBroken(
            f"That picture has {len(content) / 1024 / 1024:.1f} MB; at most {megabytes} MB fit. "
            "Set the camera to a smaller size, or cut the picture.",
            field="picture",
        )
    for begins, sentence in _NOT_TAKEN.items():
        if content.lstrip()[:4].lower() == begins.lower():
            raise RuleBroken(sentence, field="picture")
    if content[4:8] == b"ftyp":
        raise RuleBroken(
            "That is a HEIC or AVIF picture, which not every tablet shows. Set the camera to "
            "JPEG, or send a screen shot of it.",
            field="picture",
        )
    picture = _read(content)
    if picture is None:
        raise RuleBroken("That is no picture that can be shown here: JPEG, PNG or WebP.", "picture")
    if min(picture.width, picture.height) < SMALLEST_SIDE:
        raise RuleBroken("That picture is too small to count on.", field="picture")
    if picture.width * picture.height > LARGEST_PIXELS:
        raise RuleBroken("That picture has too many pixels for a tablet; cut it.", "picture")
    return picture


def _read(content: bytes) -> Picture | None:
    try:
        if content.startswith(b"\xff\xd8\xff"):
            return _jpeg(content)
        if content.startswith(b"\x89PNG\r\n\x1a\n"):
            return _png(content)
        if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
            return _webp(content)
    except (IndexError, ValueError):
        return None
    return None


def _jpeg(content: bytes) -> Picture | None:
    """Walk the segments to the one that says the size, minding how the camera was held."""
    turned, at = False, 2
    while at + 9 < len(content):
        if content[at] != 0xFF:
            return None
        marker = content[at + 1]
        if marker == 0xFF:  # fill bytes before a marker
            at += 1
            continue
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        if length < 2:
            return None
        if marker == 0xE1 and content[at + 4 : at + 10] == b"Exif\x00\x00":
            turned = _exif_orientation(content[at + 10 : at + 2 + length]) in _TURNED
        if marker in _SIZE_MARKERS:
            height = int.from_bytes(content[at + 5 : at + 7], "big")
            width = int.from_bytes(content[at + 7 : at + 9], "big")
            # A picture that broke off on its way is shown half grey: its end is missing.
            if b"\xff\xd9" not in content[-4096:]:
                return None
            return Picture("image/jpeg", *((height, width) if turned else (width, height)))
        at += 2 + length
    return None


def _exif_orientation(tiff: bytes) -> int:
    """The orientation an Exif block says, 1 where it says none."""
    order = {b"II": "little", b"MM": "big"}.get(tiff[:2])
    if order is None:
        return 1
    first = int.from_bytes(tiff[4:8], order)  # type: ignore[arg-type]
    entries = int.from_bytes(tiff[first : first + 2], order)  # type: ignore[arg-type]
    for number in range(min(entries, 64)):
        entry = tiff[first + 2 + 12 * number : first + 14 + 12 * number]
        if int.from_bytes(entry[:2], order) == 0x0112:  # type: ignore[arg-type]
            return int.from_bytes(entry[8:10], order)  # type: ignore[arg-type]
    return 1


def _png(content: bytes) -> Picture | None:
    if content[12:16] != b"IHDR" or b"IEND" not in content[-64:]:
        return None
    width, height = (int.from_bytes(content[at : at + 4], "big") for at in (16, 20))
    return Picture("image/png", width, height)


def _webp(content: bytes) -> Picture | None:
    if int.from_bytes(content[4:8], "little") + 8 > len(content) + 1:
        return None
    kind = content[12:16]
    if kind == b"VP8X":
        width, height = (int.from_bytes(content[a : a + 3], "little") + 1 for a in (24, 27))
    elif kind == b"VP8L" and content[20] == 0x2F:
        bits = int.from_bytes(content[21:25], "little")
        width, height = (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    elif kind == b"VP8 " and content[23:26] == b"\x9d\x01\x2a":
        width, height = (int.from_bytes(content[a : a + 2], "little") & 0x3FFF for a in (26, 28))
    else:
        return None
    return Picture("image/webp", width, height)


# --- marks ------------------------------------------------------------------------------------

Mark = tuple[float, float]
"""Where a mark stands: the share of the width from the left, of the height from the top."""


def read_marks(text: str) -> tuple[Mark, ...]:
    """Marks as they are kept: "0.1234,0.5678 0.2,0.9". Raises RuleBroken for what is none."""
    marks = []
    for written in text.split():
        across, _, down = written.partition(",")
        try:
            mark = (float(across), float(down))
        except ValueError as reason:
            raise RuleBroken("Those marks cannot be read.", field="marks") from reason
        if not (0 <= mark[0] <= 1 and 0 <= mark[1] <= 1):  # refuses nan too
            raise RuleBroken("A mark lies outside the picture.", field="marks")
        marks.append(mark)
    if len(marks) > MOST_MARKS:
        raise RuleBroken(f"At most {MOST_MARKS} marks are kept with one picture.", field="marks")
    return tuple(marks)


def write_marks(marks: Sequence[Mark]) -> str:
    """The text that `read_marks` reads, to a ten-thousandth of the picture."""
    return " ".join(f"{across:.4f},{down:.4f}" for across, down in marks)


def tapped(marks: Sequence[Mark], tap: Mark, *, height_over_width: float = 1.0) -> tuple[Mark, ...]:
    """The marks after a tap: one more, or, where it met a mark, that one gone."""

    def away(mark: Mark) -> float:
        return hypot(mark[0] - tap[0], (mark[1] - tap[1]) * height_over_width)

    nearest = min(marks, key=away, default=None)
    if nearest is not None and away(nearest) <= ON_A_MARK:
        return tuple(mark for mark in marks if mark is not nearest)
    return (*marks, tap)
