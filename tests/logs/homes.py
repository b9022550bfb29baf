"""A phone at home for tests: enrolled, with a client that carries its credential."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import uuid4

from django.test import Client

from patients import phones
from patients.models import Patient, Phone

ORIGIN = "http://testserver"
ENROLLED_AT = datetime(2026, 3, 2, 9, tzinfo=UTC)


@dataclass
class Home:
    """A phone with its store and a client."""

    phone: Phone
    client: Client
    store: str

    def post(self, path, body, origin=ORIGIN, **more):
        """Send JSON as the page does."""
        headers = {"Origin": origin} if origin else {}
        text = body if isinstance(body, (str, bytes)) else json.dumps(body)
        more.setdefault("content_type", "application/json")
        return self.client.post(f"/home/{path}", text, headers=headers, **more)

    def send(self, *records):
        """Send entries; return the answers."""
        answer = self.post("entries", {"entries": list(records)})
        assert answer.status_code == 200, answer.content
        assert answer.json()["v"] == 1
        return answer.json()["answers"]

    def record(self, version, **changes):
        """Return a record of one session with every line done at its low end."""
        return {
            "v": 1,
            "uuid": str(uuid4()),
            "entry": str(uuid4()),
            "replaces": None,
            "owner": phones.owner_key(self.phone.patient),
            "day": "2026-03-04",
            "occasion": 1,
            "version": version.number,
            "began_at": "2026-03-04T09:00:00.000Z",
            "zone": "Europe/London",
            "pain_before": 2,
            "pain_worst": 4,
            "pain_after": 3,
            "pain_next_morning": None,
            "effort": None,
            "note": "",
            "performances": [
                {
                    "line": line.key,
                    "amounts": [line.amount_low] * line.sets,
                    "load_g": None,
                    "confirmed": True,
                }
                for line in version.lines.all()
            ],
            **changes,
        }


def enrol_home(patient: Patient, now: datetime = ENROLLED_AT) -> Home:
    """Enrol a phone for a patient and give it a client."""
    link = phones.make_invite(by=None, patient=patient, now=now)
    store = uuid4()
    enrolled = phones.enrol(
        secret=link.partition("#")[2],
        store_id=store,
        time_zone="Europe/London",
        user_agent="Android",
        present=None,
        now=now,
    )
    client = Client(enforce_csrf_checks=True)
    client.cookies[phones.COOKIE_NAME] = enrolled.credential
    return Home(enrolled.phone, client, str(store))
