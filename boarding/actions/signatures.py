"""Taking a signature: a drawing, or a typed name where drawing is not possible, under a text whose checksum is kept."""

import datetime as dt
import hashlib

from boarding import pictures
from boarding.models import Signature
from nursery import kept_files
from nursery.models import KeptFile, Person
from nursery.refusals import Refused


def take_signature(
    *, text: str, signer: str, drawing: bytes | None, at: dt.datetime, by: Person
) -> Signature:
    """Keep name, drawing and text; call inside the transaction of what is signed.

    Raises Refused: "no-signer", "no-drawing".
    """
    if not signer.strip():
        raise Refused("no-signer", "Write the name of the person who signs.", field="signer")
    return Signature.objects.create(
        signer=signer.strip(),
        signed_at=at,
        drawing=_kept(drawing, at, by) if drawing else None,
        text=text,
        text_sha256=checksum(text),
        taken_by=by,
    )


def checksum(text: str) -> str:
    """SHA-256 of the text in UTF-8."""
    return hashlib.sha256(text.encode()).hexdigest()


def _kept(drawing: bytes, at: dt.datetime, by: Person) -> KeptFile:
    try:
        picture = pictures.clean(drawing)
    except pictures.PictureRefused as refused:
        raise Refused(
            "no-drawing", "The drawing did not arrive whole: sign once more.", field="drawing"
        ) from refused
    return kept_files.keep(
        data=picture.data, media_type=picture.media_type, name="signature.jpg", at=at, by=by
    )
