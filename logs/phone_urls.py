"""Addresses under /home/: the patient's phone and nothing else (a cookie and a worker's scope)."""

from django.urls import path

from logs import phone_views

urlpatterns = [
    path("", phone_views.home, name="phone_home"),
    path("join", phone_views.join, name="phone_join"),
    path("enrol", phone_views.enrol, name="phone_enrol"),
    path("entries", phone_views.entries, name="phone_entries"),
    path("report", phone_views.report, name="phone_report"),
]
