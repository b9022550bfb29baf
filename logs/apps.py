"""Django's registration of the app."""

from django.apps import AppConfig


class LogsConfig(AppConfig):
    """Entries from phone and paper, review and caseload."""

    name = "logs"
