"""Addresses of the patient's phone, of what was told, and of what it comes to."""

from django.urls import include, path

from logs import caseload_views, handover_views, paper_views, review_views, stop_views

urlpatterns = [
    path("home/", include("logs.phone_urls")),
    path("caseload/", caseload_views.caseload_page, name="caseload"),
    path("caseload/caseload.csv", caseload_views.caseload_file, name="caseload_csv"),
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
    path("patients/<int:pk>/review.pdf", review_views.review_as_pdf, name="review_pdf"),
    path("patients/<int:pk>/missed/", review_views.missed, name="missed"),
    path("patients/<int:pk>/pair/", review_views.pair, name="pair"),
    path("patients/<int:pk>/reviewed/", review_views.reviewed, name="reviewed"),
    path("patients/<int:pk>/stop-signs/", stop_views.stop_signs, name="stop_signs"),
    path("patients/<int:pk>/stop-signs/report/", stop_views.stop_report, name="stop_report"),
    path(
        "patients/<int:pk>/stop-signs/<uuid:uuid>/answer/",
        stop_views.stop_answer,
        name="stop_answer",
    ),
    path("patients/<int:pk>/handover/", handover_views.handover, name="handover"),
    path("patients/<int:pk>/diary/", paper_views.diary, name="diary"),
]
