"""Django's registration of the app."""

from django.apps import AppConfig


class ClinicConfig(AppConfig):
    """The clinic itself: sign-in, roles, audit, look."""

    name = "clinic"

    def ready(self) -> None:
        """Register the deployment checks; give the empty choice of a list our own word."""
        from django.db.models import fields

        from clinic import checks  # noqa: F401

        fields.BLANK_CHOICE_LABEL = "choose"
