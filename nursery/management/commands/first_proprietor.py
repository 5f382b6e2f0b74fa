"""The first person of an empty day book: asks for what the options do not say."""

import getpass
import os
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email

from nursery import clock
from nursery.actions import people
from nursery.models import Person
from nursery.refusals import Refused

VARIABLE = "FIRST_PROPRIETOR_PASSWORD"


class Command(BaseCommand):
    help = f"Write down the first proprietor of an empty day book. The password is asked, or read from {VARIABLE}."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--email")
        parser.add_argument("--first-name")
        parser.add_argument("--last-name", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        """Ask, check, write down."""
        email = options["email"] or input("E-mail address: ")
        first_name = options["first_name"] or input("First name: ")
        password = os.environ.get(VARIABLE) or self._asked_password()
        try:
            validate_email(email)
            validate_password(password, Person(email=email, first_name=first_name))
            person = people.first_proprietor(
                email=email,
                first_name=first_name,
                last_name=options["last_name"],
                password=password,
                at=clock.now(),
            )
        except ValidationError as wrong:
            raise CommandError(" ".join(wrong.messages)) from wrong
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"{person} is the proprietor and signs in with {person.email}.")

    def _asked_password(self) -> str:
        password = getpass.getpass("Password, at least ten characters: ")
        if getpass.getpass("The same again: ") != password:
            raise CommandError("The two were not the same; nothing was written down.")
        return password
