"""Addresses of the patient's phone, of what was told, and of what it comes to."""

from django.http import HttpResponse
from django.urls import include, path

from logs import review_views

urlpatterns = [
    path("home/", include("logs.phone_urls")),
    path("caseload/", lambda request: HttpResponse(), name="caseload"),
    path("patients/<int:pk>/review/", review_views.review, name="review"),
    path(
        "patients/<int:pk>/entries/<uuid:uuid>/strike/",
        review_views.entry_strike,
        name="entry_strike",
    ),
    path(
        "patients/<int:pk>/entries/<uuid:uuid>/restore/",
        review_views.entry_restore,
        name="entry_restore",
    ),
    path("patients/<int:pk>/diary/", lambda request, pk: HttpResponse(), name="diary"),
]
