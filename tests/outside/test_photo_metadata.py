"""Nothing but the picture is left in a photo, as read by an independent reader of Exif (the library exifread).

Source of the tags: Exif 2.32 and TIFF 6.0, from memory.
"""

import io

import exifread
import pytest
from PIL import Image

from boarding.pictures import clean

GPS_IFD, EXIF_IFD = 0x8825, 0x8769
SECRETS = [
    b"Invented Camera",
    b"Serial 77123",
    b"Gate 4, Hill Road",
    b"NETWORK FIX",
    b"maker's own",
    b"Written by N.",
]


def photo_with_everything(kind: str) -> bytes:
    """A photo with position, device, maker's note, comment, description and a preview of itself."""
    exif = Image.Exif()
    exif[0x010E] = "Gate 4, Hill Road"  # ImageDescription
    exif[0x010F] = "Invented Camera"  # Make
    exif[0x0110] = "Model 1"  # Model
    exif[0x013B] = "Written by N."  # Artist
    camera = exif.get_ifd(EXIF_IFD)
    camera[0x9003] = "2026:06:03 07:10:09"  # DateTimeOriginal
    camera[0x927C] = b"maker's own note"  # MakerNote
    camera[0xA431] = "Serial 77123"  # BodySerialNumber
    position = exif.get_ifd(GPS_IFD)
    position[1], position[2] = "N", (53.0, 1.0, 27.5)
    position[3], position[4] = "W", (6.0, 5.0, 11.25)
    position[27] = b"ASCII\0\0\0NETWORK FIX"  # GPSProcessingMethod
    # exifread looks for WebP's block behind the same six bytes that JPEG has in front of it.
    block = b"Exif\0\0" + exif.tobytes() if kind == "WEBP" else exif.tobytes()
    file = io.BytesIO()
    extra = {"comment": b"Gate 4, Hill Road"} if kind == "JPEG" else {}
    Image.effect_noise((320, 240), 60).convert("RGB").save(file, kind, exif=block, xmp=XMP, **extra)
    return file.getvalue()


XMP = (
    b"<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>"
    b"<rdf:Description xmlns:exif='http://ns.adobe.com/exif/1.0/' exif:GPSLatitude='53,1.458N'/>"
    b"</rdf:RDF></x:xmpmeta>"
)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_independent_reader_finds_the_position_before_and_nothing_after(kind: str) -> None:
    sent = photo_with_everything(kind)
    before = exifread.process_file(io.BytesIO(sent), details=True)
    assert {"GPS GPSLatitude", "GPS GPSLongitude", "Image Make", "EXIF BodySerialNumber"} <= set(before)
    picture = clean(sent)
    assert picture.taken_at == "2026-06-03T07:10:09"
    assert exifread.process_file(io.BytesIO(picture.data), details=True) == {}


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_no_byte_of_it_is_left(kind: str) -> None:
    sent = photo_with_everything(kind)
    kept = clean(sent).data
    assert all(secret in sent for secret in SECRETS)
    marks = [*SECRETS, b"Exif", b"GPS", b"xmpmeta", b"adobe", b"53,1.458N", b"2026:06:03"]
    assert [mark for mark in marks if mark in kept] == []


def test_only_the_segments_of_a_bare_picture_are_left() -> None:
    """JPEG markers by ITU-T T.81: of the application and comment segments only APP0 (JFIF) may stand."""
    kept = clean(photo_with_everything("JPEG")).data
    place, found = 2, []
    while kept[place + 1] != 0xDA:  # up to the start of scan
        found.append(kept[place + 1])
        place += 2 + int.from_bytes(kept[place + 2 : place + 4], "big")
    assert set(found) <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4}
    assert found.count(0xE0) == 1
