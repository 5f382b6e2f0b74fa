#!/usr/bin/env python
"""Commands of this nursery's books: manage.py help."""

import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "nursery.settings.development")
    execute_from_command_line(sys.argv)
