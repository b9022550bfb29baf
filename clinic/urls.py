"""Every address of the clinic's server; each app names its own."""

from django.urls import include, path

from clinic import views

urlpatterns = [
    path("sign-in/", views.SignInView.as_view(), name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("account/", views.account, name="account"),
    path("staff/", views.staff_list, name="staff"),
    path("staff/new/", views.staff_new, name="staff_new"),
    path("staff/<int:pk>/", views.staff_edit, name="staff_edit"),
    path("clinic/", views.profile, name="clinic_profile"),
    path("health/", views.health, name="health"),
    path("", include("patients.urls")),
    path("", include("plans.urls")),
    path("", include("logs.urls")),
]
