"""Addresses under /home/: the patient's phone and nothing else (a cookie and a worker's scope)."""

from django.urls import path

from logs import phone_views

urlpatterns = [
    path("", phone_views.home, name="phone_home"),
    path("join", phone_views.join, name="phone_join"),
    path("plan", phone_views.plan, name="phone_plan"),
    path("shell", phone_views.shell, name="phone_shell"),
    path("worker.js", phone_views.worker, name="phone_worker"),
    path("manifest.webmanifest", phone_views.web_manifest, name="phone_manifest"),
    path("known", phone_views.known, name="phone_known"),
    path("enrol", phone_views.enrol, name="phone_enrol"),
    path("entries", phone_views.entries, name="phone_entries"),
    path("missed", phone_views.missed, name="phone_missed"),
    path("report", phone_views.report, name="phone_report"),
]
