"""The page of marks: a form of numbers under the picture, figures beside the record."""

import io
import re
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from PIL import Image

from horses.models import Photo
from horses.selectors.marks import points_of
from horses.services.photos import add_photo
from tests.factories import close, make_horse, make_visit
from tests.horses.test_landmarks import ALL, HIGH, SIDE, WIDE
from tests.horses.test_marks import left_fore, places


@pytest.fixture
def visit(practice, farrier):
    return make_visit(horses=[make_horse(name="Bracken")], farrier=farrier)


@pytest.fixture
def photo(visit, farrier, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return taken(visit, farrier)


def taken(visit, farrier, foot="LF", view="lateral", colour="grey"):
    picture = io.BytesIO()
    Image.new("RGB", (WIDE, HIGH), colour).save(picture, "JPEG")
    picture.seek(0)
    return add_photo(
        record=visit.records.get(), upload=picture, foot=foot, view=view, by=farrier
    )


def at(photo, page="photo_marks"):
    return reverse(f"horses:{page}", args=[photo.pk])


def numbers(px=SIDE, **more):
    data = {"revision": "0", "known": "100"}
    for name, (x, y) in px.items():
        data |= {f"{name}_x": str(x), f"{name}_y": str(y)}
    return data | more


def shown(page):
    """Its text, without marks of its own."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", page.content.decode())))


def test_numbers_without_a_script_are_kept_and_read(as_farrier, photo):
    client = as_farrier
    answer = client.post(at(photo), numbers())
    assert answer.status_code == 302
    assert points_of(Photo.objects.get(pk=photo.pk)) == places()
    page = client.get(at(photo))
    assert "49.8° ± 1.0°" in shown(page)
    assert "85.1 mm ± 1.9 mm" in shown(page)
    assert (
        f'name="toe_ground_x" value="{SIDE["toe_ground"][0]}.0"'
        in page.content.decode()
    )


def test_saving_what_the_page_shows_changes_nothing(as_farrier, photo):
    client = as_farrier
    client.post(at(photo), numbers(toe_ground_x="401.7"))
    page = client.get(at(photo))
    form = page.context["form"]
    again = {name: form[name].value() for name in form.fields if form[name].value()}
    assert again["toe_ground_x"] == "401.7"
    client.post(at(photo), again)
    assert Photo.objects.get(pk=photo.pk).marks_revision == 1


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"toe_ground_x": "far"}, "0 to 1600"),
        ({"toe_ground_x": "1601"}, "0 to 1600"),
        ({"toe_ground_y": "-1"}, "0 to 1200"),
        ({"toe_ground_y": "NaN"}, "0 to 1200"),
        ({"toe_ground_y": ""}, "Write both numbers"),
        ({"known": "0.2"}, "between 1 and 1000 mm"),
        ({"known": "a hand"}, ""),
        ({"revision": "old"}, ""),
    ],
    ids=str,
)
def test_a_wrong_number_is_told_beside_its_field_and_all_is_kept(
    as_farrier, photo, wrong, says
):
    page = as_farrier.post(at(photo), numbers(**wrong))
    assert page.status_code == 422
    assert says in shown(page)
    assert "Nothing is saved yet" in shown(page)
    form = page.context["form"]
    assert form["heel_ground_x"].value() == "870"
    assert all(form[name].value() == value for name, value in wrong.items())
    assert not points_of(photo)


def test_marks_on_each_other_are_saved_but_give_no_figure(as_farrier, photo):
    client = as_farrier
    client.post(at(photo), numbers(toe_hairline_x="401", toe_hairline_y="771"))
    page = shown(client.get(at(photo)))
    assert "lie too near to each other" in page
    assert "Toe angle" not in page.replace("Toe angle after", "")


def test_ticked_figures_are_recorded_and_the_others_not(as_farrier, photo):
    offered = ["dorsal_angle_deg", "heel_angle_deg"]
    data = numbers(into_record="1", offered=offered, use=["dorsal_angle_deg"])
    answer = as_farrier.post(at(photo), data)
    assert answer.status_code == 302
    foot = left_fore(photo)
    assert (foot.dorsal_angle_deg, foot.heel_angle_deg) == (Decimal("49.8"), None)


def test_a_typed_value_is_shown_beside_and_never_ticked_by_itself(as_farrier, photo):
    client = as_farrier
    first = numbers(into_record="1", offered="heel_angle_deg", use="heel_angle_deg")
    client.post(at(photo), first)
    moved = numbers(revision="1", heel_ground_x="860")
    client.post(at(photo), moved)
    rows = {row.name: row for row in client.get(at(photo)).context["figures"].rows}
    row = rows["heel_angle_deg"]
    assert (row.stands, row.is_same, row.is_ticked) == (Decimal("45.0"), False, False)
    assert rows["dorsal_angle_deg"].is_ticked


def test_a_value_typed_meanwhile_stands_and_is_told(as_farrier, photo):
    client = as_farrier
    first = numbers(into_record="1", offered="heel_angle_deg", use="heel_angle_deg")
    client.post(at(photo), first)
    stale = numbers(
        revision="1",
        heel_ground_x="860",
        into_record="1",
        offered="heel_angle_deg",
        use="heel_angle_deg",
        **{"stands-heel_angle_deg": "51.0"},
    )
    page = client.post(at(photo), stale)
    assert page.status_code == 422
    assert "changed meanwhile to 45.0 °" in shown(page)
    assert "The marks themselves are saved" in shown(page)
    assert left_fore(photo).heel_angle_deg == Decimal("45.0")
    seen = {**stale, "revision": "2", "stands-heel_angle_deg": "45.0"}
    assert client.post(at(photo), seen).status_code == 302
    assert left_fore(photo).heel_angle_deg == Decimal("42.0")


@pytest.mark.parametrize("stands", ["sNaN", "NaN", "x", "9" * 400, "1e999999"])
def test_rough_values_of_what_stood_are_no_crash(as_farrier, photo, stands):
    client = as_farrier
    ways = {"into_record": "1", "offered": "heel_angle_deg", "use": "heel_angle_deg"}
    client.post(at(photo), numbers(**ways))
    again = numbers(revision="1", heel_ground_x="860", **ways)
    page = client.post(at(photo), {**again, "stands-heel_angle_deg": stands})
    assert page.status_code == 422
    assert left_fore(photo).heel_angle_deg == Decimal("45.0")


def test_two_who_marked_at_once_are_told_and_saving_again_is_meant(
    as_farrier, as_apprentice, photo
):
    as_farrier.post(at(photo), numbers())
    client = as_apprentice
    page = client.post(at(photo), numbers(toe_ground_x="410"))
    assert page.status_code == 409
    assert page.context["form"]["toe_ground_x"].value() == "410"
    again = numbers(
        toe_ground_x="410", revision=page.context["form"]["revision"].value()
    )
    assert client.post(at(photo), again).status_code == 302


def test_figures_are_asked_for_without_saving(as_farrier, photo):
    client = as_farrier
    page = client.post(at(photo, "photo_figures"), numbers())
    assert "49.8° ± 1.0°" in shown(page)
    assert "<html" not in page.content.decode()
    assert not points_of(Photo.objects.get(pk=photo.pk))
    rough = numbers(toe_ground_x="nowhere", known="?")
    page = client.post(at(photo, "photo_figures"), rough)
    assert page.status_code == 200
    assert "Heel angle" in shown(page)
    assert "Toe angle" not in shown(page)


@pytest.mark.parametrize("view", ["dorsal", "solar"])
def test_the_other_views_are_read_too(as_farrier, farrier, photo, visit, view):
    other = taken(visit, farrier, view=view, colour="brown")
    client = as_farrier
    client.post(at(other), numbers(ALL[view]))
    page = client.get(at(other))
    assert len(page.context["figures"].rows) == 5
    assert page.context["board"].placed == len(ALL[view])


def test_a_photo_of_no_view_asks_first(as_farrier, farrier, photo, visit):
    other = taken(visit, farrier, foot="", view="other", colour="brown")
    client = as_farrier
    page = client.get(at(other))
    assert "What the photo shows" in shown(page)
    assert page.context.get("board") is None
    assert client.post(at(other), numbers()).status_code == 422
    assert client.post(at(other, "photo_figures"), numbers()).status_code == 204
    bad = client.post(at(other, "photo_shows"), {"foot": "LF", "view": "other"})
    assert bad.status_code == 422
    assert "Choose from where it was taken." in shown(bad)
    client.post(at(other, "photo_shows"), {"foot": "RH", "view": "solar"})
    assert client.get(at(other)).context["board"].placed == 0


def test_the_office_sees_and_marks_nothing(as_farrier, as_office, photo):
    as_farrier.post(at(photo), numbers())
    client = as_office
    page = client.get(at(photo))
    assert "49.8° ± 1.0°" in shown(page)
    html = page.content.decode()
    for way in ("data-marks", "Save the marks", 'name="use"', "What the photo shows"):
        assert way not in html
    assert client.post(at(photo), numbers()).status_code == 403


def test_after_closing_a_reason_is_asked_for(as_apprentice, as_farrier, photo, visit):
    close(visit)
    assert "Save the marks" not in shown(as_apprentice.get(at(photo)))
    client = as_farrier
    page = client.post(at(photo), numbers())
    assert page.status_code == 422
    assert "say why it is amended" in shown(page)
    assert page.context["form"].errors["reason"]
    shows = client.post(at(photo, "photo_shows"), {"foot": "RF", "view": "lateral"})
    assert shows.status_code == 422
    reason = {"reason": "measured at home"}
    assert client.post(at(photo), numbers(**reason)).status_code == 302


def test_inches_are_read_and_shown(as_farrier, photo, practice):
    practice.length_unit = "in"
    practice.save(update_fields=["length_unit"])
    client = as_farrier
    client.post(at(photo), numbers(known="3 15/16"))
    assert Photo.objects.get(pk=photo.pk).known_mm == Decimal("100.0")
    assert "Toe length 3 3/8 in ± 0.08 in" in shown(client.get(at(photo)))


def test_the_record_links_to_its_photos_marks(as_farrier, photo, visit):
    client = as_farrier
    record = reverse("horses:record", args=[photo.record_id])
    assert at(photo) in client.get(record).content.decode()
    close(visit)
    assert at(photo) in client.get(record).content.decode()


def test_the_page_takes_the_same_queries_however_many_marks(
    as_farrier, photo, django_assert_num_queries
):
    client = as_farrier
    client.get(at(photo))
    with django_assert_num_queries(QUERIES):
        client.get(at(photo))
    client.post(at(photo), numbers())
    client.get(at(photo))  # with the message of having saved
    with django_assert_num_queries(QUERIES):
        client.get(at(photo))


QUERIES = 7
