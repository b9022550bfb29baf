"""The file that a phone hands over: read once, repeated harmlessly, refused where it is wrong."""

import json
import zlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from jsonschema import Draft202012Validator

from clinic.models import AuditRow
from logs.handover import LARGEST_BYTES, MOST_RECORDS, read_handover, sum_of
from logs.handover_actions import OtherPatient, import_handover
from logs.models import MissedReason, Revision, StopReport, Why
from patients import phones
from patients.models import PhoneStore
from plans.jsonfile import JsonError
from tests.logs.homes import enrol_home
from tests.world import FIXTURES, PatientFactory

SCHEMA = json.loads((FIXTURES / "handover.schema.json").read_text())


def file_of(home, *records, **changes):
    file = {
        "form": "handover",
        "v": 2,
        "owner": phones.owner_key(home.phone.patient),
        "store": home.store,
        "made_at": "2026-03-04T18:00:00.000Z",
        "records": list(records),
        "missed": [],
        **changes,
    }
    return file | {"sum": changes.get("sum", sum_of(file))}


def text_of(file):
    return json.dumps(file, indent=1, ensure_ascii=False).encode()


def take_in(home, file, by=None):
    handed = read_handover(text_of(file))
    return import_handover(by=by, patient=home.phone.patient, handover=handed)


def test_the_sum_is_the_crc_32_of_json_in_canonical_form():
    # ISO 3309's CRC-32 of "123456789", as every catalogue of such sums has it: cbf43926.
    assert zlib.crc32(b"123456789") == 0xCBF43926
    # RFC 8785, section 3.2.3: members sorted, no space, other letters as they are.
    file = {"v": 1, "note": 'é "€"\n', "form": "handover", "sum": "left out"}
    canonical = '{"form":"handover","note":"é \\"€\\"\\n","v":1}'
    assert sum_of(file) == f"{zlib.crc32(canonical.encode()):08x}"


def test_each_record_is_stored_once_however_often_the_file_is_read(world, home):
    records = [home.record(world.version, occasion=n) for n in (1, 2)]
    file = file_of(home, *records)
    Draft202012Validator(SCHEMA).validate(file)
    first = take_in(home, file, by=world.therapist)
    assert (first.stored, first.duplicate, first.rejected) == (2, 0, 0)
    again = take_in(home, file, by=world.therapist)
    assert (again.stored, again.duplicate, again.rejected) == (0, 2, 0)
    assert sorted(str(uuid) for uuid in Revision.objects.values_list("pk", flat=True)) == sorted(
        record["uuid"] for record in records
    )
    assert set(Revision.objects.values_list("phone", flat=True)) == {home.phone.pk}
    rows = AuditRow.objects.filter(verb="read hand-over file", user=world.therapist).order_by("pk")
    assert [(row.detail["stored"], row.detail["duplicate"]) for row in rows] == [(2, 0), (0, 2)]


def test_what_the_phone_sends_afterwards_is_known_and_can_go_from_it(world, home):
    record = home.record(world.version)
    take_in(home, file_of(home, record))
    assert home.send(record) == [{"uuid": record["uuid"], "result": "duplicate"}]


def test_a_reported_stop_sign_comes_with_it(world, home):
    stop = {
        "kind": "stop",
        "v": 1,
        "uuid": "5b0f3e62-9c0e-4a3b-8f8e-0d9a3c1b2a11",
        "owner": phones.owner_key(world.patient),
        "tier": "today",
        "sign": "new_weakness",
        "reported_at": "2026-03-04T09:30:00Z",
        "zone": "Europe/London",
        "day": "2026-03-04",
        "from_occasion": 1,
    }
    file = file_of(home, stop)
    Draft202012Validator(SCHEMA).validate(file)
    answer = take_in(home, file).records[0].answer
    assert answer.result == "stored", answer
    assert StopReport.objects.get().phone == home.phone


MISSED = [
    {"day": "2026-03-02", "reason": "tired"},
    {"day": "2026-03-03", "reason": "no_time"},
]


def kept_reasons():
    return {f"{one.day}": (one.reason, one.source) for one in MissedReason.objects.all()}


def test_why_sessions_were_missed_comes_with_it_and_is_kept_once(world, home):
    file = file_of(home, home.record(world.version), missed=MISSED)
    Draft202012Validator(SCHEMA).validate(file)
    first = take_in(home, file, by=world.therapist)
    assert (first.stored, first.duplicate, first.rejected) == (3, 0, 0)
    kept = {"2026-03-02": ("tired", "phone"), "2026-03-03": ("no_time", "phone")}
    assert kept_reasons() == kept
    again = take_in(home, file, by=world.therapist)
    assert (again.stored, again.duplicate, again.rejected) == (0, 3, 0)
    assert kept_reasons() == kept
    rows = AuditRow.objects.filter(verb="said why missed")
    assert [row.actor for row in rows] == [f"phone: {home.phone.label}"] * 2
    # What the phone sends afterwards is known, its day is named, and it can go from the phone.
    told = MISSED[0] | {"owner": file["owner"]}
    assert home.post("missed", told).json() == {"v": 1, "day": "2026-03-02"}
    assert rows.count() == 2


