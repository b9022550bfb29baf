"""Make the database ready to serve, and its first administrator; safe to repeat."""

import getpass
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from clinic.actions import add_staff, has_administrator
from clinic.models import Role, User
from plans.catalogue import CatalogueError
from plans.preparation import prepare_database


class Command(BaseCommand):
    """Prepare the database, then see to it that someone can keep the accounts."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--administrator", metavar="NAME", help="sign-in name of the first one")
        parser.add_argument(
            "--password-file", type=Path, metavar="FILE", help="file that holds the password"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        username, file = options["administrator"], options["password_file"]
        if bool(username) != bool(file):
            raise CommandError("Give both --administrator and --password-file, or neither.")
        try:
            for sentence in prepare_database():
                self.stdout.write(sentence)
        except CatalogueError as error:
            raise CommandError(f"The exercises can't be read:\n{error}") from error
        if has_administrator():
            self.stdout.write("Administrator: there is one already; no account was changed.")
            return
        if username:
            self._add(username, username, _password_in(file))
        elif sys.stdin.isatty():
            self._ask()
        else:
            raise CommandError(
                "There is no administrator yet. Run setup at a terminal, or with "
                "--administrator NAME --password-file FILE."
            )

    def _ask(self) -> None:
        """Ask at the terminal until an account can be made."""
        self.stdout.write("The clinic needs a first administrator, who adds the other accounts.")
        while True:
            username = input("Sign-in name (small letters, digits, dots, dashes): ").strip()
            name = input("Full name: ").strip()
            password = getpass.getpass("Password (12 characters or more): ")
            if password != getpass.getpass("The same password again: "):
                self.stderr.write("The two passwords differ. Try again.")
                continue
            try:
                self._add(username, name, password)
            except CommandError as error:
                self.stderr.write(str(error))
            else:
                return

    def _add(self, username: str, name: str, password: str) -> None:
        account = User(username=username, name=name, role=Role.ADMINISTRATOR)
        try:
            account.full_clean(exclude=["password"])
            add_staff(
                by=None,
                username=username,
                name=name,
                role=Role.ADMINISTRATOR,
                password=password,
            )
        except ValidationError as error:
            raise CommandError(f"No administrator added: {' '.join(error.messages)}") from error
        self.stdout.write(f"Administrator: {username} added.")


def _password_in(file: Path) -> str:
    """Return a password file's one line."""
    try:
        return file.read_text(encoding="utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"Can't read the password file: {error}") from error
