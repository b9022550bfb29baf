"""Addresses of plans and of the catalogue."""

from django.urls import path

from plans import (
    catalogue_views,
    draft_views,
    order_views,
    plan_views,
    set_views,
    sheet_views,
    teaching_views,
    writing_views,
)

urlpatterns = [
    path("exercises/", catalogue_views.exercises, name="exercises"),
    path("exercises/shipped/", writing_views.shipped, name="exercises_shipped"),
    path("exercises/<slug:key>/copy/", writing_views.exercise_copy, name="exercise_copy"),
    path("exercises/<slug:key>/edit/", writing_views.exercise_edit, name="exercise_edit"),
    path("exercises/<slug:key>/take-shipped/", writing_views.take_shipped, name="take_shipped"),
    path("exercises/<slug:key>/", catalogue_views.exercise, name="exercise"),
    path("sets/", set_views.sets, name="sets"),
    path("sets/new/", set_views.set_new, name="set_new"),
    path("sets/of/<slug:key>/", set_views.set_edit, name="set_edit"),
    path("sets/of/<slug:key>/copy/", set_views.set_copy, name="set_copy"),
    path("sets/of/<slug:key>/retire/", set_views.set_retire, name="set_retire"),
    path(
        "patients/<int:pk>/plan/<int:version_pk>/set/",
        set_views.set_from_version,
        name="set_from_version",
    ),
    path("patients/<int:pk>/plan/draft/set/", set_views.set_put_in, name="set_put_in"),
    path("patients/<int:pk>/plan/draft/set/undo/", set_views.set_take_out, name="set_take_out"),
    path("patients/<int:pk>/plan/", plan_views.plan, name="plan"),
    path("patients/<int:pk>/plan/withdraw/", plan_views.withdraw, name="withdraw"),
    path(
        "patients/<int:pk>/plan/withdrawals/<int:withdrawal_pk>/told/",
        plan_views.withdrawal_told,
        name="withdrawal_told",
    ),
    path("patients/<int:pk>/plan/pauses/", plan_views.pause_add, name="pause_add"),
    path(
        "patients/<int:pk>/plan/pauses/<int:pause_pk>/end/", plan_views.pause_end, name="pause_end"
    ),
    path(
        "patients/<int:pk>/plan/pauses/<int:pause_pk>/strike/",
        plan_views.pause_strike,
        name="pause_strike",
    ),
    path("patients/<int:pk>/plan/<int:version_pk>/", plan_views.plan_version, name="plan_version"),
    path(
        "patients/<int:pk>/plan/<int:version_pk>/sheet.pdf",
        sheet_views.sheet,
        name="sheet",
    ),
    path("patients/<int:pk>/plan/<int:version_pk>/sheet/", sheet_views.sheet_web, name="sheet_web"),
    path(
        "patients/<int:pk>/plan/<int:version_pk>/sheet-with-phone-code.pdf",
        sheet_views.sheet_with_phone,
        name="sheet_with_phone",
    ),
    path("patients/<int:pk>/plan/<int:version_pk>/sign/", plan_views.sign, name="version_sign"),
    path(
        "patients/<int:pk>/plan/<int:version_pk>/send-back/",
        plan_views.send_back,
        name="version_send_back",
    ),
    path(
        "patients/<int:pk>/plan/lines/<int:line_pk>/teach-back/",
        teaching_views.teach_back,
        name="teach_back",
    ),
    path("patients/<int:pk>/plan/draft/", draft_views.draft, name="draft"),
    path("patients/<int:pk>/plan/draft/start/", draft_views.start, name="draft_start"),
    path("patients/<int:pk>/plan/draft/discard/", draft_views.discard, name="draft_discard"),
    path("patients/<int:pk>/plan/draft/issue/", draft_views.issue, name="draft_issue"),
    path("patients/<int:pk>/plan/draft/lines/", draft_views.line_add, name="line_add"),
    path("patients/<int:pk>/plan/draft/arrange/", order_views.arrange, name="lines_arrange"),
    path(
        "patients/<int:pk>/plan/draft/arrange/undo/",
        order_views.arrange_undo,
        name="lines_arrange_undo",
    ),
    path("patients/<int:pk>/plan/draft/undo/", draft_views.line_restore, name="line_restore"),
    path(
        "patients/<int:pk>/plan/draft/lines/<int:line_pk>/",
        draft_views.line_change,
        name="line_change",
    ),
    path(
        "patients/<int:pk>/plan/draft/lines/<int:line_pk>/move/<slug:way>/",
        draft_views.line_move,
        name="line_move",
    ),
    path(
        "patients/<int:pk>/plan/draft/lines/<int:line_pk>/step/<slug:way>/",
        draft_views.line_step,
        name="line_step",
    ),
    path(
        "patients/<int:pk>/plan/draft/lines/<int:line_pk>/instead/",
        draft_views.line_instead,
        name="line_instead",
    ),
    path(
        "patients/<int:pk>/plan/draft/lines/<int:line_pk>/remove/",
        draft_views.line_remove,
        name="line_remove",
    ),
]
