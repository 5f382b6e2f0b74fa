from django.db import models


class Press(models.Model):
    """One press of one button, by the identifier its form carried, and where it led."""

    token = models.UUIDField(unique=True)
    path = models.CharField(max_length=300)
    led_to = models.CharField(max_length=500, blank=True)
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.path} {self.token}"
