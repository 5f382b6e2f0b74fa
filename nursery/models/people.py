from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower


class Role(models.TextChoices):
    PROPRIETOR = "proprietor", "Proprietor"
    OFFICE = "office", "Office"
    GROWER = "grower", "Grower"


class PersonManager(BaseUserManager["Person"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "Person":
        """Make a person at work; without a password nobody can sign in until the invitation is taken up."""
        person = self.model(email=self.normalize_email(email).lower(), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> "Person":
        """The first proprietor, for an empty database."""
        fields.setdefault("role", Role.PROPRIETOR)
        return self.create_user(email, password, **fields)


class Person(AbstractBaseUser):
    """A person at work in the nursery, who signs in by e-mail address."""

    email = models.EmailField(unique=True)
    first_name = models.CharField(max_length=60)
    last_name = models.CharField(max_length=60, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.GROWER)
    may_see_prices = models.BooleanField(default=False)
    spraying_certificate = models.CharField(max_length=40, blank=True)
    spraying_certificate_until = models.DateField(null=True, blank=True)
    wants_reminders = models.BooleanField(default=True)
    slash_focuses_field = models.BooleanField(default=True)
    invited_at = models.DateTimeField(null=True, blank=True)
    joined_at = models.DateTimeField(null=True, blank=True)
    left_on = models.DateField(null=True, blank=True)
    is_active = models.BooleanField(default=True)

    objects = PersonManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["first_name"]

    class Meta:
        verbose_name_plural = "people at work"
        constraints = [
            models.UniqueConstraint(Lower("email"), name="one_person_per_email_in_any_case"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="person_has_a_known_role"),
            models.CheckConstraint(
                condition=models.Q(left_on=None) | models.Q(is_active=False), name="leaver_is_locked_out"
            ),
        ]

    def __str__(self) -> str:
        return self.full_name

    @property
    def full_name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()

    # The framework's admin asks these; only the proprietor enters it, for the reference tables alone.
    @property
    def is_staff(self) -> bool:
        return self.is_active and self.role == Role.PROPRIETOR

    def has_perm(self, perm: str, obj: Any = None) -> bool:
        return self.is_staff

    def has_module_perms(self, app_label: str) -> bool:
        return self.is_staff
