"""The pages of limbs and considerations, for staff and for the owner."""

import io
from datetime import timedelta

import pypdf
import pytest
from django.urls import reverse
from django.utils import timezone

from horses.considerations.weighing import ALL
from horses.models import Conformation, ConsiderationChoice
from practice.keys import uuid7
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def horse(practice, owner):
    return factories.make_horse(
        name="Bracken", owner=owner.client, foaled_year=2010, use="driving"
    )


@pytest.fixture
def trait(horse):
    return factories.make_conformation(horse=horse)


def at(name, *args):
    return reverse(f"horses:{name}", args=args)


def text_of(answer):
    return answer.content.decode()


def told(**over):
    return {
        "key": str(uuid7()),
        "trait": "angular:carpus:valgus",
        "grade": "slight",
        "seen_on": timezone.localdate().isoformat(),
        "note": "",
    } | over


def test_a_limb_is_noted_by_chips_and_shown_everywhere(
    as_apprentice, as_farrier, horse
):
    answer = as_apprentice.post(at("limb_add", horse.pk, "LF"), told())
    assert answer.status_code == 302
    assert "Valgus at the carpus, slight" in text_of(
        as_farrier.get(at("limbs", horse.pk))
    )
    page = text_of(as_farrier.get(at("horse", horse.pk)))
    assert "Valgus at the carpus, slight" in page
    assert 'data-limb="LF"' in page
    assert "Drawn larger than life, not to measure" in page


def test_a_double_tap_notes_once(as_farrier, horse):
    body = told()
    for _ in range(2):
        as_farrier.post(at("limb_add", horse.pk, "LF"), body)
    assert Conformation.objects.count() == 1


def test_the_pair_is_noted_with_one_tap_and_both_or_none(as_farrier, horse):
    body = told(both="on")
    for _ in range(2):
        as_farrier.post(at("limb_add", horse.pk, "LF"), body)
    assert sorted(Conformation.objects.values_list("limb", flat=True)) == ["LF", "RF"]
    answer = as_farrier.post(
        at("limb_add", horse.pk, "RF"), told(trait="angular:carpus:varus", both="on")
    )
    assert answer.status_code == 422
    assert Conformation.objects.count() == 2


def test_a_bad_day_keeps_what_was_chosen(as_farrier, horse):
    answer = as_farrier.post(
        at("limb_add", horse.pk, "RH"),
        told(trait="angular:tarsus:varus", seen_on="soon", note="<i>stiff</i>"),
    )
    page = text_of(answer)
    assert answer.status_code == 422
    assert 'value="angular:tarsus:varus" checked' in page
    assert "&lt;i&gt;stiff&lt;/i&gt;" in page
    nothing = as_farrier.post(at("limb_add", horse.pk, "RH"), told(trait=""))
    assert "Choose what is seen." in text_of(nothing)


def test_there_are_four_limbs(as_farrier, horse):
    assert as_farrier.get(at("limb_add", horse.pk, "XX")).status_code == 404


def test_amended_and_ended_by_a_farrier(as_farrier, horse, trait):
    body = told(trait="axial_rotation:limb:toes_out", grade="marked")
    without = as_farrier.post(at("limb_amend", trait.pk), body)
    assert without.status_code == 422
    assert "Say why it is amended." in text_of(without)
    as_farrier.post(at("limb_amend", trait.pk), body | {"reason": "looked again"})
    trait.refresh_from_db()
    assert trait.grade == "marked"
    page = text_of(as_farrier.get(at("limbs", horse.pk)))
    assert "looked again" in page
    early = as_farrier.post(at("limb_end", trait.pk), {"ended_on": "2001-01-01"})
    assert early.status_code == 422
    assert "It was first seen after that day." in text_of(early)
    day = timezone.localdate().isoformat()
    as_farrier.post(at("limb_end", trait.pk), {"ended_on": day, "ended_note": "done"})
    page = text_of(as_farrier.get(at("limbs", horse.pk)))
    assert "No longer so" in page
    assert "done" in page


def test_the_office_looks_and_does_not_note(as_office, horse, trait):
    assert "Note on LF" not in text_of(as_office.get(at("limbs", horse.pk)))
    assert as_office.post(at("limb_add", horse.pk, "LF"), told()).status_code == 403
    assert as_office.get(at("limb_amend", trait.pk)).status_code == 403


def test_the_record_page_carries_what_is_lasting(as_farrier, farrier, horse, trait):
    visit = factories.make_visit(horses=[horse], farrier=farrier)
    record = visit.records.get()
    page = text_of(as_farrier.get(at("record", record.pk)))
    assert "Lasting: carried to every visit" in page
    assert "Toes out, the whole limb, slight" in page
    assert at("record_considerations", record.pk) in page
    factories.close(visit)
    closed = text_of(as_farrier.get(at("record", record.pk)))
    assert "Toes out, the whole limb, slight" in closed


def test_a_visit_before_it_was_seen_does_not_carry_it(as_farrier, farrier, horse):
    today = timezone.localdate()
    factories.make_conformation(horse=horse, seen_on=today)
    day = today - timedelta(days=3)
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=day)
    page = text_of(as_farrier.get(at("record", visit.records.get().pk)))
    assert "Toes out, the whole limb" not in page


