"""The review's numbers as the values that fixtures/review.schema.json describes."""

from collections.abc import Iterable
from datetime import date

from logs.pain import DayPain, PainChange, PainTrend, Series, named_lines
from logs.review import ReviewContext
from logs.stops import StopTold
from logs.tally import DoseTally, LineDay, SessionAdherence
from logs.trend import Shown
from logs.volume import Amounts, VolumeRow

type Json = dict[str, Json] | list[Json] | str | int | float | bool | None


def review_json(review: ReviewContext) -> dict[str, Json]:
    """Return all numbers of a review with the days behind them, rounded to two decimals."""
    names = {line.key: line for version in review.schedule.versions for line in version.lines}
    return {
        "clinic_number": review.clinic_number,
        "first_day": _day(review.window.first_day),
        "last_day": _day(review.window.last_day),
        "today": _day(review.today),
        "heard_days": [_day(day) for day in sorted(review.heard)],
        "lost_days": [_day(day) for day in sorted(review.lost)],
        "pauses": [
            {
                "first_day": _day(pause.first_day),
                "last_day": _day(pause.last_day) if pause.last_day else None,
                "back_dated": pause.is_back_dated,
            }
            for pause in review.pauses
        ],
        "session_adherence": _sessions(review.sessions, review),
        "missed": {
            "sessions": review.missed.sessions,
            "without_reason": review.missed.without_reason,
            "reasons": [
                {
                    "reason": reason,
                    "sessions": row.sessions,
                    "days": [_day(day) for day in row.days],
                }
                for reason, row in review.missed.by_reason.items()
            ],
        },
        "dose_adherence": {
            "plan": [
                {"unit": unit.value, **_dose(tally)}
                for unit, tally in review.dose.by_plan().items()
            ],
            "lines": [
                {
                    "line_key": key,
                    "exercise": names[key].exercise,
                    "name": names[key].name,
                    "side": names[key].side.value,
                    "unit": unit.value,
                    **_dose(tally),
                }
                for (key, unit), tally in review.dose.by_line().items()
            ],
            "joints": [
                {"joint": joint.value, "unit": unit.value, **_dose(tally)}
                for (joint, unit), tally in review.dose.by_joint().items()
            ],
        },
        "overdone": [_line_day(line_day) for line_day in review.dose.overdone],
        "body": {
            "stature_m": review.body.body.stature_m,
            "body_mass_kg": review.body.body.body_mass_kg,
            "assumed": list(review.body.assumed),
        },
        "volume": [
            _volume(row, review) for row in review.volume.rows if row.motion or not row.is_moved
        ],
        "volume_joints": [_volume(row, review) for row in review.volume.joints],
        "pain": {
            series.value: {
                **_pain(review.pain, review.trends[series], series),
                "change_since_version": _change(review.changes[series]),
            }
            for series in Series
        },
        "version": review.version.number if review.version else None,
        "pain_days": [_pain_day(day, review) for day in review.pain],
        "pain_named": [
            {
                "line_key": key,
                "name": names[key].name if key in names else key,
                "times": named.times,
                "highest": named.highest,
            }
            for key, named in named_lines(review.pain).items()
        ],
        "effort": [{"day": _day(day), "effort": effort} for day, effort in review.efforts],
        "obstacles": [
            {
                "line_key": key,
                "name": names[key].name if key in names else key,
                "skipped": _days(found.skipped),
                "stopped": _days(found.stopped),
                "easier": _days(found.easier),
                "reasons": [
                    {"reason": why, "days": _days(days)} for why, days in found.reasons.items()
                ],
                "holds_back": found.holds_back,
            }
            for key, found in review.obstacles.items()
        ],
        "stop_signs": [_stop(stop) for stop in review.stops_here],
        "limits": {limit: each.value for limit, each in review.limits.by_name().items()},
    }


def _stop(stop: StopTold) -> Json:
    return {
        "uuid": str(stop.uuid),
        "tier": stop.tier,
        "sign": stop.sign,
        "day": _day(stop.day),
        "from_occasion": stop.from_occasion,
        "source": stop.source,
        "reported_at": stop.reported_at.isoformat(),
        "received_at": stop.received_at.isoformat(),
        "answers": [
            {
                "words": answer.words,
                "goes_on": answer.goes_on,
                "ends_day": _day(answer.ends_day) if answer.ends_day else None,
                "ends_occasion": answer.ends_occasion,
                "answered_at": answer.at.isoformat(),
            }
            for answer in stop.answers
        ],
    }


