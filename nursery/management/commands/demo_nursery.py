"""Builds the demo nursery Derrynavail into an empty database, and prints who can sign in."""

import argparse
import datetime as dt
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from nursery import clock
from nursery.demo.build import SMALL, WHOLE, build
from nursery.demo.house import book
from nursery.demo.opening import PASSWORD
from nursery.models import Nursery, Person

MORNING = dt.time(10, 30)


class Command(BaseCommand):
    help = "Builds the invented Derrynavail Nursery into an empty database, by the real actions."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument(
            "--day", type=dt.date.fromisoformat, help="The day of the demo; today if left out."
        )
        parser.add_argument(
            "--if-empty", action="store_true", help="Do nothing where there are people at work."
        )
        parser.add_argument("--small", action="store_true", help="A few stories only, for tests.")

    def handle(self, **options: Any) -> None:
        if Person.objects.exists():
            if not options["if_empty"]:
                raise CommandError(
                    "There are people at work here: the demo goes into an empty database only."
                )
            self._say_who()
            return
        self.stdout.write("Building the demo nursery, a year of work; this takes less than a minute ...")
        self.stdout.flush()
        begun = time.monotonic()
        day = options["day"] or clock.today()
        done = build(day, _instant(day), SMALL if options["small"] else WHOLE)
        self.stdout.write(f"{done} deeds up to {day:%-d %B %Y} in {time.monotonic() - begun:.0f} s.")
        self._say_who()

    def _say_who(self) -> None:
        """The log-ins, at every start, as long as it is the demo."""
        if Nursery.here().name != book()["nursery"]["name"]:
            self.stdout.write("This database is your own nursery; the demo was not loaded.")
            return
        shown = [told for told in book()["people"] if told["first_name"] in ("Orla", "Bríd", "Tadhg")]
        self.stdout.write(f"Sign in as one of these people, with the password  {PASSWORD}")
        for told in shown:
            self.stdout.write(f"  {told['role']:<11} {told['email']}")


def _instant(day: dt.date) -> dt.datetime:
    """Now, when the day is today; else the middle of that day's morning."""
    if day == clock.today():
        return clock.now()
    return dt.datetime.combine(day, MORNING, clock.zone()).astimezone(dt.UTC)
