"""Photos as they are sent: what is accepted, what is left of them, what is refused."""

import hashlib
import io
import struct
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageDraw, ImageFile

from boarding.pictures import CleanPicture, PictureRefused, clean


def drawn(size: tuple[int, int] = (60, 40), mode: str = "RGB") -> Image.Image:
    """Red at the upper left, green at the upper right, blue at the lower left, white at the lower right."""
    width, height = size
    image = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, width // 2 - 1, height // 2 - 1), "red")
    draw.rectangle((width // 2, 0, width, height // 2 - 1), "lime")
    draw.rectangle((0, height // 2, width // 2 - 1, height), "blue")
    return image.convert(mode)


def saved(image: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def opened(picture: CleanPicture) -> Image.Image:
    return Image.open(io.BytesIO(picture.data))


def corners(image: Image.Image) -> list[str]:
    """The colour in the middle of each quarter, row by row."""
    names = {(255, 0, 0): "red", (0, 255, 0): "lime", (0, 0, 255): "blue", (255, 255, 255): "white"}
    width, height = image.size
    spots = [(x * width // 4, y * height // 4) for y in (1, 3) for x in (1, 3)]
    pixels = [image.convert("RGB").getpixel(spot) for spot in spots]
    return [
        min(
            names.items(),
            key=lambda named, p=pixel: sum(abs(a - b) for a, b in zip(named[0], p, strict=True)),
        )[1]
        for pixel in pixels
    ]


UPRIGHT = ["red", "lime", "blue", "white"]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_three_kinds_of_picture_are_accepted_by_their_contents(kind: str) -> None:
    sent = saved(drawn(), kind)
    picture = clean(sent)
    assert (picture.media_type, picture.width, picture.height) == ("image/jpeg", 60, 40)
    assert picture.taken_at is None
    assert picture.original_sha256 == hashlib.sha256(sent).hexdigest()
    assert picture.sha256 == hashlib.sha256(picture.data).hexdigest()
    assert opened(picture).format == "JPEG"
    assert corners(opened(picture)) == UPRIGHT


@pytest.mark.parametrize(
    ("mode", "kind"),
    [
        ("L", "JPEG"),
        ("CMYK", "JPEG"),
        ("RGBA", "PNG"),
        ("LA", "PNG"),
        ("P", "PNG"),
        ("1", "PNG"),
        ("RGBA", "WEBP"),
    ],
)
def test_every_kind_of_pixels_becomes_plain_colour(mode: str, kind: str) -> None:
    picture = clean(saved(drawn(mode=mode), kind))
    assert (opened(picture).mode, opened(picture).size) == ("RGB", (60, 40))


def test_transparent_becomes_white() -> None:
    picture = clean(saved(Image.new("RGBA", (20, 20), (255, 0, 0, 0)), "PNG"))
    assert opened(picture).getpixel((10, 10)) == (255, 255, 255)
    one_colour_clear = Image.new("P", (20, 20), 0)
    one_colour_clear.putpalette([255, 0, 0])
    picture = clean(saved(one_colour_clear, "PNG", transparency=0))
    assert opened(picture).getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("orientation", "stored_as"),
    [
        (1, None),
        (2, Image.Transpose.FLIP_LEFT_RIGHT),
        (3, Image.Transpose.ROTATE_180),
        (4, Image.Transpose.FLIP_TOP_BOTTOM),
        (5, Image.Transpose.TRANSPOSE),
        (6, Image.Transpose.ROTATE_90),
        (7, Image.Transpose.TRANSVERSE),
        (8, Image.Transpose.ROTATE_270),
    ],
)
def test_the_picture_is_turned_upright(orientation: int, stored_as: Image.Transpose | None) -> None:
    image = drawn() if stored_as is None else drawn().transpose(stored_as)
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture = clean(saved(image, exif=exif))
    assert (picture.width, picture.height) == (60, 40)
    assert corners(opened(picture)) == UPRIGHT


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_unknown_orientation_changes_nothing(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert corners(opened(clean(saved(drawn(), exif=exif)))) == UPRIGHT


@pytest.mark.parametrize(
    ("original", "changed", "expected"),
    [
        ("2026:06:03 07:10:09", None, "2026-06-03T07:10:09"),
        ("2026:06:03 07:10:09", "2026:06:05 18:00:00", "2026-06-03T07:10:09"),
        (None, "2026:06:05 18:00:00", "2026-06-05T18:00:00"),
        ("0000:00:00 00:00:00", None, None),
        ("2026:02:30 10:00:00", None, None),
        ("2026:06:03 25:10:09", None, None),
        ("    :  :     :  :  ", None, None),
        ("yesterday", None, None),
        (None, None, None),
    ],
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_capture_time_is_given_back(
    kind: str, original: str | None, changed: str | None, expected: str | None
) -> None:
    exif = Image.Exif()
    exif[0x010F] = "Invented Camera"
    if original:
        exif.get_ifd(0x8769)[0x9003] = original
    if changed:
        exif[0x0132] = changed
    assert clean(saved(drawn(), kind, exif=exif)).taken_at == expected


@pytest.mark.parametrize(
    "exif", [b"Exif\0\0rubbish", b"Exif\0\0II*\0\xff\xff\xff\xff", b"Exif\0\0", b"Exif\0\0MM\0*"]
)
def test_a_damaged_note_of_the_camera_does_no_harm(exif: bytes) -> None:
    picture = clean(saved(drawn(), exif=exif))
    assert picture.taken_at is None
    assert corners(opened(picture)) == UPRIGHT


@pytest.mark.parametrize(
    ("size", "kept"), [((4000, 3000), (2400, 1800)), ((1000, 3000), (800, 2400)), ((2400, 10), (2400, 10))]
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_the_longest_side_is_limited(kind: str, size: tuple[int, int], kept: tuple[int, int]) -> None:
    assert opened(clean(saved(drawn(size), kind))).size == kept


def test_colours_with_a_profile_are_kept_and_the_profile_is_not() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture = clean(saved(drawn(), icc_profile=profile))
    assert corners(opened(picture)) == UPRIGHT
    assert "icc_profile" not in opened(picture).info


def test_a_broken_profile_is_passed_over() -> None:
    assert corners(opened(clean(saved(drawn(), icc_profile=b"no profile")))) == UPRIGHT


def test_of_a_picture_with_a_second_view_the_first_is_kept() -> None:
    sent = saved(drawn(), "MPO", save_all=True, append_images=[Image.new("RGB", (60, 40), "black")])
    assert Image.open(io.BytesIO(sent)).format == "MPO"
    assert corners(opened(clean(sent))) == UPRIGHT


def test_a_film_behind_the_photo_is_left_behind() -> None:
    film = b"\0\0\0\x18ftypmp42" + bytes(range(256)) * 40
    picture = clean(saved(drawn()) + film)
    assert b"ftyp" not in picture.data


NO_PHOTO = "This is no photo: send a JPEG, PNG or WebP picture."


@pytest.mark.parametrize(
    "sent",
    [
        b"just some words",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<?xml version='1.0'?><svg/>",
        b"<!doctype html><title>photo.jpg</title>",
        b"%PDF-1.7\n",
        b"RIFF\x24\0\0\0WAVEfmt ",
        b"RIFF",
        b"\xff\xd8",
        saved(drawn(), "GIF"),
        saved(drawn(), "BMP"),
        saved(drawn(), "TIFF"),
        b"GIF89a" + saved(drawn()),
        b" " + saved(drawn()),
    ],
    ids=lambda sent: sent[:12],
)
def test_what_is_no_photo_is_refused_whatever_its_name(sent: bytes) -> None:
    with pytest.raises(PictureRefused) as refusal:
        clean(sent)
    assert refusal.value.sentence == NO_PHOTO


def test_the_kind_of_some_phones_is_named() -> None:
    with pytest.raises(PictureRefused, match="send it as a JPEG picture"):
        clean(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic")


def test_an_empty_file_is_refused() -> None:
    with pytest.raises(PictureRefused, match="This file is empty"):
        clean(b"")


def test_too_many_bytes_are_refused() -> None:
    with pytest.raises(PictureRefused, match="This photo has 40 MB; at most 25 MB can be kept"):
        clean(saved(drawn()) + bytes(40 * 1024 * 1024))
    with pytest.raises(PictureRefused, match="at most 1 MB"):
        clean(saved(drawn()) + bytes(2 * 1024 * 1024), max_bytes=1024 * 1024)


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png_of(width: int, height: int, *extra: bytes) -> bytes:
    """A file of a few kilobytes that claims a picture of this size, black and white."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    rows = bytes(min((width // 8 + 2) * height, 10**6))
    body = chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + header + b"".join(extra) + body


@pytest.mark.parametrize(("width", "height"), [(10_000, 5_001), (60_000, 60_000), (2**31 - 1, 2**31 - 1)])
def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused(width: int, height: int) -> None:
    sent = png_of(min(width, 10_000), 2000) if width < 1 else _claiming(width, height)
    with pytest.raises(PictureRefused, match="more than a camera makes|is damaged"):
        clean(sent)


def _claiming(width: int, height: int) -> bytes:
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return (
        b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(bytes(10**6), 9)) + chunk(b"IEND", b"")
    )


def test_a_text_that_unpacks_without_end_is_refused() -> None:
    bomb = chunk(b"zTXt", b"Comment\0\0" + zlib.compress(bytes(80 * 1024 * 1024), 9))
    with pytest.raises(PictureRefused, match="is damaged"):
        clean(png_of(16, 16, bomb))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("part", [0.1, 0.5, 0.8])
def test_a_truncated_photo_is_refused(kind: str, part: float) -> None:
    noise = Image.effect_noise((200, 200), 80).convert("RGB")
    sent = saved(noise, kind)
    with pytest.raises(PictureRefused, match="damaged and cannot be read"):
        clean(sent[: int(len(sent) * part)])


def test_a_truncated_photo_is_refused_also_where_another_library_would_read_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    sent = saved(Image.effect_noise((200, 200), 80))
    with pytest.raises(PictureRefused, match="damaged and cannot be read"):
        clean(sent[: len(sent) // 2])


@pytest.mark.parametrize("start", [b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"RIFF\x24\0\0\0WEBPVP8 "])
def test_the_right_first_bytes_alone_make_no_photo(start: bytes) -> None:
    with pytest.raises(PictureRefused, match="damaged and cannot be read"):
        clean(start + b"and nothing behind them" * 20)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_moving_picture_is_refused(kind: str) -> None:
    black = Image.new("RGB", (60, 40), "black")
    with pytest.raises(PictureRefused, match="This picture moves: send a single photo"):
        clean(saved(drawn(), kind, save_all=True, append_images=[black], duration=100))


def archive() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("index.html", "hello")
    return file.getvalue()


@pytest.mark.parametrize(
    "sent",
    [
        saved(drawn()) + archive(),
        saved(drawn(), "PNG") + b"<script>alert(1)</script>",
        saved(drawn(), comment=b"<?php system($_GET['c']); ?>"),
        saved(drawn(), comment=b"*/=alert(1)/*<ScRiPt src=x>"),
        saved(drawn(), comment=b"%PDF-1.4 1 0 obj"),
        png_of(16, 16, chunk(b"tEXt", b"Comment\0<html><body>")),
    ],
    ids=["archive", "page behind", "program", "script", "document", "page inside"],
)
def test_a_picture_that_is_something_else_as_well_is_refused(sent: bytes) -> None:
    with pytest.raises(PictureRefused, match="Something else is hidden"):
        clean(sent)


SAMPLES = {kind: saved(drawn((24, 16)), kind) for kind in ("JPEG", "PNG", "WEBP")}


@given(
    st.sampled_from(sorted(SAMPLES)),
    st.lists(st.tuples(st.integers(0, 2000), st.binary(max_size=4)), max_size=4),
)
def test_no_damage_is_ever_answered_with_anything_but_a_photo_or_a_sentence(
    kind: str, damages: list[tuple[int, bytes]]
) -> None:
    sent = SAMPLES[kind]
    for place, bytes_ in damages:
        place %= len(sent)
        sent = sent[:place] + bytes_ + sent[place + len(bytes_) :]
    try:
        answer = clean(sent).media_type
    except PictureRefused as refusal:
        answer = refusal.sentence
    assert answer == "image/jpeg" or answer.endswith(".")
