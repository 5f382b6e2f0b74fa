from django.db import models


class Press(models.Model):
    """One press of one button by one person, by the identifier its form carried, and where it led.

    `person` is the key of the person at work, 0 for somebody not signed in; a plain number, so that these short-lived
    rows bind nothing.
    """

    token = models.UUIDField()
    path = models.CharField(max_length=300)
    person = models.PositiveBigIntegerField(default=0)
    led_to = models.CharField(max_length=500, blank=True)
    at = models.DateTimeField(auto_now_add=True, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["token", "path", "person"], name="a_form_is_acted_on_once_by_a_person"
            )
        ]

    def __str__(self) -> str:
        return f"{self.path} {self.token}"
