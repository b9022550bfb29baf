"""The review page: words in every state, figures that open, strikes, strangers, query count."""

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import UUID, uuid5

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.models import AuditRow
from logs.actions import Performed, Told, mark_heard, record_revision
from logs.models import Entry
from plans.actions import add_pause
from tests.world import FIRST_DAY, issue

NAMES = UUID("33333333-3333-4333-8333-333333333333")
NOW = datetime(2026, 3, 16, 9, 0, tzinfo=UTC)  # two weeks after the plan began
TODAY = NOW.date()


def day(number):
    return FIRST_DAY + timedelta(days=number)


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """Stop the one clock that views read."""
    monkeypatch.setattr("clinic.http.timezone.now", lambda: NOW)


def tell(world, number, occasion=1, *, name=None, replaces=None, source="paper", **changes):
    """Store a session of both lines on a day of the plan."""
    lines = world.version.lines.all()
    given = {"performances": tuple(Performed(line, (8,)) for line in lines)} | changes
    name = name or f"{number}/{occasion}/{source}"
    record_revision(
        patient=world.patient,
        entry=uuid5(NAMES, f"{number}/{occasion}/{source}"),
        revision=uuid5(NAMES, name),
        replaces=uuid5(NAMES, replaces) if replaces else None,
        told=Told(day(number), occasion, source, world.version, **given),
        user=world.therapist,
    )


def heard(world, *numbers):
    mark_heard(
        patient=world.patient, days=[day(n) for n in numbers], source="paper", by=world.therapist
    )


@pytest.fixture
def shown(as_staff, world):
    """Fetch the review page as text, tags and white space taken out."""
    client = as_staff(world.therapist)

    def fetch(query="", *, raw=False, **headers):
        answer = client.get(reverse("review", args=[world.patient.pk]) + query, headers=headers)
        assert answer.status_code == 200
        content = answer.content.decode()
        return content if raw else words(content)

    return fetch


def words(content):
    body = content.partition("<main")[2]
    text = unescape(re.sub(r"<[^>]+>", " ", body)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", text)


def test_with_nothing_told_there_is_no_percentage(shown):
    text = shown()
    assert "No percentage: no day with a session due has been heard from yet." in text
    assert "there is no percentage" in text
    assert "No pain score was given on these days" in text
    assert "Nothing was told of these days" in text
    assert "0 % 0 of" not in text


def test_with_nothing_due_it_says_so(shown):
    text = shown("?first_day=2026-02-01&last_day=2026-02-14")
    assert "No percentage: nothing was due." in text
    assert "Nothing was due on these days." in text


def test_figures_and_bounds_stand_in_words(shown, world):
    # Both lines twice a day: 28 due on 14 days and today's 2. Heard: four days, of 8 due 3 done.
    tell(world, 0, 1, pain_worst=3)
    tell(world, 0, 2, pain_worst=4)
    tell(world, 1, 1, pain_worst=6, note="sore")
    tell(world, 2, None)
    heard(world, 0, 1, 2, 3)
    text = shown("?window=version")
    assert "Sessions done 38 % 3 of 8 due on days heard from" in text
    # 30 due in all, 22 unheard: 3/30 and 25/30.
    assert "Between 10 % and 83 % over all days: 22 unheard, 3 of 30 known done." in text
    assert "1 extra session, never used to make up for a missed one." in text
    assert "Highest pain 6 of 10" in text
    assert (
        "On the days heard from, 3 of 8 sessions due were done (38 %); over all days it is between "
        "10 % and 83 %, as 22 are still unheard; 1 more was extra. Pain during or after exercise "
        "was at most 6 of 10, on Tue 3 Mar; worst pain during: too few points to show a trend."
    ) in text


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (0, "Mon 2 Mar: 2 of 2 done"),
        (1, "Tue 3 Mar: 1 of 2 done"),
        (2, "Wed 4 Mar: none of 2 done, 1 extra"),
        (3, "Thu 5 Mar: 2 of 2 done, 1 in part"),
        (4, "Fri 6 Mar: paused, 1 extra"),
        (5, "Sat 7 Mar: 1 of 2 done, 1 unheard"),
        (6, "Sun 8 Mar: 0 of 2 done, 2 unheard"),
    ],
)
def test_each_kind_of_day_has_its_words(shown, world, number, says):
    tell(world, 0, 1)
    tell(world, 0, 2)
    tell(world, 1, 1)
    tell(world, 2, None)
    tell(world, 3, 1)
    tell(world, 3, 2, performances=(Performed(world.version.lines.first(), (8,)),))
    tell(world, 4, 1)
    tell(world, 5, 1)
    add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=day(4),
        last_day=day(4),
        reason="",
        today=day(4),
    )
    heard(world, 0, 1, 2, 3, 4)
    assert says in shown("?window=version")


