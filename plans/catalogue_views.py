"""Pages of the exercise catalogue; they tell of no patient."""

from django.http import Http404, HttpResponse

from clinic.http import StaffRequest, render_page
from patients.motions import Side
from plans import queries
from plans.catalogue_actions import MAY_WRITE
from plans.exercise_page import ShownExercise, shown_exercises
from plans.forms import SearchForm
from plans.search import found_exercises


def exercises(request: StaffRequest) -> HttpResponse:
    """The catalogue, found by words and choices as one types."""
    form = SearchForm(request.GET)
    found = found_exercises(queries.searchable_exercises(), form.wanted())
    context = {
        "section": "exercises",
        "form": form,
        "found": [ShownExercise(hit.exercise, hit.effort) for hit in found],
    }
    return render_page(request, "plans/exercises.html", context, fragment="found")


def exercise(request: StaffRequest, key: str) -> HttpResponse:
    """One exercise: its ladder, its usual dose and its words in every language."""
    revision = queries.revision_in_use(key)
    if revision is None:
        raise Http404("no such exercise")
    this = queries.exercise_of(revision)
    near = {entry.exercise.key: entry.exercise for entry in queries.searchable_exercises()}
    context = {
        "section": "exercises",
        "shown": ShownExercise(this, this.steps[0].effort, Side.RIGHT),
        "revision": revision,
        "may_write": request.user.role in MAY_WRITE,
        "easier": shown_exercises([near[this.easier]] if this.easier in near else []),
        "harder": shown_exercises([near[this.harder]] if this.harder in near else []),
    }
    return render_page(request, "plans/exercise.html", context)
