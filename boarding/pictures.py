"""Pictures: is what was sent a photo, and what of it may be kept?

Only the pixels are kept: turned upright, in sRGB, at most 2400 px long, written anew as JPEG without
position, device, preview, comment or anything else the file carried. The capture time and the checksums of
what came and of what is kept are given back beside it. The kind of file is told by its contents, never by
its name. Units: bytes, pixels; the capture time is the camera's own clock without a zone. Errors:
`PictureRefused` with a sentence for the person who sent it. Sources: Exif 2.32 (tags 0x0112 Orientation,
0x9003 DateTimeOriginal, from memory); first bytes of each kind of file by JPEG (ITU-T T.81), PNG (W3C) and
WebP (RFC 9649).

>>> sent = io.BytesIO()
>>> Image.new("RGB", (40, 30), "green").save(sent, "PNG")
>>> kept = clean(sent.getvalue())
>>> kept.media_type, kept.width, kept.height, kept.taken_at
('image/jpeg', 40, 30, None)
"""

import hashlib
import io
import re
import struct
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, time

from PIL import Image, ImageCms, ImageFile

MAX_BYTES = 25 * 1024 * 1024
MAX_PIXELS = 50_000_000
LONGEST_SIDE = 2400
QUALITY = 86
MEDIA_TYPE = "image/jpeg"

KINDS = {"JPEG": b"\xff\xd8\xff", "PNG": b"\x89PNG\r\n\x1a\n", "WEBP": b"RIFF"}
# A page or a program hidden in a picture: never in a camera's file, so it is turned away rather than washed.
HIDDEN = re.compile(rb"<script|<!doctype html|<html|<svg[\s>]|<\?php\s|<iframe", re.IGNORECASE)
DOCUMENT_MARK = b"%PDF-"
DOCUMENT_MARK_WITHIN = 1024

# The kind that some phones keep their photos in; only the phone itself turns it into JPEG reliably.
PHONE_KINDS = (b"ftyphei", b"ftyphev", b"ftypmif1", b"ftypavif")

ORIENTATION, EXIF_BLOCK, TAKEN_ORIGINALLY, TAKEN = 0x0112, 0x8769, 0x9003, 0x0132
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
SHRINKABLE_MODES = ("RGB", "RGBA", "L", "LA", "CMYK")
UNREADABLE = (
    OSError,
    ValueError,
    SyntaxError,
    TypeError,
    KeyError,
    IndexError,
    EOFError,
    OverflowError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
)


class PictureRefused(ValueError):
    """What was sent cannot be kept as a photo; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class CleanPicture:
    """The picture that is kept. `taken_at` is ISO text without a zone, None when the camera left no time."""

    data: bytes
    media_type: str
    width: int
    height: int
    taken_at: str | None
    original_sha256: str
    sha256: str


def clean(data: bytes, *, max_bytes: int = MAX_BYTES) -> CleanPicture:
    """The picture alone, without anything else that the file carried."""
    _refuse_by_bytes(data, max_bytes)
    kept, taken_at = _read(data)
    written = io.BytesIO()
    kept.save(written, "JPEG", quality=QUALITY, optimize=True, exif=b"", comment=b"", icc_profile=None)
    return CleanPicture(
        data=written.getvalue(),
        media_type=MEDIA_TYPE,
        width=kept.width,
        height=kept.height,
        taken_at=taken_at,
        original_sha256=hashlib.sha256(data).hexdigest(),
        sha256=hashlib.sha256(written.getvalue()).hexdigest(),
    )


@contextmanager
def _unwarned() -> Iterator[None]:
    """Without Pillow's warnings of damaged notes of the camera: they do no harm to the photo."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", category=UserWarning, module=r"PIL\.")
        yield


def _read(data: bytes) -> tuple[Image.Image, str | None]:
    """The pixels as they are kept, and the capture time."""
    # A switch for the whole process: other libraries turn it on when they are loaded, and half a photo would pass.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with _unwarned(), Image.open(io.BytesIO(data), formats=list(KINDS)) as opened:
            _refuse_by_header(opened)
            exif = _exif(opened)
            upright = _upright(_shrunk(opened), exif)
            return _on_white(_in_srgb(upright, opened.info.get("icc_profile"))), _taken_at(exif)
    except PictureRefused:
        raise
    except UNREADABLE as broken:
        raise PictureRefused("This photo is damaged and cannot be read: take or send it again.") from broken