def test_a_figure_opens_to_the_days_behind_it(shown, world):
    tell(world, 0, 1)
    heard(world, 0)
    key = "line.arm_lift_forward_lying-left.repetitions"
    whole = shown(f"?window=version&behind={key}")
    assert "Behind: Arm lift" in whole
    assert "Mon 2 Mar Arm lift" in whole
    part = shown(f"?window=version&behind={key}", raw=True, **{"HX-Request": "true"})
    assert "<html" not in part
    assert "Behind: Arm lift" in part


def test_every_offered_figure_can_be_opened(shown, world):
    tell(world, 0, 1, pain_worst=3)
    heard(world, 0)
    content = shown("?window=version", raw=True)
    keys = set(re.findall(r'behind=([^"#]+)["#]', content))
    assert {"days", "pain", "day.2026-03-02"} <= keys
    assert any(key.startswith("volume.") for key in keys)
    assert any(key.startswith("joint.") for key in keys)
    for key in keys:
        opened = shown(f"?window=version&behind={key}", raw=True, **{"HX-Request": "true"})
        day_asked = re.match(r"day\.2026-03-(\d\d)", key)
        says = f"{int(day_asked[1]) if day_asked else 2} Mar"
        names = {"by_week": "2026-W10", "by_version": "version 1", "motions": "2026-W10"}
        assert names.get(key, says) in opened, key


def test_volume_by_motion_opens_with_the_days_behind_each(shown, world):
    tell(world, 0, 1)
    part = shown("?window=version&behind=motions", raw=True, **{"HX-Request": "true"})
    assert "Behind: volume by motion" in part
    assert "don’t add these up" in part
    (key, *_) = re.findall(r'behind=(volume[^"#]+)[#]', part)
    assert key in shown("?window=version&behind=weeks", raw=True, **{"HX-Request": "true"})
    days = shown(f"?window=version&behind={key}", raw=True, **{"HX-Request": "true"})
    assert "Mon 2 Mar" in days
    assert part.partition("<tbody>")[2].count("8</b> of") >= 1


def test_a_day_opens_to_its_lines_and_sessions(shown, world):
    tell(world, 2, 1)
    heard(world, 2)
    asked = "?window=version&behind=day.2026-03-04"
    part = shown(asked, raw=True, **{"HX-Request": "true"})
    assert "Behind: Wed 4 Mar" in part
    assert "Arm lift" in part
    assert "1 of 2 done; heard" in part
    entry = re.search(r"sessions=all#(entry-[0-9a-f-]{36})", part)[1]
    assert f'id="{entry}"' in shown("?window=version&sessions=all", raw=True)
    assert "Behind:" not in shown("?window=version&behind=day.2025-01-01")


def test_a_long_window_has_its_last_weeks_of_volume_and_the_others_when_asked(shown, world):
    for number in (0, 14):
        tell(world, number, 1)
    dates = "?first_day=2025-12-01&last_day=2026-03-15"
    content = shown(dates, raw=True)
    table = content[content.index('class="volume"') :].partition("</table>")[0]
    assert re.findall(r"2026-W\d\d", table) == [f"2026-W{week:02}" for week in range(4, 12)]
    assert "These are the last 8 weeks." in content
    assert "Show the 7 before them too" in content
    part = shown(f"{dates}&behind=weeks", raw=True, **{"HX-Request": "true"})
    assert "2025-W49" in part
    assert "Shoulder flexion, left" in part


def test_days_above_the_limit_of_the_version_then_in_force_are_named(shown, world):
    assert world.version.pain_limit == 4
    for number, worst in ((0, 4), (1, 5), (2, 7)):
        tell(world, number, 1, pain_worst=worst)
    text = shown("?window=version").replace(" ,", ",").replace(" .", ".")
    assert "limit is 4: above the limit of its time on 2 days: Tue 3 Mar, Wed 4 Mar." in text


