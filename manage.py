#!/usr/bin/env python3
"""Run Handrail's commands: `uv run manage.py demo`, `serve`, `setup` and the others."""

import os
import sys


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
