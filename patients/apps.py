"""Django's registration of the app."""

from django.apps import AppConfig


class PatientsConfig(AppConfig):
    """People, episodes of care, and enrolled phones."""

    name = "patients"