def test_the_trends_of_all_scores_stand_with_the_days_of_pain(shown, world):
    tell(world, 0, 1, pain_before=2, pain_worst=3)
    part = shown("?window=version&behind=pain", raw=True, **{"HX-Request": "true"})
    for series in ("before", "worst during", "after", "next morning"):
        assert f"{series}: too few points to show a trend" in part


def test_an_unknown_figure_shows_the_page_alone(shown):
    assert "Behind:" not in shown("?behind=nothing", **{"HX-Request": "true"})


def test_work_and_moment_stand_as_estimates_for_a_named_body(shown, world):
    tell(world, 0, 1)
    text = shown("?window=version")
    assert re.search(r"\d+ of \d+ J peak \d+\.\d of \d+\.\d N·m", text)
    assert "not on record, so assumed: height 1.70 m, weight 70 kg" in text
    world.patient.stature_cm, world.patient.body_mass_kg = 164, 61
    world.patient.save()
    assert "an average body of this height and weight" in shown("?window=version")


def test_a_week_is_compared_with_the_one_before(shown, world):
    tell(world, 0, 1)
    tell(world, 0, 2)
    tell(world, 7, 1)
    text = shown("?window=version")
    assert "8 of 112 50 % less" in text  # 8 + 8 repetitions, then 8
    assert "1 of 7 days" in text


def test_pain_is_told_by_zone_settling_and_change_with_its_sources(shown, world):
    for number, (worst, morning) in enumerate([(6, 3), (6, 1), (7, None), (2, 1)] + [(3, 1)] * 9):
        tell(world, number, 1, pain_before=1, pain_worst=worst, pain_next_morning=morning)
    text = shown("?window=version")
    assert "1 safe (0 to 2), 9 acceptable (3 to 5), 3 high (6 to 10)." in text
    assert "By the next morning 11 settled, 1 did not, 1 not known." in text
    # First seven days 6 6 7 2 3 3 3, median 3; last seven days (10 to 16 March) 3 3 3 3 3.
    assert "Since version 1 began on Mon 2 Mar: before from 1 to 1" in text
    assert "worst during from 3 to 3: 0 points, 0 %; no important change" in text
    assert "Farrar et al. 2001" in text
    assert "Salaffi et al. 2004" in text
    assert "pain-monitoring model" in text


def test_the_change_reaches_back_to_where_the_version_began(shown, world):
    for number in range(3):
        tell(world, number, 1, pain_worst=8)
    for number in range(9, 13):
        tell(world, number, 1, pain_worst=4)
    said = "worst during from 8 to 4: −4 points, −50 %; clinically important improvement"
    assert said in shown("?window=version")
    assert said in shown("?first_day=2026-03-10&last_day=2026-03-16")


def test_exercises_that_the_pain_was_named_with_are_counted(shown, world):
    lift, bend = world.version.lines.all()
    for number, worst in enumerate((4, 7)):
        done = (Performed(lift, (8,), hurt=True), Performed(bend, (8,), hurt=number == 1))
        tell(world, number, 1, pain_worst=worst, performances=done)
    text = shown("?window=version")
    said = r"Named with Arm lift[^.]* 2 times \(up to 7\), [^.]* 1 time \(up to 7\)"
    assert re.search(said, text)


def test_windows_can_be_chosen(shown, world):
    assert "Review, Tue 17 Feb 2026 to Mon 16 Mar 2026" in shown()
    assert "Review, Tue 3 Mar 2026 to" in shown("?window=2w")
    assert "Review, Tue 20 Jan 2026 to" in shown("?window=8w")
    assert "Review, Mon 2 Mar 2026 to" in shown("?window=all")
    assert "Review, Tue 17 Feb 2026 to" in shown("?window=nonsense")
    text = shown("?first_day=2026-03-05&last_day=2026-03-07")
    assert "Review, Thu 5 Mar 2026 to Sat 7 Mar 2026" in text
    issue(world.patient, world.therapist, day(7))
    assert "Review, Mon 9 Mar 2026 to" in shown("?window=version")


@pytest.mark.parametrize(
    ("query", "problem"),
    [
        ("?first_day=2026-03-07&last_day=2026-03-05", "This is before the first day."),
        ("?first_day=2020-03-07&last_day=2026-03-05", "Choose at most 1100 days."),
        ("?first_day=someday&last_day=2026-03-05", "Enter a valid date."),
    ],
)
def test_wrong_dates_are_named_and_the_usual_days_shown(shown, query, problem):
    text = shown(query)
    assert problem in text
    assert "Review, Tue 17 Feb 2026" in text


