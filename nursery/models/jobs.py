import uuid

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q


class Job(models.Model):
    """Work to be done after a commit. The row is the truth, the broker's message only a doorbell."""

    kind = models.CharField(max_length=40)
    key = models.CharField(max_length=120, unique=True)
    payload = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    created_at = models.DateTimeField()
    due_at = models.DateTimeField()
    lease = models.UUIDField(null=True, blank=True, default=None)
    leased_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["due_at"], condition=Q(done_at=None, failed_at=None), name="jobs_waiting"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(done_at=None) | Q(failed_at=None), name="a_job_is_done_or_failed"
            ),
        ]

    def __str__(self) -> str:
        return self.key

    @staticmethod
    def new_lease() -> uuid.UUID:
        return uuid.uuid4()