def _day(day: date) -> str:
    return day.isoformat()


def _days(days: Iterable[date]) -> Json:
    return [_day(day) for day in days]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _sessions(found: SessionAdherence, review: ReviewContext) -> Json:
    return {
        "due": found.due,
        "done": found.done,
        "extra": found.extra,
        "held": found.held,
        "unheard": found.unheard,
        "percent": _rounded(found.percent),
        "uncapped_percent": _rounded(found.uncapped_percent),
        "lower_percent": _rounded(found.lower_percent),
        "upper_percent": _rounded(found.upper_percent),
        "whole_percent": _rounded(found.whole_percent),
        "days": [
            {
                "day": _day(tally.day),
                "version": tally.version,
                "paused": review.is_paused(tally.day),
                "heard": tally.is_heard,
                "due": tally.due,
                "done": tally.done,
                "extra": tally.extra,
                "held": tally.held,
                "unheard": tally.unheard,
                "whole": tally.whole,
                "part": tally.part,
                "unconfirmed": tally.unconfirmed,
                "entries": list(tally.entries),
            }
            for tally in found.days
        ],
    }


def _dose(tally: DoseTally) -> dict[str, Json]:
    return {
        "due": tally.prescribed,
        "credited": tally.credited,
        "performed": tally.performed,
        "unheard": tally.unheard,
        "percent": _rounded(tally.percent),
        "uncapped_percent": _rounded(tally.uncapped_percent),
        "lower_percent": _rounded(tally.lower_percent),
        "upper_percent": _rounded(tally.upper_percent),
        "days": [_line_day(line_day) for line_day in tally.days],
    }


def _line_day(line_day: LineDay) -> Json:
    return {
        "day": _day(line_day.day),
        "line_key": line_day.line.key,
        "version": line_day.version,
        "unit": line_day.line.unit.value,
        "due": line_day.prescribed,
        "credited": line_day.credited,
        "performed": line_day.performed,
        "recorded": line_day.recorded,
        "unheard": line_day.unheard,
        "heard": line_day.is_heard,
    }


def _volume(row: VolumeRow, review: ReviewContext) -> Json:
    return {
        "joint": row.joint.value,
        "motion": row.motion,
        "side": row.side.value,
        "week": row.week,
        "moved": row.is_moved,
        "prescribed": _amounts(row.prescribed),
        "performed": _amounts(row.performed),
        "change_percent": _rounded(review.volume.change_percent(row)),
        "days": [_day(day) for day in sorted({d.day for d in review.behind(row)})],
    }


def _amounts(amounts: Amounts) -> Json:
    return {
        "repetitions": amounts.repetitions,
        "load_volume_kg_reps": _rounded(amounts.load_volume_kg),
        "seconds": _rounded(amounts.tension_s),
        "work_j": _rounded(amounts.work_j),
        "peak_moment_nm": _rounded(amounts.peak_moment_nm),
        "unmodelled_repetitions": amounts.unmodelled_repetitions,
    }


def _change(change: PainChange) -> Json:
    return {
        "start": _rounded(change.start),
        "present": _rounded(change.present),
        "points": _rounded(change.points),
        "percent": _rounded(change.percent),
        "verdict": change.verdict.value,
    }


def _pain_day(day: DayPain, review: ReviewContext) -> Json:
    limits = review.limits.pain_limits
    zone = day.zone(limits)
    return {
        "day": _day(day.day),
        "highest": day.peak,
        "zone": None if zone is None else zone.label,
        "settled": day.has_settled(limits),
    }


def _pain(days: Iterable[DayPain], trend: PainTrend, series: Series) -> dict[str, Json]:
    return {
        "days": [
            {
                "day": _day(day.day),
                "values": list(day.scores(series)),
                "highest": day.highest(series),
                "median": _rounded(day.median(series)),
            }
            for day in days
            if day.scores(series)
        ],
        "trend": {
            "shows": trend.shows.value,
            "per_week": _rounded(trend.per_week),
            "lower_per_week": _rounded(trend.lower_per_week),
            "upper_per_week": _rounded(trend.upper_per_week),
            "points": trend.statistics.points,
            "p": None if trend.shows is Shown.TOO_FEW else round(trend.statistics.p, 4),
        },
    }
