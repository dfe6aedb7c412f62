"""The record page: filled with a thumb, nothing lost, shown, amended, printed."""

import io
import re
from dataclasses import replace
from decimal import Decimal
from html import unescape

import pypdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from horses.entries import FindingEntry, FootEntry, RecordEntry, ShoeEntry
from horses.forms.records import record_data
from horses.models import Photo, VisitRecord
from horses.selectors.records import entry_of, with_feet
from horses.services.records import save_record
from horses.services.visits import close_visit
from tests.factories import close, make_horse, make_ownership, make_visit, make_work

LEFT = FootEntry(
    "LF",
    work="new_shoe",
    dorsal_length_mm=Decimal("84.0"),
    dorsal_angle_deg=Decimal("49.9"),
    heel_angle_deg=Decimal("43.0"),
    findings=(
        FindingEntry("crack", "toe", "slight"),
        FindingEntry("flare", "lateral_quarter", "moderate"),
    ),
    shoe=ShoeEntry(
        profile="fullered",
        metal="steel",
        section_width_mm=Decimal("20.0"),
        section_thickness_mm=Decimal("8.0"),
        style="open",
        size="5",
        toe_treatment="rolled",
        toe_place="lateral_toe_quarter",
        clips="toe",
        traction="road nails, studs",
        nails_medial=3,
        nails_lateral=4,
    ),
    note="tight on the nail",
)
ENTRY = RecordEntry(note="stood well", advice="pick out daily", feet=(LEFT,))


@pytest.fixture
def horse(practice):
    return make_horse(name="Bracken")


@pytest.fixture
def visit(horse, farrier):
    return make_visit(horses=[horse], farrier=farrier)


@pytest.fixture
def record(visit):
    return visit.records.get()


@pytest.fixture
def url(record):
    return reverse("horses:record", args=[record.pk])


def fields(entry=ENTRY, revision=0, **over):
    return record_data(entry, revision=revision, unit="mm") | over


def kept(record):
    return entry_of(with_feet(VisitRecord.objects.filter(pk=record.pk)).get())


def values(page, name):
    """What stands in the fields of this name."""
    found = re.findall(rf'<input[^>]*name="{name}"[^>]*>', page.content.decode())
    return [
        unescape(re.search(r'value="([^"]*)"', field)[1])
        for field in found
        if 'type="text"' in field or "checked" in field or 'type="hidden"' in field
        if 'value="' in field
    ]


def save(record, farrier, entry=ENTRY, base=None):
    return save_record(
        key=record.pk,
        visit=record.visit,
        horse=record.horse,
        entry=entry,
        base_revision=base,
        by=farrier,
    )


def test_what_is_filled_in_is_what_is_kept(as_farrier, record, url):
    answer = as_farrier.post(url, fields())
    assert answer.url == reverse("horses:visit", args=[record.visit_id])
    assert kept(record) == ENTRY
    page = as_farrier.get(url)
    assert values(page, "LF-dorsal_length_mm") == ["84"]
    assert values(page, "LF-dorsal_angle_deg") == ["49.9"]
    assert values(page, "LF-see") == ["crack", "flare"]
    assert values(page, "LF-see-flare-at") == ["lateral_quarter"]
    assert values(page, "LF-see-flare-grade") == ["moderate"]
    assert values(page, "LF-shoe_traction") == ["road nails", "studs"]
    assert values(page, "LF-shoe_nails_lateral") == ["4"]


def test_saving_what_the_page_shows_changes_nothing(as_farrier, farrier, record, url):
    save(record, farrier)
    as_farrier.post(url, fields(revision=1))
    record.refresh_from_db()
    assert record.revision == 1


def test_a_double_tap_saves_once(as_farrier, record, url):
    for _ in range(2):
        as_farrier.post(url, fields())
    record.refresh_from_db()
    assert record.revision == 1


def test_one_kind_at_two_places_with_two_grades_survives_the_page(
    as_farrier, farrier, record, url
):
    cracks = (
        FindingEntry("crack", "toe", "slight"),
        FindingEntry("crack", "medial_quarter", "slight", "old"),
        FindingEntry("crack", "lateral_quarter", "marked"),
        FindingEntry("crack", "lateral_heel", "marked"),
    )
    entry = RecordEntry(feet=(FootEntry("RH", findings=cracks),))
    save(record, farrier, entry)
    page = as_farrier.get(url)
    assert len(values(page, "RH-see")) == 3
    as_farrier.post(url, fields(entry, revision=1))
    assert set(kept(record).feet[0].findings) == set(cracks)


def test_a_failed_save_loses_no_field(as_farrier, record, url):
    bad = fields() | {
        "LF-dorsal_length_mm": ["ninety"],
        "RF-width_mm": ["900"],
        "way_of_going": ["lands <flat>"],
    }
    answer = as_farrier.post(url, bad)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert values(answer, "LF-dorsal_length_mm") == ["ninety"]
    assert values(answer, "RF-width_mm") == ["900"]
    assert values(answer, "LF-see") == ["crack", "flare"]
    assert values(answer, "LF-see-crack-at") == ["toe"]
    assert values(answer, "LF-shoe_size") == ["5"]
    assert "lands &lt;flat&gt;" in text
    assert "Write it like 83 mm or 8.3 cm." in text
    assert "lies between 1 and 400 mm" in text
    record.refresh_from_db()
    assert not record.is_recorded