def test_the_owner_reads_it_in_plain_words(as_owner, as_other_owner, horse, trait):
    page = text_of(as_owner.get(at("my_horse", horse.pk)))
    assert "so the toe points out" in page
    assert "supported, not remade" in page
    shown = page.split("<figcaption>")[1].split("</figcaption>")[0]
    assert "Toes out, the whole limb" not in shown
    assert as_other_owner.get(at("my_horse", horse.pk)).status_code == 404


def test_the_report_prints_the_limb(as_owner, farrier, horse, trait):
    visit = factories.make_visit(horses=[horse], farrier=farrier)
    record = visit.records.get()
    factories.make_foot_record(record=record)
    factories.close(visit)
    answer = as_owner.get(at("record_report", record.pk))
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    # Without blanks: this reader takes two letters set close for two words.
    words = "".join("".join(page.extract_text().split()) for page in pages)
    assert "Howthelimbsarebuilt" in words
    assert "Toesout,thewholelimb,slight" in words
    assert "supported,notremade" in words
    assert "lateral" in words


def test_all_considerations_are_listed(as_office):
    page = text_of(as_office.get(at("considerations")))
    for rule in ALL:
        assert f'id="{rule.code}"' in page


def recorded(horse, farrier, kind="flare", place="lateral_quarter"):
    record = factories.make_visit(horses=[horse], farrier=farrier).records.get()
    foot = factories.make_foot_record(record=record, work="new_shoe")
    foot.findings.create(kind=kind, place=place)
    record.is_recorded = True
    record.save(update_fields=["is_recorded"])
    return record


def test_considerations_are_taken_up_set_aside_and_ignored(as_farrier, farrier, horse):
    record = recorded(horse, farrier)
    url = at("consider", record.pk, "flare_dressed")
    for answer, there in (("accepted", 1), ("set_aside", 1), ("", 0)):
        back = as_farrier.post(url, {"answer": answer, "note": "a little"})
        assert back.url == at("record_considerations", record.pk)
        assert ConsiderationChoice.objects.filter(answer=answer).count() == there
    assert as_farrier.post(url, {"answer": "yes!"}).status_code == 302
    assert not ConsiderationChoice.objects.exists()
    none = as_farrier.post(at("consider", record.pk, "no_such"), {"answer": ""})
    assert none.status_code == 404


def test_a_script_gets_the_piece_alone(as_farrier, farrier, horse):
    record = recorded(horse, farrier)
    piece = {"headers": {"X-Requested-With": "fetch"}}
    page = text_of(as_farrier.get(at("record_considerations", record.pk), **piece))
    assert page.lstrip().startswith("<div")
    assert "<html" not in page
    assert "Flare: dress it" in page
    after = as_farrier.post(
        at("consider", record.pk, "flare_dressed"), {"answer": "accepted"}, **piece
    )
    assert 'aria-pressed="true">Accept' in text_of(after)


def test_nobody_but_a_farrier_is_offered_to_answer(as_office, farrier, horse):
    record = recorded(horse, farrier)
    page = text_of(as_office.get(at("record_considerations", record.pk)))
    assert "Flare: dress it" in page
    assert "data-weighed" not in page.replace("data-weighing", "")


def test_a_vet_stands_first_on_the_page(as_farrier, farrier, horse):
    record = recorded(horse, farrier, kind="heat", place="whole_foot")
    page = text_of(as_farrier.get(at("record_considerations", record.pk)))
    assert page.index("A vet first.") < page.index("Waits for the vet")
    assert page.index("Heat or a strong digital pulse") < page.index("Driving on roads")


def test_a_horse_without_a_record_is_weighed_by_how_it_is_built(
    as_farrier, horse, trait
):
    page = text_of(as_farrier.get(at("horse_considerations", horse.pk)))
    assert "Toes out: breakover where the limb takes it" in page
    assert "Nothing is recorded yet" in page
    assert "supported, not remade" in page


def test_the_page_of_limbs_asks_no_more_for_more(as_farrier, horse, grows_flat):
    traits = iter(
        [
            (limb, direction)
            for direction in ("base_wide", "camped_out")
            for limb in ("LF", "RF", "LH", "RH")
        ]
    )

    def make():
        limb, direction = next(traits)
        factories.make_conformation(
            horse=horse, limb=limb, kind="stance", direction=direction
        )

    assert grows_flat(as_farrier, at("limbs", horse.pk), make) <= 7


def test_the_weighing_asks_no_more_for_a_longer_story(
    as_farrier, farrier, horse, grows_flat
):
    record = recorded(horse, farrier)
    days = iter(range(1, 50))

    def make():
        day = timezone.localdate() - timedelta(days=next(days))
        visit = factories.make_visit(horses=[horse], farrier=farrier, day=day)
        ConsiderationChoice.objects.create(
            record=visit.records.get(), code="flare_dressed", answer="accepted"
        )

    url = at("record_considerations", record.pk)
    assert grows_flat(as_farrier, url, make) <= 13