def _refuse_by_bytes(data: bytes, max_bytes: int) -> None:
    """Size, first bytes, and what else hides in the file."""
    if not data:
        raise PictureRefused("This file is empty: take or send the photo again.")
    if len(data) > max_bytes:
        raise PictureRefused(
            f"This photo has {len(data) / 1024**2:.0f} MB; at most {max_bytes / 1024**2:.0f} MB can be kept: "
            "send it in a smaller size."
        )
    if data[4:12].startswith(PHONE_KINDS):
        raise PictureRefused("This kind of photo cannot be read here: send it as a JPEG picture.")
    if not data.startswith(tuple(KINDS.values())) or (data[:4] == KINDS["WEBP"] and data[8:12] != b"WEBP"):
        raise PictureRefused("This is no photo: send a JPEG, PNG or WebP picture.")
    if _hides_something(data):
        raise PictureRefused("Something else is hidden in this picture, so it is not kept: take a new photo.")


def _hides_something(data: bytes) -> bool:
    """Is the file at the same time a page, a program, a document or an archive?"""
    return (
        HIDDEN.search(data) is not None
        or DOCUMENT_MARK in data[:DOCUMENT_MARK_WITHIN]
        or zipfile.is_zipfile(io.BytesIO(data))
    )


def _refuse_by_header(opened: Image.Image) -> None:
    """Pixels and frames, before a single pixel is unpacked."""
    if opened.width * opened.height > MAX_PIXELS:
        raise PictureRefused(
            f"This picture has {opened.width} x {opened.height} points, more than a camera makes: "
            "send it in a smaller size."
        )
    if getattr(opened, "n_frames", 1) > 1 and opened.format != "MPO":
        raise PictureRefused("This picture moves: send a single photo.")


def _exif(opened: Image.Image) -> Image.Exif:
    """What the camera wrote down; nothing when that part of the file is damaged, which does no harm to the photo."""
    try:
        exif = opened.getexif()
        exif.update({TAKEN_ORIGINALLY: exif.get_ifd(EXIF_BLOCK).get(TAKEN_ORIGINALLY)})
    except UNREADABLE:
        return Image.Exif()
    return exif


def _shrunk(opened: Image.Image) -> Image.Image:
    """At most as long as pictures are kept; first of all, because all later steps take memory by the pixel."""
    image = opened
    if opened.mode not in SHRINKABLE_MODES:
        image = opened.convert("RGBA" if opened.has_transparency_data else "RGB")
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    return image


def _upright(image: Image.Image, exif: Image.Exif) -> Image.Image:
    """Turned the way the camera was held."""
    turn = TURNS.get(exif.get(ORIENTATION, 1))
    return image if turn is None else image.transpose(turn)


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """In RGB or RGBA; colours are converted by the picture's own profile where it has a usable one."""
    if profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            changed = ImageCms.profileToProfile(
                image, source, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError):
            changed = None
        if changed is not None:
            return changed
    return image.convert("RGBA" if image.has_transparency_data else "RGB")


def _on_white(image: Image.Image) -> Image.Image:
    """The pixels alone, in a picture that knows nothing of the file; white where it was transparent."""
    plain = Image.new("RGB", image.size, "white")
    plain.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    return plain


def _taken_at(exif: Image.Exif) -> str | None:
    """The capture time of the camera, None when there is none or it is no time."""
    text = exif.get(TAKEN_ORIGINALLY) or exif.get(TAKEN) or ""
    match = re.match(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)(?!\d)", str(text), flags=re.ASCII)
    if match is None:
        return None
    try:
        day, at = date.fromisoformat(f"{match[1]}-{match[2]}-{match[3]}"), time.fromisoformat(match[4])
    except ValueError:
        return None
    return f"{day}T{at}"