def test_two_phones_meet_and_the_second_chooses(as_farrier, farrier, record, url):
    save(record, farrier)
    typed = fields(replace(ENTRY, note="mine"), revision=0)
    answer = as_farrier.post(url, typed)
    assert answer.status_code == 409
    assert "Someone saved this record after you opened it" in answer.content.decode()
    assert "Yours differs in: note." in answer.content.decode()
    assert values(answer, "revision") == ["1"]
    assert kept(record).note == "stood well"
    again = as_farrier.post(url, fields(replace(ENTRY, note="mine"), revision=1))
    assert again.status_code == 302
    assert kept(record).note == "mine"


def test_inches_are_read_and_shown(as_farrier, practice, record, url):
    practice.length_unit = "in"
    practice.save(update_fields=["length_unit"])
    as_farrier.post(
        url, {"LF-dorsal_length_mm": "3 1/4", "RF-dorsal_length_mm": "83 mm"}
    )
    left, right = kept(record).feet
    assert left.dorsal_length_mm == Decimal("82.6")  # 3.25 × 25.4, to a tenth
    assert right.dorsal_length_mm == Decimal("83.0")
    assert values(as_farrier.get(url), "LF-dorsal_length_mm") == ["3 1/4"]


@pytest.fixture
def last_time(record, farrier):
    import datetime

    day = record.visit.day - datetime.timedelta(days=42)
    before = make_visit(horses=[record.horse], farrier=farrier, day=day)
    save(before.records.get(), farrier)
    close(before)


def test_last_time_stands_beside_the_field(as_farrier, url, last_time):
    page = as_farrier.get(url).content.decode()
    assert re.search(r'class="last-time"[^>]*>84<', page)
    assert 'data-step-from="84"' in page
    assert values(as_farrier.get(url), "LF-dorsal_length_mm") == []


def test_as_last_time_fills_a_foot_without_a_script(as_farrier, record, url, last_time):
    typed = {"as_last": "LF", "RF-width_mm": "125", "LF-see": ["thrush"]}
    page = as_farrier.post(url, typed)
    assert page.status_code == 200
    assert values(page, "LF-dorsal_length_mm") == ["84"]
    assert values(page, "LF-work") == ["new_shoe"]
    assert values(page, "LF-shoe_size") == ["5"]
    assert values(page, "RF-width_mm") == ["125"]
    # what lasts is filled in, conditions are seen anew
    assert values(page, "LF-see") == ["thrush", "flare"]
    record.refresh_from_db()
    assert not record.is_recorded


def test_work_and_shoe_are_copied_to_the_pair(as_farrier, url):
    page = as_farrier.post(url, fields() | {"copy": ["LF"]})
    assert values(page, "RF-work") == ["new_shoe"]
    assert values(page, "RF-shoe_nails_lateral") == ["4"]
    assert values(page, "RF-dorsal_length_mm") == []
    assert values(page, "RF-see") == []


def test_the_drawing_follows_what_is_typed(as_farrier, record):
    url = reverse("horses:record_look", args=[record.pk, "LF"])
    answer = as_farrier.post(url, fields() | {"RF-dorsal_angle_deg": ["55.1"]})
    text = answer.content.decode()
    assert "flare, lateral quarter, moderate" in text
    assert "under-run heel: clear" in text
    assert "uneven pair: clear" in text
    assert "Wiggers" in text
    assert "Not a diagnosis" in text
    record.refresh_from_db()
    assert not record.is_recorded


def test_a_look_at_no_foot_is_not_there(as_farrier, record):
    url = reverse("horses:record_look", args=[record.pk, "XX"])
    assert as_farrier.post(url, {}).status_code == 404


def test_what_the_vet_should_see_is_advised_on_the_story(
    as_farrier, farrier, record, url
):
    hot = FootEntry("LF", findings=(FindingEntry("heat", "whole_foot", "marked"),))
    save(record, farrier, RecordEntry(feet=(hot,)))
    close_visit(visit=record.visit, by=farrier)
    text = as_farrier.get(url).content.decode()
    assert "call a vet now" in text
    assert "not a diagnosis" in text


def test_an_apprentice_records_and_the_office_reads(
    as_apprentice, as_office, record, url
):
    assert as_apprentice.post(url, fields()).status_code == 302
    page = as_office.get(url)
    assert page.status_code == 200
    assert b'name="LF-work"' not in page.content
    assert as_office.post(url, fields()).status_code == 403


