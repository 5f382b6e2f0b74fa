from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models.stays import Stay
from nursery.models import KeptFile, Tree


class ConditionReport(models.Model):
    """The state of a tree at check-in, at handback or after an incident. Frozen once finished."""

    class Kind(models.TextChoices):
        CHECK_IN = "check_in", "Check-in"
        HANDBACK = "handback", "Handback"
        INCIDENT = "incident", "Incident"

    class Light(models.TextChoices):
        DAYLIGHT = "daylight", "Daylight"
        LAMP = "lamp", "Lamp"

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="reports")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    begun_at = models.DateTimeField()
    examined_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    light = models.CharField(max_length=8, choices=Light.choices, default=Light.DAYLIGHT)
    lens = models.BooleanField(default=False)
    foliage_wet = models.BooleanField(default=False)
    height_cm = models.PositiveSmallIntegerField(null=True, blank=True)
    spread_cm = models.PositiveSmallIntegerField(null=True, blank=True)
    trunk_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    weight_kg = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    firm_in_pot = models.BooleanField(default=True)
    moisture = models.CharField(max_length=60, blank=True)
    wire = models.CharField(max_length=200, blank=True)
    broken_twigs = models.PositiveSmallIntegerField(null=True, blank=True)
    injuries = models.TextField(blank=True)
    not_examined = models.TextField(blank=True, help_text="What could not be examined, and why.")
    customer_remarks = models.TextField(blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["stay", "kind"],
                condition=~Q(kind="incident"),
                name="one_check_in_and_one_handback_report",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} report of {self.stay.tree}"


class PartGrade(models.Model):
    """One part of the tree in a report: grade 0 (sound) to 3 (severe), or why it could not be examined."""

    class Part(models.TextChoices):
        ROOTS = "roots", "Surface roots"
        TRUNK = "trunk", "Trunk"
        BRANCHES = "branches", "Branches"
        TWIGS = "twigs", "Twigs"
        FOLIAGE = "foliage", "Foliage"
        SOIL = "soil", "Soil surface"
        DRAINAGE = "drainage", "Drainage"
        POT = "pot", "Pot"
        STAND = "stand", "Stand"

    report = models.ForeignKey(ConditionReport, on_delete=models.CASCADE, related_name="parts")
    part = models.CharField(max_length=8, choices=Part.choices)
    grade = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["report", "part"], name="a_part_is_graded_once"),
            models.CheckConstraint(
                condition=Q(grade=None) | Q(grade__range=(0, 3)), name="a_grade_is_0_to_3"
            ),
            models.CheckConstraint(
                condition=Q(grade__isnull=False) | ~Q(note=""), name="a_part_without_grade_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_part_display()}: {self.grade}"


class Photo(models.Model):
    """A cleaned picture: no position, no device. Only the cleaned one is kept, with the checksum of what came."""

    class Angle(models.TextChoices):
        FRONT = "front", "Front"
        RIGHT = "right", "Right side"
        BACK = "back", "Back"
        LEFT = "left", "Left side"
        TOP = "top", "From above"
        TRUNK = "trunk", "Trunk base"
        POT = "pot", "Pot and feet"
        WORST = "worst", "Worst spot"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="photos")
    stay = models.ForeignKey(Stay, null=True, on_delete=models.PROTECT, related_name="photos")
    report = models.ForeignKey(ConditionReport, null=True, on_delete=models.PROTECT, related_name="photos")
    angle = models.CharField(max_length=5, choices=Angle.choices)
    file = models.ForeignKey(KeptFile, on_delete=models.PROTECT, related_name="+")
    came_sha256 = models.CharField(
        max_length=64, help_text="Checksum of the file as it came from the camera."
    )
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True, help_text="As the camera's clock said.")
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["added_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["report", "angle", "came_sha256"], name="a_picture_is_added_once"
            ),
            models.UniqueConstraint(
                fields=["report", "angle"],
                condition=Q(replaced_at=None),
                name="one_picture_per_angle_and_report",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_angle_display()} of {self.tree}"