def test_a_file_of_reasons_alone_is_read_and_one_of_nothing_is_not(home):
    file = file_of(home, missed=MISSED[:1])
    Draft202012Validator(SCHEMA).validate(file)
    assert take_in(home, file).stored == 1
    assert list(Draft202012Validator(SCHEMA).iter_errors(file_of(home)))


def test_a_file_read_late_changes_no_later_word_of_its_day(world, home):
    file = file_of(home, missed=MISSED[:1])
    home.post("missed", MISSED[0] | {"owner": file["owner"], "reason": "pain"})
    assert take_in(home, file).duplicate == 1
    assert kept_reasons() == {"2026-03-02": ("pain", "phone")}


def test_an_older_file_knows_no_reasons_and_is_read(world, home):
    file = file_of(home, home.record(world.version), v=1)
    del file["missed"]
    file["sum"] = sum_of(file)
    Draft202012Validator(SCHEMA).validate(file)
    assert take_in(home, file).stored == 1
    assert list(Draft202012Validator(SCHEMA).iter_errors(file | {"missed": []}))


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"day": "2026-03-03", "reason": "too_hard"}, "bad_reason"),
        ({"day": "2026-03-03", "reason": ""}, "bad_reason"),
        ({"day": "2026-03-03", "reason": None}, "bad_reason"),
        ({"day": "20260303", "reason": "pain"}, "bad_day"),
        ({"day": ["2026-03-03"], "reason": "pain"}, "bad_day"),
        ({"day": "2999-01-01", "reason": "pain"}, "not_over"),
        ({"day": "2026-03-03"}, "unknown_key"),
        ({"day": "2026-03-03", "reason": "pain", "note": "x"}, "unknown_key"),
        ("tired", "unknown_key"),
    ],
)
def test_a_bad_reason_is_refused_with_its_place_and_holds_up_no_other(
    as_staff, world, home, told, code
):
    file = file_of(home, home.record(world.version), missed=[MISSED[0], told])
    imported = take_in(home, file)
    assert [read.answer.code for read in imported.all] == ["", "", code]
    bad = imported.missed[1]
    assert bad.place.line > imported.missed[0].place.line > imported.records[0].place.line
    assert text_of(file).decode().splitlines()[bad.place.line - 1][bad.place.column - 1] in '{"'
    assert list(kept_reasons()) == ["2026-03-02"]
    page = upload(as_staff(world.therapist), world.patient, text_of(file)).content.decode()
    assert f"(line {bad.place.line}, column {bad.place.column}): " in page
    assert "Reason 2" in page


def test_the_form_names_the_reasons_that_a_phone_asks_for():
    reason = SCHEMA["properties"]["missed"]["items"]["properties"]["reason"]
    assert reason["enum"] == Why.values


def test_a_bad_record_is_rejected_with_its_place_and_holds_up_no_other(world, home):
    good = home.record(world.version)
    bad = [
        home.record(world.version, pain_before=11),
        home.record(world.version) | {"version": 99},
        home.record(world.version, v=99),
        home.record(world.version, owner="someone else"),
        home.record(world.version, surprise=1),
    ]
    imported = take_in(home, file_of(home, bad[0], good, *bad[1:]))
    assert (imported.stored, imported.rejected) == (1, 5)
    codes = [read.answer.code for read in imported.records]
    assert codes == [
        "bad_pain_before",
        "",
        "unknown_version",
        "later_form",
        "other_owner",
        "unknown_key",
    ]
    assert imported.records[0].place.line < imported.records[1].place.line
    assert all(read.reason for read in imported.records if read.answer.code)


def test_another_patients_file_is_refused_and_stores_nothing(world, home):
    others = enrol_home(PatientFactory())
    file = file_of(others, home.record(world.version))
    with pytest.raises(OtherPatient):
        import_handover(by=None, patient=world.patient, handover=read_handover(text_of(file)))
    assert not Revision.objects.exists()


def test_a_file_of_a_cleared_store_goes_to_the_phone_enrolled_last(world, home):
    PhoneStore.objects.all().delete()
    assert take_in(home, file_of(home, home.record(world.version))).phone == home.phone


@pytest.mark.parametrize(
    ("changes", "line", "reason"),
    [
        ({"form": "diary"}, 1, "is no hand-over file"),
        ({"v": 3}, 3, "newer page"),
        ({"v": True}, 3, "v: must be 1"),
        ({"v": 0}, 3, "v: must be 1"),
        ({"v": 1}, 12, "missed: is not known here"),
        ({"missed": {}}, 12, "missed: must be a list"),
        ({"missed": [0] * (MOST_RECORDS + 1)}, 12, "must not be more than"),
        ({"extra": 1}, 13, "extra: is not known here"),
        ({"records": []}, 7, "at least one record"),
        ({"records": {}}, 7, "must be a list"),
        ({"sum": "00000000"}, 13, "changed or damaged"),
        ({"store": "x"}, 5, "store: must be a UUID"),
        ({"made_at": "noon"}, 6, "made_at: must be an instant"),
        ({"made_at": "2026-03-04T18:00:00"}, 6, "needs its offset"),
        ({"owner": 7}, 4, "owner: must be text"),
    ],
)
def test_a_file_with_a_fault_says_the_line_and_why(world, home, changes, line, reason):
    file = file_of(home, {"uuid": "1"}, **changes)
    with pytest.raises(JsonError, match=reason) as refused:
        read_handover(text_of(file))
    assert refused.value.problems[0][0].line == line


