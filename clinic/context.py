"""What every page is given besides its own context."""

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from clinic.queries import clinic_profile


def clinic(request: HttpRequest) -> dict[str, object]:
    """Give the clinic's profile, read only when a page shows it."""
    return {"clinic": SimpleLazyObject(clinic_profile)}
