"""Serve the clinic: the production server."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import run_checks
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, connections

from clinic.checks import missing_migrations
from clinic.server import Serving, serve

# SQLite writes one at a time, and one thread never waits for another's lock (PostgreSQL's do).
WORKERS = {"sqlite": 1}
THREADS = {"sqlite": 1}


class Command(BaseCommand):
    """Start the production server and stay until it is stopped (TERM or Ctrl-C)."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on")
        parser.add_argument(
            "--workers", type=int, help="processes (default: 1 on SQLite, 2 on PostgreSQL)"
        )
        parser.add_argument("--certificate", type=Path, help="TLS certificate chain, PEM")
        parser.add_argument("--key", type=Path, help="the certificate's private key, PEM")

    def handle(self, *args: Any, **options: Any) -> None:
        certificate, key = options["certificate"], options["key"]
        _check_encryption(certificate, key)
        if missing_migrations():
            raise CommandError(
                "The database isn't ready for this version: run `uv run manage.py setup` first."
            )
        serving = Serving(
            host=options["host"],
            port=options["port"],
            workers=options["workers"] or WORKERS.get(connection.vendor, 2),
            threads_a_worker=THREADS.get(connection.vendor, 4),
            certificate=certificate,
            key=key,
        )
        if settings.HTTPS:
            for message in run_checks(include_deployment_checks=True):
                self.stderr.write(f"{message.id}: {message.msg}")
        elif certificate:
            self.stderr.write(
                "The public address is not https, so cookies aren't kept to it: "
                "set HANDRAIL_PUBLIC_ADDRESS to the https address that people open."
            )
        # Our pages carry their own htmx; the package's copies need not be public.
        call_command(
            "collectstatic", interactive=False, verbosity=0, ignore_patterns=["django_htmx"]
        )
        connections.close_all()

        def ready() -> None:
            self.stdout.write(
                f"Serving {serving.address}, to be opened as {settings.PUBLIC_ADDRESS}. "
                "Stop with Ctrl-C."
            )
            self.stdout.flush()

        try:
            serve(serving, ready=ready)
        except OSError as error:
            raise CommandError(f"Can't serve {serving.address}: {error}") from error


def _check_encryption(certificate: Path | None, key: Path | None) -> None:
    """Refuse half a pair, and an https address that nothing here would answer."""
    if bool(certificate) != bool(key):
        raise CommandError("Give both --certificate and --key, or neither.")
    if settings.HTTPS and not certificate and not settings.BEHIND_PROXY:
        raise CommandError(
            f"The public address {settings.PUBLIC_ADDRESS} is https: give --certificate and "
            "--key, or set HANDRAIL_BEHIND_PROXY=1 where a proxy in front does the encrypting."
        )
