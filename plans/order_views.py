"""The suggested order of a draft's lines: taken over at one press, and undone at another."""

from django.contrib import messages
from django.http import HttpResponse

from clinic.actions import ActionRefused
from clinic.http import StaffRequest
from patients.models import Patient
from plans import actions
from plans.draft_views import answer, draft_action
from plans.models import PlanVersion
from plans.order import TooManyToArrange, arranged, position_changes, weight_changes
from plans.plan_page import shown_version

UNDO = "arranged_lines"


@draft_action
def arrange(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Arrange the lines for the fewest changes; ``same_joint`` lets a joint come twice running."""
    shown = shown_version(version).lines
    lines = [line.ordered for line in shown]
    try:
        order = arranged(lines, joints_apart="same_joint" not in request.POST)
    except TooManyToArrange as refusal:
        raise ActionRefused(
            "There are too many lines to arrange. Move them by hand, or make a shorter plan."
        ) from refusal
    if order == tuple(range(len(lines))):
        messages.success(request, "No order is better than this one.")
        return answer(request, patient)
    actions.reorder_lines(by=request.user, version=version, order=[shown[n].line.pk for n in order])
    request.session[UNDO] = {"version": version.pk, "order": [line.line.pk for line in shown]}
    placed = [lines[place] for place in order]
    messages.success(
        request,
        f"Arranged, easy first. Changes of position: {position_changes(lines)} before, "
        f"{position_changes(placed)} now; of weight: {weight_changes(lines)} before, "
        f"{weight_changes(placed)} now.",
    )
    return answer(request, patient)


@draft_action
def arrange_undo(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Put the lines back into the order that they had before they were arranged."""
    before = request.session.pop(UNDO, None)
    if not before or before["version"] != version.pk:
        raise ActionRefused("There is no order to go back to.")
    actions.reorder_lines(by=request.user, version=version, order=before["order"])
    messages.success(request, "The lines are in the order they had before.")
    return answer(request, patient)
