"""The pages that bring a sheet in: send, match, look, confirm."""

from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from horses.models import Horse, SheetImport, Visit
from practice.models import Client

pytestmark = pytest.mark.django_db
MESSY = Path(__file__).resolve().parent.parent / "data" / "messy_practice.csv"
TWO = (
    b"Owner,E-mail,Horse,Last visit,Stall\n"
    b"Ann,ann@example.org,Kit,03/04/2026,7\n"
    b"Anne,anne@example.org,Tin,05/06/2026,8\n"
    b"Bob,bob@example.org,,05/06/2026,9\n"
)


def send(browser, data, name="sheet.csv"):
    file = SimpleUploadedFile(name, data)
    return browser.post(reverse("horses:import"), {"file": file})


def address(name, sheet=None):
    sheet = sheet or SheetImport.objects.latest("pk")
    return reverse(f"horses:{name}", args=[sheet.pk])


def test_the_messy_sheet_comes_in_by_the_pages(as_office):
    sent = send(as_office, MESSY.read_bytes(), MESSY.name)
    assert sent.url == address("import_columns")
    page = as_office.get(sent.url)
    assert "owner: phone" in page.content.decode()
    matched = page.context["form"]
    said = {bound.html_name: bound.value() for bound in matched.matched}
    looked = as_office.post(sent.url, said)
    assert looked.url == address("import_sheet")
    page = as_office.get(looked.url)
    text = page.content.decode()
    assert "53 good rows, 7 bad" in text
    assert "This is no whole number of weeks" in text
    assert not Horse.objects.exists()
    done = as_office.post(looked.url, {"bring": "1"}, follow=True)
    assert "Brought in on" in done.content.decode()
    assert "7 rows could not come in" in done.content.decode()
    assert Horse.objects.count() == 53


def test_confirming_again_brings_nothing_twice(as_farrier):
    send(as_farrier, TWO)
    url = address("import_sheet")
    for _ in range(2):
        assert as_farrier.post(url, {"bring": "1"}).status_code == 302 or (
            Horse.objects.count() == 2
        )
    assert (Horse.objects.count(), Visit.objects.count()) == (2, 2)


def test_two_that_look_alike_become_one_when_somebody_says_so(as_farrier):
    send(as_farrier, TWO)
    url = address("import_sheet")
    (near,) = as_farrier.get(url).context["form"].near
    as_farrier.post(url, {f"near_{near.key}": "same", "look": "1"})
    page = as_farrier.get(url)
    assert page.context["counts"]["clients"]["new"] == 1
    as_farrier.post(url, {f"near_{near.key}": "same", "bring": "1"})
    assert Client.objects.count() == 1


def test_all_of_one_name_can_be_said_to_be_the_same_at_once(as_farrier):
    rows = b"".join(b"Bob,Kit %d,Moss Farm\n" % n for n in range(4))
    send(as_farrier, b"Owner,Horse,Barn\n" + rows)
    url = address("import_sheet")
    assert as_farrier.get(url).context["alike"] == {"client": 3, "barn": 3}
    as_farrier.post(url, {"same": "barn"})
    counts = as_farrier.get(url).context["counts"]
    assert (counts["clients"]["new"], counts["barns"]["new"]) == (4, 1)


def test_the_order_of_day_and_month_is_asked_and_answered(as_farrier):
    send(as_farrier, TWO)
    url = address("import_columns")
    page = as_farrier.get(url)
    assert "03/04/2026 is written" in page.content.decode()
    said = {b.html_name: b.value() for b in page.context["form"].matched}
    as_farrier.post(url, {**said, "date_order": "month_first"})
    as_farrier.post(address("import_sheet"), {"bring": "1"})
    assert {str(visit.day) for visit in Visit.objects.all()} == {
        "2026-03-04",
        "2026-05-06",
    }


def test_a_column_can_be_matched_by_hand(as_farrier):
    sent = send(as_farrier, b"Whose,Nag\nAnn,Kit\n")
    page = as_farrier.get(sent.url)
    assert "no heading for the horse&#x27;s name" in page.content.decode()
    as_farrier.post(sent.url, {"column_0": "owner", "column_1": "horse"})
    as_farrier.post(address("import_sheet"), {"bring": "1"})
    assert Horse.objects.get().name == "Kit"


def test_two_columns_for_one_field_are_an_error_beside_the_second(as_farrier):
    send(as_farrier, TWO)
    said = {"column_0": "owner", "column_2": "horse", "column_4": "horse"}
    page = as_farrier.post(address("import_columns"), said)
    assert page.status_code == 422
    assert page.context["form"].errors == {
        "column_4": [
            "'Horse' is the horse: name already: keep one of the two as a note."
        ]
    }


def test_without_the_horse_the_columns_do_not_do(as_farrier):
    send(as_farrier, TWO)
    page = as_farrier.post(address("import_columns"), {"column_0": "owner"})
    assert page.status_code == 422
    assert "no heading for the horse" in page.content.decode()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "The file is empty"),
        (b"%PDF-1.7\n\x00\x01", "not a sheet"),
        (b"PK\x03\x04nonsense", "damaged or locked"),
    ],
)
def test_what_is_no_sheet_is_told_beside_the_field(as_farrier, data, said):
    page = send(as_farrier, data)
    assert page.status_code == 422
    assert said in page.context["form"].errors["file"][0]
    assert not SheetImport.objects.exists()


def test_sending_nothing_is_told_beside_the_field(as_farrier):
    page = as_farrier.post(reverse("horses:import"))
    assert page.status_code == 422
    assert page.context["form"].errors["file"] == ["Choose the file of the sheet."]


def test_a_dropped_sheet_is_gone_and_one_that_is_in_stays(as_farrier):
    send(as_farrier, TWO)
    as_farrier.post(address("import_drop"))
    assert not SheetImport.objects.exists()
    send(as_farrier, TWO)
    as_farrier.post(address("import_sheet"), {"bring": "1"})
    as_farrier.post(address("import_drop"))
    assert SheetImport.objects.count() == 1


def test_what_a_sheet_says_is_shown_as_text(as_farrier):
    send(as_farrier, b"Owner,Horse,Weeks\nAnn,Kit,<script>alert(1)</script>\n")
    page = as_farrier.get(address("import_sheet")).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_only_those_who_keep_the_books_come_near(
    as_farrier, as_apprentice, as_owner, as_barn_contact, as_stranger
):
    send(as_farrier, TWO)
    for name in ("import_sheet", "import_columns"):
        for browser in (as_apprentice, as_owner, as_barn_contact):
            assert browser.get(address(name)).status_code == 403
        assert as_stranger.get(address(name)).status_code == 302


def test_the_list_of_sheets_does_not_ask_more_for_more(as_farrier, farrier, grows_flat):
    def make():
        SheetImport.objects.create(
            name="s.csv", sha256="", content=b"x" * 1000, country="GB", by=farrier
        )

    assert grows_flat(as_farrier, reverse("horses:import"), make) <= 6
