"""Django's registration of the app."""

from django.apps import AppConfig


class PlansConfig(AppConfig):
    """The exercise catalogue, plans, their schedule and sheets."""

    name = "plans"
