"""The list of horses, the horse's page and its forms."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Horse, Ownership
from horses.selectors.ownership import owners_on, payer_on
from horses.services.ownership import set_owners, set_payer
from tests import factories

pytestmark = pytest.mark.django_db

LIST = "/horses/"


def text_of(answer):
    return answer.content.decode()


@pytest.fixture
def bramble(practice, owner):
    return factories.make_horse(
        name="Bramble", owner=owner.client, cautions="kicks behind", breed="Highland"
    )


def page_of(horse, name="horse"):
    return reverse(f"horses:{name}", args=[horse.pk])


def test_the_list_asks_the_same_number_of_queries_however_many(
    as_farrier, grows_flat, practice
):
    def make():
        horse = factories.make_horse(usual_work=factories.make_work())
        factories.make_payer(horse=horse, client=factories.make_client())

    assert grows_flat(as_farrier, LIST, make) == 7


@pytest.mark.parametrize(
    ("query", "is_found"),
    [
        ("search=bram", True),
        ("search=elspeth", True),
        ("search=elspeth+bramble", True),
        ("search=highland", True),
        ("search=nobody", False),
        ("status=sold", False),
        ("status=any", True),
        ("status=nonsense", True),
        ("barn=999999", True),
    ],
)
def test_the_list_is_searched_and_narrowed(as_farrier, bramble, query, is_found):
    shown = text_of(as_farrier.get(f"{LIST}?{query}"))
    assert ("Bramble" in shown) == is_found


def test_the_list_is_narrowed_by_barn(as_farrier, bramble):
    other = factories.make_horse(name="Thistle")
    shown = text_of(as_farrier.get(f"{LIST}?barn={other.barn_id}"))
    assert "Thistle" in shown
    assert "Bramble" not in shown


def test_a_horse_that_left_is_not_in_the_usual_list(as_farrier, bramble):
    Horse.objects.filter(pk=bramble.pk).update(status=Horse.Status.SOLD)
    assert "Bramble" not in text_of(as_farrier.get(LIST))
    assert "Bramble" in text_of(as_farrier.get(f"{LIST}?status=sold"))


def test_fifty_horses_a_page(as_farrier, practice):
    for number in range(51):
        factories.make_horse(name=f"Horse number {number:02}")
    assert "1–50 of 51" in text_of(as_farrier.get(LIST))
    assert "Horse number 50" in text_of(as_farrier.get(f"{LIST}?page=2"))


def test_the_horse_s_page_says_what_to_beware_of_and_when_it_is_due(
    as_farrier, farrier, bramble, owner
):
    day = timezone.localdate() - timedelta(weeks=3)
    factories.make_visit(horses=[bramble], farrier=farrier, closed=True, day=day)
    shown = text_of(as_farrier.get(page_of(bramble)))
    assert "kicks behind" in shown
    assert shown.index("kicks behind") < shown.index("Next visit")
    assert owner.client.name in shown
    assert "100\u00a0%" in shown


def test_the_horse_s_page_shows_a_payer_and_earlier_owners(
    as_farrier, farrier, bramble, owner
):
    today = timezone.localdate()
    trainer, buyer = (
        factories.make_client(name="Tess"),
        factories.make_client(name="Bo"),
    )
    set_payer(horse=bramble, client=trainer, starts=today, by=farrier)
    set_owners(
        horse=bramble,
        shares={buyer: Decimal(60), owner.client: Decimal(40)},
        starts=today,
        by=farrier,
    )
    shown = text_of(as_farrier.get(page_of(bramble)))
    assert "<strong>Tess</strong> pays" in shown
    assert "60\u00a0%" in shown
    assert "Other times" in shown


def test_an_apprentice_reads_but_gets_no_form(as_apprentice, bramble):
    shown = as_apprentice.get(page_of(bramble))
    assert shown.status_code == 200
    assert "Agreed price" not in text_of(shown)
    assert as_apprentice.get(page_of(bramble, "horse_edit")).status_code == 403


def test_a_horse_that_is_not_there_is_404(as_farrier, practice):
    assert as_farrier.get("/horses/987654/").status_code == 404


def typed(**over):
    return {"key": uuid4(), "name": "Thistle", **over}


def test_adding_a_horse_with_its_owner_leads_to_its_page(as_office, practice):
    anne = factories.make_client()
    barn = factories.make_barn()
    body = typed(
        barn=barn.pk,
        owner=anne.pk,
        owner_from="2025-01-01",
        height="15.2",
        mass="520",
        agreed_price="85.00",
        ueln="826031 000001234",
    )
    answer = as_office.post("/horses/add/", body)
    horse = Horse.objects.get(name="Thistle")
    assert answer.url == page_of(horse)
    assert (horse.height_mm, horse.mass_kg) == (1575, 520)
    assert horse.ueln == "826031000001234"
    assert horse.agreed_price == Decimal("85.00")
    assert [row.client for row in owners_on(horse, date(2025, 1, 1))] == [anne]


def test_sending_the_form_twice_adds_one_horse(as_office, practice):
    body = typed()
    for _ in range(2):
        assert as_office.post("/horses/add/", body).status_code == 302
    assert Horse.objects.filter(name="Thistle").count() == 1


def test_an_imperial_practice_types_pounds(as_office, practice):
    practice.mass_unit = "lb"
    practice.save(update_fields=["mass_unit"])
    as_office.post("/horses/add/", typed(mass="1,146"))
    assert Horse.objects.get(name="Thistle").mass_kg == 520


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "", "required"),
        ("ueln", "123", "15 characters"),
        ("microchip", "12", "15 digits"),
        ("height", "tall", "hands"),
        ("mass", "heavy", "kg"),
        ("interval_weeks", "60", "less than or equal to 52"),
        ("foaled_year", "1800", "Give a year from"),
        ("mass", "2", "20 to 1500"),
    ],
)
def test_what_needs_mending_is_said_beside_the_field_and_the_rest_stays(
    as_office, practice, field, value, sentence
):
    body = typed(notes="stands in cross-ties", **{field: value})
    answer = as_office.post("/horses/add/", body)
    shown = text_of(answer)
    assert answer.status_code == 422
    assert sentence in shown
    assert f'id="id_{field}_error"' in shown
    assert "stands in cross-ties" in shown
    assert not Horse.objects.exists()


def test_changing_a_horse_shows_what_is_known_and_keeps_it(as_office, bramble):
    Horse.objects.filter(pk=bramble.pk).update(height_mm=1575, mass_kg=520)
    form = as_office.get(page_of(bramble, "horse_edit")).context["form"]
    body = {name: form[name].value() or "" for name in form.fields}
    answer = as_office.post(page_of(bramble, "horse_edit"), {**body, "status": "sold"})
    assert answer.status_code == 302
    horse = Horse.objects.get(pk=bramble.pk)
    assert horse.status == "sold"
    assert (horse.height_mm // 10, horse.mass_kg) == (158, 520)
    assert horse.barn == bramble.barn
    assert not hasattr(horse, "due_window")


def test_a_chip_of_another_horse_is_said_at_the_chip(as_office, bramble):
    Horse.objects.filter(pk=bramble.pk).update(microchip="826098100111917")
    answer = as_office.post("/horses/add/", typed(microchip="826 0981 0011 1917"))
    assert "Bramble is entered with this number" in text_of(answer)
    assert answer.status_code == 422


def owners_body(*pairs, starts="2026-03-02", **more):
    body = {"starts": starts, **more}
    for number, (client, share) in enumerate(pairs):
        body[f"client_{number}"] = client.pk if client else ""
        body[f"share_{number}"] = share
    return body


def test_thirds_are_written_as_thirds(as_office, practice):
    clients = [factories.make_client() for _ in range(3)]
    horse = Horse.objects.create(name="Shared")
    body = owners_body(*((client, "1/3") for client in clients), (None, ""))
    assert as_office.post(page_of(horse, "horse_owners"), body).status_code == 302
    shares = sorted(Ownership.objects.values_list("share", flat=True))
    assert shares == [Decimal("33.3333"), Decimal("33.3333"), Decimal("33.3334")]


def test_shares_that_fall_short_are_told_and_kept(as_office, bramble, owner):
    other = factories.make_client()
    body = owners_body((owner.client, "60"), (other, "39"))
    answer = as_office.post(page_of(bramble, "horse_owners"), body)
    assert answer.status_code == 422
    assert "1 % short" in text_of(answer)
    assert 'value="39"' in text_of(answer)


def test_one_owner_on_two_lines_is_told(as_office, bramble, owner):
    body = owners_body((owner.client, "60"), (owner.client, "40"))
    answer = as_office.post(page_of(bramble, "horse_owners"), body)
    assert "stands above already" in text_of(answer)


def test_more_lines_keep_what_is_typed_and_save_nothing(as_office, bramble, owner):
    body = owners_body((owner.client, "60"), more="1")
    answer = as_office.post(page_of(bramble, "horse_owners"), body)
    assert answer.status_code == 200
    assert 'name="share_2"' in text_of(answer)
    assert 'value="60"' in text_of(answer)
    assert Ownership.objects.get().share == 100


def test_a_payer_is_named_and_taken_back(as_office, bramble):
    trainer = factories.make_client()
    at = page_of(bramble, "horse_payer")
    as_office.post(at, {"client": trainer.pk, "starts": "2026-03-02"})
    assert payer_on(bramble, date(2026, 3, 2)).client == trainer
    as_office.post(at, {"client": "", "starts": "2026-04-01"})
    assert payer_on(bramble, date(2026, 3, 31)).client == trainer
    assert payer_on(bramble, date(2026, 4, 1)) is None


def test_the_pieces_for_a_client_and_a_barn_name_the_horses(
    as_farrier, bramble, owner, grows_flat
):
    at_client = reverse("horses:client_horses", args=[owner.client_id])
    assert "Bramble" in text_of(as_farrier.get(at_client))
    at_barn = reverse("horses:barn_horses", args=[bramble.barn_id])
    assert "Bramble" in text_of(as_farrier.get(at_barn))
    grows_flat(as_farrier, at_barn, lambda: factories.make_horse(barn=bramble.barn))
    grows_flat(as_farrier, at_client, lambda: factories.make_horse(owner=owner.client))


def test_kinds_of_work_are_listed_added_and_changed(as_office, practice):
    body = {"key": uuid4(), "name": "Glue-on", "kind": "other", "minutes": 90}
    assert as_office.post("/horses/works/add/", body).status_code == 302
    assert "1\u00a0h\u00a030" in text_of(as_office.get("/horses/works/"))
    twice = as_office.post("/horses/works/add/", {**body, "key": uuid4()})
    assert twice.status_code == 422
    assert "already" in text_of(twice)


@pytest.mark.parametrize("name", ["horse", "my_horse"])
def test_a_horse_s_page_asks_the_same_number_of_queries_however_long_its_story(
    name, request, bramble, farrier, grows_flat
):
    browser = request.getfixturevalue(
        "as_owner" if name == "my_horse" else "as_farrier"
    )
    days = iter(range(1, 100))

    def make():
        day = timezone.localdate() - timedelta(days=next(days))
        visit = factories.make_visit(
            horses=[bramble], farrier=farrier, day=day, closed=True
        )
        for foot in ("LF", "RF"):
            factories.make_foot_record(record=visit.records.get(), foot=foot)

    count = grows_flat(browser, f"{page_of(bramble, name)}?visits=all", make)
    # The story of the next visit reads settings, limits, records, feet and lost shoes.
    assert count <= 21


def test_an_owner_who_was_put_aside_keeps_the_line_in_the_form(
    as_office, bramble, owner
):
    owner.client.is_active = False
    owner.client.save(update_fields=["is_active"])
    form = as_office.get(page_of(bramble, "horse_owners")).context["form"]
    body = {name: form[name].value() or "" for name in form.fields}
    assert as_office.post(page_of(bramble, "horse_owners"), body).status_code == 302
    assert Ownership.objects.get().client == owner.client
