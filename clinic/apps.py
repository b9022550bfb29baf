"""Django's registration of the app."""

from django.apps import AppConfig


class ClinicConfig(AppConfig):
    """The clinic itself: sign-in, roles, audit, look."""

    name = "clinic"

    def ready(self) -> None:
        """Register the deployment checks."""
        from clinic import checks  # noqa: F401
