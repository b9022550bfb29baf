"""What a phone keeps to open the patient's page without a network: a bare page, and the plan.

The bare page (the shell) and what it loads hold no word about anyone. The plan holds what the
patient must read, never a name, a birth date or a diagnosis.
"""

import hashlib
import json
import re
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.utils import translation
from django.utils.translation import gettext

from clinic.languages import LANGUAGES
from logs.phone_plan import home_page
from patients.models import Patient

_WORKER = Path(__file__).parent / "static" / "logs" / "home" / "worker.js"
_LOADED = re.compile(r'(?:href|src)="([^"?]+\.(?:css|js|svg|png))"')


def shell_page(version: str) -> str:
    """Return the bare page in the language that is switched on."""
    return render_to_string("logs/home/shell.html", {"version": version})


def shell_assets() -> tuple[str, ...]:
    """Return the addresses of all that the bare page loads."""
    return tuple(sorted(set(_LOADED.findall(shell_page("")))))


def shell_version() -> str:
    """Return a word that changes with anything of the bare page: its words, or what it loads."""
    digest = hashlib.sha256(_WORKER.read_bytes())
    for language in LANGUAGES:
        with translation.override(language):
            digest.update(shell_page("").encode())
    for address in shell_assets():
        digest.update(address.encode())
        # An address with its content's hash in it is not found by this name, and needs no more.
        if path := finders.find(address.removeprefix(settings.STATIC_URL)):
            digest.update(Path(path).read_bytes())
    return digest.hexdigest()[:16]


def worker_script() -> str:
    """Return the service worker, with its version and what it is to keep."""
    assets = json.dumps(shell_assets())
    head = f"const VERSION = {json.dumps(shell_version())};\nconst ASSETS = {assets};\n"
    return head + _WORKER.read_text(encoding="utf-8")


def manifest() -> dict[str, object]:
    """Return the W3C web application manifest, in the language that is switched on."""
    return {
        "id": "/home/",
        "name": gettext("My exercises"),
        "short_name": gettext("My exercises"),
        "lang": translation.get_language(),
        "dir": "rtl" if translation.get_language_bidi() else "ltr",
        "start_url": "/home/",
        "scope": "/home/",
        "display": "standalone",
        "background_color": "#fbfaf8",
        "theme_color": "#6d2a5f",
        "icons": [
            {
                "src": static(f"logs/home/icon_{size}.png"),
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": purpose,
            }
            for size in (192, 512)
            for purpose in ("any", "maskable")
        ],
    }


def kept_plan(*, patient: Patient, now: datetime, shell: str) -> dict[str, object]:
    """Return what a phone keeps of a plan: the page's words and data, and a hash of them."""
    with translation.override(patient.language):
        page = home_page(patient=patient, now=now)
        context = {"page": page, "patient": patient}
        bidi = translation.get_language_bidi()
        plan: dict[str, object] = {
            "v": 1,
            "shell": shell,
            "language": "en-GB" if patient.language == "en" else patient.language,
            "dir": "rtl" if bidi else "ltr",
            "text_size": patient.text_size,
            "data": page.as_json,
            "words": page.words,
            "main": render_to_string("logs/home/_main.html", context),
            "foot": render_to_string("logs/home/_foot.html", context),
        }
    text = json.dumps(plan, sort_keys=True)
    return plan | {"hash": hashlib.sha256(text.encode()).hexdigest()[:24]}