def test_damage_on_the_way_is_seen_wherever_a_letter_changes(world, home):
    content = text_of(file_of(home, home.record(world.version)))
    assert read_handover(content).records
    for at in range(0, len(content), 7):
        damaged = bytearray(content)
        damaged[at] ^= 0x01
        if json_or_none(bytes(damaged)) != json.loads(content):
            with pytest.raises(JsonError):
                read_handover(bytes(damaged))
    for end in range(1, len(content), 97):
        with pytest.raises(JsonError):
            read_handover(content[:end])


def json_or_none(content):
    try:
        return json.loads(content)
    except ValueError:
        return None


def test_a_file_set_out_anew_stays_right(world, home):
    file = file_of(home, home.record(world.version, note="tomó agua, 3 €"))
    for text in (json.dumps(file), json.dumps(dict(reversed(file.items())), indent=8)):
        assert read_handover(text.encode()).owner == file["owner"]


def test_too_large_and_too_many_are_refused(home):
    with pytest.raises(JsonError, match="larger than 2 MB"):
        read_handover(b" " * (LARGEST_BYTES + 1))
    with pytest.raises(JsonError, match="must not be more than"):
        read_handover(text_of(file_of(home, *[0] * (MOST_RECORDS + 1))))


def upload(client, patient, content):
    file = SimpleUploadedFile("sessions.txt", content, "text/plain")
    return client.post(reverse("handover", args=[patient.pk]), {"file": file})


def test_a_therapist_reads_a_file_on_the_patients_page(as_staff, world, home):
    client = as_staff(world.therapist)
    page = client.get(reverse("patient", args=[world.patient.pk])).content.decode()
    assert reverse("handover", args=[world.patient.pk]) in page
    file = file_of(home, home.record(world.version), home.record(world.version, pain_after=11))
    page = upload(client, world.patient, text_of(file))
    assert "1 stored, 0 here already, 1 rejected." in page.content.decode()
    assert "Record 2, 2026-03-04 (line" in page.content.decode()
    assert "0 stored, 1 here already" in upload(
        client, world.patient, text_of(file)
    ).content.decode().replace("1 here already, 1 rejected", "1 here already")


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[]", b"PK\x03\x04"])
def test_a_broken_file_says_where_and_stores_nothing(as_staff, world, home, content):
    client = as_staff(world.therapist)
    page = upload(client, world.patient, content)
    assert page.status_code == 422
    assert "Nothing was stored." in page.content.decode()
    assert "Line 1, column" in page.content.decode() or content == b""
    assert client.post(reverse("handover", args=[world.patient.pk])).status_code == 422
    assert not Revision.objects.exists()


def test_a_file_of_another_patient_is_refused_on_the_page(as_staff, world, home):
    other = enrol_home(PatientFactory())
    page = upload(
        as_staff(world.therapist),
        world.patient,
        text_of(file_of(other, home.record(world.version))),
    )
    assert page.status_code == 422
    assert "is not of this patient&#x27;s phone" in page.content.decode()
    assert "Line 4, column" in page.content.decode()
    assert not Revision.objects.exists()


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_nobody_outside_the_care_team_reads_a_file(as_staff, world, home, who):
    page = upload(
        as_staff(getattr(world, who)),
        world.patient,
        text_of(file_of(home, home.record(world.version))),
    )
    assert page.status_code == 404
    assert not Revision.objects.exists()


def test_the_command_finds_whose_it_is(world, home, tmp_path, capsys):
    PatientFactory()
    path = tmp_path / "sessions.txt"
    path.write_bytes(text_of(file_of(home, home.record(world.version))))
    call_command("import_handover", str(path))
    assert "Patient H-100: 1 stored, 0 here already, 0 rejected." in capsys.readouterr().out
    call_command("import_handover", str(path))
    assert "0 stored, 1 here already" in capsys.readouterr().out


def test_the_command_refuses_what_is_broken_or_of_nobody(world, home, tmp_path, capsys):
    path = tmp_path / "sessions.txt"
    for content in (b'{\n "form": handover}', text_of(file_of(home, {}, owner="0" * 24))):
        path.write_bytes(content)
        with pytest.raises(SystemExit):
            call_command("import_handover", str(path))
        said = capsys.readouterr().err
        assert f"{path}:" in said
        assert "Nothing was stored." in said
    assert not Revision.objects.exists()
