"""Addresses of pages about people."""

from django.urls import path

from patients import assessment_views, phone_views, precaution_views, views

urlpatterns = [
    path("", views.home, name="home"),
    path("patients/", views.patient_list, name="patients"),
    path("patients/cover/", views.cover, name="cover"),
    path("patients/new/", views.patient_new, name="patient_new"),
    path("patients/<int:pk>/", views.patient_page, name="patient"),
    path("patients/<int:pk>/edit/", views.patient_edit, name="patient_edit"),
    path("patients/<int:pk>/episodes/new/", views.episode_form, name="episode_new"),
    path("patients/<int:pk>/episodes/<int:episode_pk>/", views.episode_form, name="episode"),
    path("patients/<int:pk>/helpers/new/", views.helper_form, name="helper_new"),
    path("patients/<int:pk>/helpers/<int:helper_pk>/", views.helper_form, name="helper"),
    path("patients/<int:pk>/team/", views.team_join, name="team_join"),
    path("patients/<int:pk>/team/<int:member_pk>/leave/", views.team_leave, name="team_leave"),
    path("patients/<int:pk>/phones/new/", phone_views.phone_invite, name="phone_invite"),
    path(
        "patients/<int:pk>/phones/<int:phone_pk>/name/",
        phone_views.phone_rename,
        name="phone_rename",
    ),
    path(
        "patients/<int:pk>/phones/<int:phone_pk>/revoke/",
        phone_views.phone_revoke,
        name="phone_revoke",
    ),
    path("patients/<int:pk>/assessment/", assessment_views.assessment, name="assessment"),
    path(
        "patients/<int:pk>/assessment/new/", assessment_views.assessment_new, name="assessment_new"
    ),
    path(
        "patients/<int:pk>/assessment/motions/<slug:motion>/",
        assessment_views.assessment_motion,
        name="assessment_motion",
    ),
    path(
        "patients/<int:pk>/assessment/<int:assessment_pk>/",
        assessment_views.assessment_record,
        name="assessment_record",
    ),
    path(
        "patients/<int:pk>/assessment/<int:assessment_pk>/correct/",
        assessment_views.assessment_correct,
        name="assessment_correct",
    ),
    path("patients/<int:pk>/precautions/", precaution_views.precautions, name="precautions"),
    path(
        "patients/<int:pk>/precautions/new/", precaution_views.precaution_new, name="precaution_new"
    ),
    path(
        "patients/<int:pk>/precautions/protocols/<slug:key>/",
        precaution_views.protocol_accept,
        name="protocol_accept",
    ),
    path(
        "patients/<int:pk>/precautions/<int:precaution_pk>/lift/",
        precaution_views.precaution_lift,
        name="precaution_lift",
    ),
    path(
        "patients/<int:pk>/precautions/<int:precaution_pk>/keep/",
        precaution_views.precaution_keep,
        name="precaution_keep",
    ),
]
