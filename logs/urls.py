from django.http import HttpResponse
from django.urls import include, path

urlpatterns = [
    path("home/", include("logs.phone_urls")),
    path("caseload/", lambda request: HttpResponse(), name="caseload"),
    path("patients/<int:pk>/review/", lambda request, pk: HttpResponse(), name="review"),
    path("patients/<int:pk>/diary/", lambda request, pk: HttpResponse(), name="diary"),
]
