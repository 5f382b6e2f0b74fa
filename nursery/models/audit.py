from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models


class AuditRow(models.Model):
    """Who, when, what, before, after, why. Appended only; the database refuses change and deletion."""

    at = models.DateTimeField(db_index=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=130)
    verb = models.CharField(max_length=60)
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    subject_words = models.CharField(max_length=200)
    before = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["subject_type", "subject_id", "at"], name="audit_by_subject")]

    def __str__(self) -> str:
        return f"{self.by_name} {self.verb} {self.subject_words}"