def test_a_correction_keeps_the_earlier_value_visible(shown, world):
    tell(world, 0, 1, note="first words")
    tell(world, 0, 1, name="second", replaces="0/1/paper", note="second words")
    content = shown("?window=version", raw=True)
    struck = re.search(r"<del>.*?</del>", content, re.DOTALL)[0]
    assert "first words" in struck
    assert "second words" not in struck
    assert "corrected" in words(content)


def test_sources_are_labelled_and_doubles_named(shown, world):
    tell(world, 0, 1)
    tell(world, 0, 1, source="telephone")
    heard(world, 0)
    text = shown("?window=version")
    assert "paper, typed by Thea Therapist" in text
    assert "telephone, typed by Thea Therapist" in text
    assert text.count("perhaps the same as another") == 2
    assert "1 of 2 due on days heard from" in text


def test_an_entry_is_struck_with_a_reason_and_restored(as_staff, shown, world):
    tell(world, 0, 1)
    heard(world, 0)
    entry = Entry.objects.get()
    client = as_staff(world.therapist)
    strike = reverse("entry_strike", args=[world.patient.pk, entry.pk])
    restore = reverse("entry_restore", args=[world.patient.pk, entry.pk])
    answer = client.post(f"{strike}?window=version&stray=1", {"reason": " "}, follow=True)
    assert "Write why" in answer.content.decode()
    answer = client.post(f"{strike}?window=version&stray=1", {"reason": "typed twice"})
    assert answer["Location"] == (
        reverse("review", args=[world.patient.pk]) + f"?window=version#entry-{entry.pk}"
    )
    text = shown("?window=version")
    assert "Struck out by Thea Therapist on 16 Mar 2026: typed twice" in text
    assert "0 of 2 due on days heard from" in text
    client.post(restore)
    assert "1 of 2 due on days heard from" in shown("?window=version")


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_a_stranger_finds_nothing_and_strikes_nothing(as_staff, world, who):
    tell(world, 0, 1)
    entry = Entry.objects.get()
    client = as_staff(getattr(world, who))
    assert client.get(reverse("review", args=[world.patient.pk])).status_code == 404
    for name in ("entry_strike", "entry_restore"):
        url = reverse(name, args=[world.patient.pk, entry.pk])
        assert client.post(url, {"reason": "x"}).status_code == 404
    assert Entry.objects.get().struck_at is None


def test_another_patients_entry_is_not_struck_from_here(as_staff, world):
    from tests.world import PatientFactory, join

    tell(world, 0, 1)
    other = PatientFactory()
    join(other, world.therapist)
    url = reverse("entry_strike", args=[other.pk, Entry.objects.get().pk])
    assert as_staff(world.therapist).post(url, {"reason": "x"}).status_code == 404


def test_opening_the_page_is_on_record(shown, world):
    shown()
    row = AuditRow.objects.get(verb="opened", subject="review")
    assert (row.user, row.patient) == (world.therapist, world.patient.pk)


def test_long_lists_are_shown_when_asked_for(shown, world):
    for number in range(14):
        for occasion in (1, 2, None):
            tell(world, number, occasion)
    assert "Show the other 36" in shown("?window=version")
    assert shown("?window=version&sessions=all", raw=True).count("<article") == 42


def test_what_people_typed_is_escaped(shown, world):
    tell(world, 0, 1, note="<script>alert(1)</script>")
    assert "<script>alert" not in shown("?window=version", raw=True)


def test_no_style_or_script_stands_in_the_page(shown, world):
    tell(world, 0, 1, pain_worst=3)
    content = shown("?window=version", raw=True)
    assert "style=" not in content
    assert re.findall(r"<script(?![^>]*\bsrc=)", content) == []


def test_the_queries_do_not_grow_with_the_sessions(as_staff, world):
    client = as_staff(world.therapist)
    url = reverse("review", args=[world.patient.pk]) + "?window=all"
    tell(world, 0, 1)
    client.get(url)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(url)
    for number in range(1, 14):
        tell(world, number, 1)
    issue(world.patient, world.therapist, day(7))
    with CaptureQueriesContext(connection) as many:
        client.get(url)
    assert len(many) == len(few)
