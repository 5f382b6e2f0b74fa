from django.conf import settings
from django.db import models


class KeptFile(models.Model):
    """A file kept once under its checksum: a picture, a signature, a document. Rows never change."""

    sha256 = models.CharField(max_length=64)
    size = models.PositiveBigIntegerField(help_text="bytes")
    media_type = models.CharField(max_length=40)
    name = models.CharField(max_length=120, help_text="Suggested name when it is downloaded.")
    path = models.CharField(max_length=200, unique=True, help_text="Below the private file store.")
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        indexes = [models.Index(fields=["sha256"], name="kept_file_by_checksum")]

    def __str__(self) -> str:
        return self.name
