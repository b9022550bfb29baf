"""The installed page against W3C: Web Application Manifest, and Service Workers.

Web Application Manifest, W3C Working Draft (w3.org/TR/appmanifest): the members and their values,
section by section as named beside each check; "maskable" and "monochrome" icons are section 1.8.5.
Service Workers, W3C Candidate Recommendation Draft (w3.org/TR/service-workers): a worker's scope,
section "Register"; its type, section "Update". Members and values from memory of these texts. The
manifest was also read by the schema of the npm package @hint/parser-manifest 2.3.20, which found
no fault in it, and found one planted in "display".
"""

import json
import re
import struct
from urllib.parse import urljoin, urlsplit

import pytest
from django.contrib.staticfiles import finders

from clinic.languages import LANGUAGES

ADDRESS = "http://testserver/home/manifest.webmanifest"
MEMBERS = {
    "background_color": str,
    "dir": str,
    "display": str,
    "icons": list,
    "id": str,
    "lang": str,
    "name": str,
    "orientation": str,
    "related_applications": list,
    "prefer_related_applications": bool,
    "scope": str,
    "short_name": str,
    "shortcuts": list,
    "start_url": str,
    "theme_color": str,
}
DISPLAYS = {"fullscreen", "standalone", "minimal-ui", "browser"}
PURPOSES = {"monochrome", "maskable", "any"}
HEX_COLOUR = re.compile(r"#(?:[0-9a-fA-F]{3,4}|[0-9a-fA-F]{6}|[0-9a-fA-F]{8})")  # CSS Color 4, 5.2
LANGUAGE_TAG = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")  # RFC 5646, the part we use
SIZES = re.compile(r"[1-9]\d*[xX][1-9]\d*")  # HTML Living Standard, the link's sizes attribute


def faults(manifest, address=ADDRESS):
    """Return what W3C's rules find wrong with a manifest served from an address."""
    wrong = [name for name in manifest if name not in MEMBERS]
    wrong += [
        name
        for name, kind in MEMBERS.items()
        if name in manifest and type(manifest[name]) is not kind
    ]
    if wrong:
        return wrong
    if manifest.get("dir", "auto") not in {"ltr", "rtl", "auto"}:
        wrong.append("dir")
    if manifest.get("display", "browser") not in DISPLAYS:
        wrong.append("display")
    if not LANGUAGE_TAG.fullmatch(manifest["lang"]):
        wrong.append("lang")
    if not (manifest["name"] or manifest["short_name"]):
        wrong.append("name")
    wrong += [
        name
        for name in ("background_color", "theme_color")
        if not HEX_COLOUR.fullmatch(manifest[name])
    ]
    # Processing start_url, scope and id: all of the document's origin, the start within the scope.
    start, scope, identity = (
        urlsplit(urljoin(address, manifest[name])) for name in ("start_url", "scope", "id")
    )
    origin = urlsplit(address)[:2]
    if start[:2] != origin:
        wrong.append("start_url")
    if scope[:2] != origin or not start.path.startswith(scope.path):
        wrong.append("scope")
    if identity[:2] != origin:
        wrong.append("id")
    for icon in manifest["icons"]:
        if not icon.get("src") or not set(icon.get("purpose", "any").split()) <= PURPOSES:
            wrong.append("icons")
        if not all(SIZES.fullmatch(size) for size in icon["sizes"].split()):
            wrong.append("icons")
    return wrong


def served(client, language="en"):
    answer = client.get("/home/manifest.webmanifest", headers={"Accept-Language": language})
    assert answer["Content-Type"] == "application/manifest+json"  # RFC 6838; the draft, section 5
    return json.loads(answer.content)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_member_is_one_that_w3c_knows_with_a_value_that_it_allows(client, db, language):
    manifest = served(client, language)
    assert faults(manifest) == []
    assert manifest["lang"] == language
    assert manifest["dir"] == ("rtl" if language == "ar" else "ltr")


@pytest.mark.parametrize(
    "planted",
    [
        {"colour": "#fff"},
        {"display": "tiny"},
        {"dir": "up"},
        {"lang": "Englisch!"},
        {"theme_color": "#6d2a5"},
        {"start_url": "https://elsewhere.example/"},
        {"start_url": "/patients/"},
        {"scope": "/home/join"},
        {"id": "https://elsewhere.example/"},
        {"name": 7},
        {"icons": [{"src": "x.png", "sizes": "big"}]},
        {"icons": [{"src": "x.png", "sizes": "1x1", "purpose": "pretty"}]},
        {"icons": [{"sizes": "1x1"}]},
    ],
)
def test_a_planted_fault_is_found(client, db, planted):
    assert faults(served(client) | planted)


def test_each_icon_is_a_png_of_the_size_that_it_says(client, db):
    # PNG (W3C Recommendation), 11.2.1: width and height are the first eight bytes of IHDR.
    for icon in served(client)["icons"]:
        name = re.sub(r"\.[0-9a-f]{12}\.", ".", icon["src"].removeprefix("/static/"))
        with open(finders.find(name), "rb") as file:
            head = file.read(24)
        assert head[:8] == b"\x89PNG\r\n\x1a\n"
        assert icon["type"] == "image/png"
        width, height = struct.unpack(">II", head[16:24])
        assert icon["sizes"] == f"{width}x{height}"


def test_there_is_an_icon_for_each_purpose_and_one_large_enough(client, db):
    icons = served(client)["icons"]
    assert {icon["purpose"] for icon in icons} == {"any", "maskable"}
    assert max(int(icon["sizes"].split("x")[0]) for icon in icons) >= 512


def test_the_worker_lies_where_its_scope_may_be_what_it_is(client, db):
    # A worker's greatest scope is the folder of its script, unless a header widens it.
    answer = client.get("/home/worker.js")
    assert "Service-Worker-Allowed" not in answer
    assert urljoin("/home/worker.js", "./") == served(client)["scope"]
    assert answer["Content-Type"].split(";")[0] == "text/javascript"  # RFC 9239
    assert answer.status_code == 200
