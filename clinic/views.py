"""Sign-in, accounts, and the clinic's own page."""

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from clinic import actions, queries
from clinic.forms import ClinicProfileForm, NewStaffForm, PasswordForm, SignInForm, StaffForm
from clinic.http import StaffRequest
from clinic.models import Role, User


class SignInView(LoginView):
    """The sign-in page."""

    template_name = "clinic/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End this sign-in; a patient's phone, enrolled on the same machine, is left alone."""
    logout(request)
    return redirect("sign_in")


def administrators_only(
    view: Callable[..., HttpResponse],
) -> Callable[..., HttpResponse]:
    """Answer 404 to everyone but an administrator."""

    @wraps(view)
    def guarded(request: StaffRequest, *args: object, **kwargs: object) -> HttpResponse:
        if request.user.role != Role.ADMINISTRATOR:
            raise Http404
        return view(request, *args, **kwargs)

    return guarded


def account(request: StaffRequest) -> HttpResponse:
    """One's own account: a new password, which ends all other sign-ins."""
    form = PasswordForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            actions.set_password(
                by=request.user, user=request.user, password=form.cleaned_data["password"]
            )
        except ValidationError as refusal:
            form.add_error("password", refusal)
        else:
            update_session_auth_hash(request, request.user)
            messages.success(request, "Your password is changed. Other sign-ins have ended.")
            return redirect("account")
    return render(request, "clinic/account.html", {"form": form})


@administrators_only
def staff_list(request: StaffRequest) -> HttpResponse:
    """Everyone with an account."""
    return render(request, "clinic/staff_list.html", {"staff": queries.staff(), "section": "staff"})


@administrators_only
def staff_new(request: StaffRequest) -> HttpResponse:
    """Open an account."""
    form = NewStaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            user = actions.add_staff(by=request.user, **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error("password", refusal)
        else:
            messages.success(request, f"{user.name} can sign in as {user.username}.")
            return redirect("staff")
    return render(request, "clinic/staff_form.html", {"form": form, "section": "staff"})


@administrators_only
def staff_edit(request: StaffRequest, pk: int) -> HttpResponse:
    """Change or close an account."""
    user = get_object_or_404(User, pk=pk)
    form = StaffForm(request.POST or None, instance=user)
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_staff(by=request.user, user=user, **form.cleaned_data)
        except actions.ActionRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{user.name}'s account is saved.")
            return redirect("staff")
    context = {"form": form, "member": user, "section": "staff"}
    return render(request, "clinic/staff_form.html", context)


@administrators_only
def profile(request: StaffRequest) -> HttpResponse:
    """The clinic's name, telephones and choices."""
    form = ClinicProfileForm(request.POST or None, instance=queries.clinic_profile())
    if request.method == "POST" and form.is_valid():
        actions.save_profile(by=request.user, profile=form.instance)
        messages.success(request, "The clinic's details are saved.")
        return redirect("clinic_profile")
    return render(request, "clinic/profile.html", {"form": form, "section": "clinic"})


@login_not_required
def health(request: HttpRequest) -> HttpResponse:
    """Say whether the server and its database answer, for whoever watches the machine."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"database": "ok"})


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say what to do when a form was opened before signing in again."""
    return render(request, "clinic/stale_form.html", status=403)