def test_a_closed_record_is_amended_with_a_reason(
    as_farrier, as_apprentice, farrier, record, url
):
    save(record, farrier)
    close_visit(visit=record.visit, by=farrier)
    assert b'name="LF-work"' not in as_farrier.get(url).content
    amend = reverse("horses:record_amend", args=[record.pk])
    assert as_apprentice.get(amend).status_code == 403
    new = replace(ENTRY, note="wrong foot")
    without = as_farrier.post(amend, fields(new, revision=1))
    assert without.status_code == 422
    assert "Say why it is amended." in without.content.decode()
    done = as_farrier.post(amend, fields(new, revision=1, reason=["mixed up"]))
    assert done.url == url
    assert kept(record).note == "wrong foot"
    text = as_farrier.get(url).content.decode()
    assert "mixed up" in text
    assert "<del>stood well</del> → <ins>wrong foot</ins>" in text


def picture(name="sole.jpg"):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def test_photos_come_with_the_record_and_are_served_to_those_who_may(
    as_farrier, as_other_owner, as_owner, owner, farrier, record, url
):
    form = fields(photo_foot=["LF"], photo_view=["solar"])
    bad = SimpleUploadedFile("notes.txt", b"no picture", "text/plain")
    as_farrier.post(url, form | {"photo": [picture(), picture("again.jpg"), bad]})
    photo = Photo.objects.get()  # the same picture twice is one photo
    assert (photo.foot, photo.view) == ("LF", "solar")
    assert kept(record) == ENTRY
    for name in ("photo", "photo_small"):
        there = reverse(f"horses:{name}", args=[photo.pk])
        answer = as_farrier.get(there)
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert "private" in answer["Cache-Control"]
        assert answer.getvalue()[:2] == b"\xff\xd8"
        assert as_other_owner.get(there).status_code == 404
        assert as_owner.get(there).status_code == 404
    record.horse.ownerships.all().delete()
    make_ownership(horse=record.horse, client=owner.client)
    there = reverse("horses:photo", args=[photo.pk])
    assert as_owner.get(there).status_code == 404  # the visit is still open
    close(record.visit)
    answer = as_owner.get(there)
    assert answer.status_code == 200
    assert answer.getvalue()[:2] == b"\xff\xd8"  # read, so that its file is closed


def test_a_photo_is_removed_with_its_files(as_farrier, record, url, settings):
    as_farrier.post(url, fields() | {"photo": [picture()]})
    assert len(list(settings.MEDIA_ROOT.rglob("*.jpg"))) == 2
    photo = Photo.objects.get()
    as_farrier.post(reverse("horses:photo_remove", args=[photo.pk]))
    assert not Photo.objects.exists()


def report_of(answer):
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    return "".join(page.extract_text() for page in pages)


def test_the_report_prints_what_was_found_done_and_amended(
    as_farrier, farrier, record, url
):
    as_farrier.post(url, fields() | {"photo": [picture()]})
    close_visit(visit=record.visit, by=farrier)
    as_farrier.post(
        reverse("horses:record_amend", args=[record.pk]),
        fields(replace(ENTRY, note="changed"), revision=1, reason=["mixed up"]),
    )
    answer = as_farrier.get(reverse("horses:record_report", args=[record.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert "bracken-" in answer["Content-Disposition"]
    text = report_of(answer)
    for words in (
        "Bracken",
        "Left fore",
        "medial",
        "crack, toe, slight",
        "pick out daily",
        "mixed up",
        "not a diagnosis",
    ):
        assert words in text


@pytest.mark.parametrize(("country", "inches"), [("GB", 11.69), ("US", 11.0)])
def test_the_report_fits_the_countrys_paper(
    as_farrier, farrier, practice, record, country, inches
):
    practice.country = country
    practice.save(update_fields=["country"])
    save(record, farrier)
    answer = as_farrier.get(reverse("horses:record_report", args=[record.pk]))
    page = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0]
    assert float(page.mediabox.height) / 72 == pytest.approx(inches, abs=0.01)


def test_only_those_who_see_the_record_get_the_report(
    as_farrier, as_owner, as_barn_contact, farrier, record, url
):
    save(record, farrier)
    report = reverse("horses:record_report", args=[record.pk])
    assert as_owner.get(report).status_code == 404
    assert as_barn_contact.get(report).status_code == 404


def test_the_work_to_be_billed_is_chosen(as_farrier, record, url):
    work = make_work()
    as_farrier.post(url, fields() | {"work": [str(work.pk)]})
    assert kept(record).work == work.pk
    answer = as_farrier.post(url, fields(revision=1) | {"work": ["999999"]})
    assert answer.status_code == 422
    assert "Choose the work from the list." in answer.content.decode()


def test_the_record_page_asks_no_more_for_more_findings(
    as_farrier, farrier, record, url, django_assert_num_queries, last_time
):
    many = tuple(FindingEntry("crack", place) for place in ("toe", "medial_quarter"))
    feet = tuple(FootEntry(foot, findings=many) for foot in ("LF", "RF", "LH", "RH"))
    save(record, farrier, RecordEntry(feet=feet))
    with django_assert_num_queries(12):
        as_farrier.get(url)
