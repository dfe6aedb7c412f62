"""The outline from the marks of a sole, and a plan that starts from it."""

import pytest
from django.urls import reverse

from horses.landmarks.solar import outline_from_solar
from tests.factories import make_horse, make_visit
from tests.horses.test_landmarks import SOLE, WIDE, figures, marked, turned
from tests.horses.test_mark_pages import at, numbers, taken

# 4 px a millimetre: the lateral wall 6 mm further out.
QUARTER_OUT = {**SOLE, "lateral_widest": (1084, 520)}
HEEL_OUT = {**SOLE, "lateral_heel": (994, 790)}
THREE = {"medial_quarter": -3.0, "lateral_quarter": 3.0}


def mirrored(px):
    return {name: (WIDE - x, y) for name, (x, y) in px.items()}


def out_of(px, foot="LF"):
    return outline_from_solar(marked("solar", px, foot=foot)).out_mm


def test_a_symmetric_foot_is_on_the_sound_line_and_measures_as_it_reads():
    outline = outline_from_solar(marked("solar"))
    assert outline.out_mm == {}
    assert {name: half.value for name, half in outline.halves.items()} == (
        pytest.approx(
            {
                "medial_quarter": 65,
                "lateral_quarter": 65,
                "medial_heel": 42.5,
                "lateral_heel": 42.5,
            }
        )
    )
    read = figures("solar")
    for name, value in outline.measures.items():
        assert value == pytest.approx(read[name].value, abs=0.051)


@pytest.mark.parametrize("degrees", [0, 20])
def test_a_wall_6_mm_further_out_is_3_out_and_the_other_3_in(degrees):
    assert out_of(turned(QUARTER_OUT, degrees)) == THREE
    assert out_of(turned(mirrored(QUARTER_OUT), degrees), "RF") == THREE
    heels = {"medial_heel": -3.0, "lateral_heel": 3.0}
    assert out_of(turned(HEEL_OUT, degrees)) == heels
    assert out_of(turned(mirrored(HEEL_OUT), degrees), "RF") == heels


def test_what_lies_within_its_own_spread_is_left():
    assert out_of({**SOLE, "lateral_widest": (1065, 520)}) == {}


def test_without_the_frog_the_heels_say_nothing_and_without_scale_all_is_left():
    bare = {n: p for n, p in QUARTER_OUT.items() if not n.startswith("frog")}
    assert out_of(bare) == THREE
    assert outline_from_solar(marked("solar", known_mm=None)) is None
    assert outline_from_solar(marked("lateral")) is None


@pytest.fixture
def photo(practice, farrier, as_farrier, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    visit = make_visit(horses=[make_horse(name="Bracken")], farrier=farrier)
    photo = taken(visit, farrier, view="solar")
    assert as_farrier.post(at(photo), numbers(QUARTER_OUT)).status_code == 302
    return photo


def start(photo, horse=None, foot="LF"):
    horse = horse or photo.record.horse
    address = reverse("horses:plan_new", args=[horse.pk, foot])
    return f"{address}?photo={photo.pk}"


def test_the_marks_lead_to_a_plan_that_starts_from_them(as_farrier, photo):
    assert start(photo) in as_farrier.get(at(photo)).content.decode()
    page = as_farrier.get(start(photo))
    assert "from the marks on the photo of" in page.content.decode()
    form = page.context["sketch"].form
    assert page.context["sketch"].answer is not None
    assert float(form["width"].value()) == 136
    assert float(form["length"].value()) == 135
    assert float(form["out_lateral_quarter"].value()) == 3
    assert float(form["out_medial_quarter"].value()) == -3


@pytest.mark.parametrize("other", ["horse", "foot"])
def test_a_photo_of_another_foot_is_not_taken(as_farrier, photo, other):
    more = {"horse": make_horse(name="Moss")} if other == "horse" else {"foot": "RF"}
    page = as_farrier.get(start(photo, **more))
    assert "gives no outline of this foot" in page.content.decode()
    assert not page.context["sketch"].form["out_lateral_quarter"].value()


def test_no_such_photo_is_not_found(as_farrier, photo):
    address = start(photo).split("=")[0]
    assert as_farrier.get(f"{address}=nothing").status_code == 404


def test_the_office_neither_sees_the_way_nor_goes_it(as_office, photo):
    assert "Plan this foot" not in as_office.get(at(photo)).content.decode()
    assert as_office.get(start(photo)).status_code == 403
