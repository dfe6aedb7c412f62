"""Marks kept, moved, amended; their figures put into the record, never over typed ones."""

import io
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from PIL import Image

from horses.landmarks.spots import SCALE_LINE
from horses.models import Landmark, Photo
from horses.selectors.marks import board_of, figures_of, points_of
from horses.selectors.records import entry_of, with_feet
from horses.services.marks import save_marks, tell_photo, use_figures
from horses.services.photos import add_photo
from horses.services.records import Conflict
from practice.errors import Refused
from practice.models import Change
from tests.factories import close, make_horse, make_visit
from tests.horses.test_landmarks import ALL, HIGH, WIDE, fractions

KNOWN = Decimal(100)
GIVEN = Decimal("49.8")


def places(view="lateral", **moved):
    px = {**ALL[view], **moved}
    return {
        name: (Decimal(f"{x:.6f}"), Decimal(f"{y:.6f}"))
        for name, (x, y) in fractions(px).items()
    }


@pytest.fixture
def visit(practice, farrier):
    return make_visit(horses=[make_horse(name="Bracken")], farrier=farrier)


@pytest.fixture
def photo(visit, farrier, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    picture = io.BytesIO()
    Image.new("RGB", (WIDE, HIGH), "grey").save(picture, "JPEG")
    picture.seek(0)
    return add_photo(
        record=visit.records.get(),
        upload=picture,
        foot="LF",
        view="lateral",
        by=farrier,
    )


def save(photo, by, points=None, **more):
    more = {"known_mm": KNOWN, "base_revision": photo.marks_revision, **more}
    saved = save_marks(
        photo=photo, points=places() if points is None else points, by=by, **more
    )
    return Photo.objects.get(pk=saved.pk)


def record_of(photo):
    return entry_of(
        with_feet(type(photo.record).objects.filter(pk=photo.record_id)).get()
    )


def left_fore(photo):
    return next(foot for foot in record_of(photo).all_feet() if foot.foot == "LF")


# ---- Keeping ---------------------------------------------------------------------
def test_marks_are_kept_and_read_again(photo, farrier):
    kept = save(photo, farrier)
    assert points_of(kept) == places()
    assert kept.known_mm == KNOWN
    assert kept.marks_revision == 1
    rows = {row.name: row for row in figures_of(kept, points_of(kept), KNOWN).rows}
    assert rows["dorsal_angle_deg"].figure.value == pytest.approx(49.76, abs=0.01)
    assert set(Landmark.objects.values_list("by", flat=True)) == {farrier.pk}


def test_the_same_marks_again_change_nothing(photo, farrier):
    save(photo, farrier)
    before = Change.objects.count()
    again = save(photo, farrier, base_revision=0)
    assert again.marks_revision == 1
    assert Change.objects.count() == before


def test_a_mark_is_moved_and_one_taken_off_later(photo, farrier, apprentice):
    kept = save(photo, farrier)
    fewer = places(toe_ground=(410, 770))
    del fewer["pastern_upper"]
    moved = save(kept, apprentice, fewer)
    assert points_of(moved) == fewer
    assert moved.landmarks.get(name="toe_ground").by == apprentice
    assert moved.landmarks.get(name="heel_ground").by == farrier
    change = Change.objects.filter(action="mark").order_by("pk").last()
    assert "pastern_upper" in change.before["points"]
    assert "pastern_upper" not in change.after["points"]


def test_two_who_moved_the_marks_are_told(photo, farrier, apprentice):
    save(photo, farrier)
    with pytest.raises(Conflict) as conflict:
        save(photo, apprentice, places(toe_ground=(410, 770)), base_revision=0)
    assert conflict.value.revision == 1
    assert points_of(Photo.objects.get(pk=photo.pk)) == places()


def test_the_office_marks_nothing(photo, office):
    with pytest.raises(Refused, match="apprentices"):
        save(photo, office)


@pytest.mark.parametrize(
    "points",
    [
        {"toe_ground": (Decimal("1.2"), Decimal("0.5"))},
        {"frog_apex": (Decimal("0.2"), Decimal("0.5"))},
    ],
)
def test_marks_that_cannot_be_are_refused(photo, farrier, points):
    with pytest.raises(Refused):
        save(photo, farrier, points)
    assert not Landmark.objects.exists()


def test_the_database_keeps_marks_in_the_picture_and_each_once(photo):
    Landmark.objects.create(photo=photo, name="toe_ground", x="0.5", y="0.5")
    for values in ({"name": "toe_ground"}, {"name": "heel_ground", "x": "1.5"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Landmark.objects.create(photo=photo, **{"x": "0.1", "y": "0.1", **values})


# ---- After closing ---------------------------------------------------------------
def test_a_closed_visit_takes_marks_from_a_farrier_with_a_reason(
    photo, visit, farrier, apprentice
):
    close(visit)
    with pytest.raises(Refused) as refused:
        save(photo, farrier)
    assert refused.value.field == "reason"
    with pytest.raises(Refused, match="farrier"):
        save(photo, apprentice, reason="late")
    kept = save(photo, farrier, reason="measured at home")
    assert points_of(kept) == places()
    change = Change.objects.filter(action="amend").get()
    assert change.reason == "measured at home"


def test_marks_sent_again_after_closing_are_harmless(photo, visit, apprentice):
    save(photo, apprentice)
    close(visit)
    assert save(photo, apprentice, base_revision=0).marks_revision == 1


# ---- Into the record -------------------------------------------------------------
def use(photo, by, reason="", **chosen):
    return use_figures(photo=photo, chosen=chosen, by=by, reason=reason)


def test_chosen_figures_go_into_the_foot_record(photo, farrier):
    kept = save(photo, farrier)
    saved = use(kept, farrier, dorsal_angle_deg=None, dorsal_length_mm=None)
    assert saved.outcome == "new"
    foot = left_fore(photo)
    assert (foot.dorsal_angle_deg, foot.dorsal_length_mm) == (GIVEN, Decimal("85.1"))
    assert foot.heel_angle_deg is None
    change = Change.objects.get(action="use figures")
    assert change.after == {"dorsal_angle_deg": "49.8", "dorsal_length_mm": "85.1"}


def test_using_them_twice_is_using_them_once(photo, farrier):
    kept = save(photo, farrier)
    use(kept, farrier, dorsal_angle_deg=None)
    again = use(kept, farrier, dorsal_angle_deg=None)
    assert again.outcome == "replay"
    assert Change.objects.filter(action="use figures").count() == 1


def test_a_typed_value_is_written_over_only_by_whoever_saw_it(photo, farrier):
    kept = save(photo, farrier)
    use(kept, farrier, dorsal_angle_deg=None)
    moved = save(kept, farrier, places(toe_hairline=(640, 510)))
    with pytest.raises(Refused, match="meanwhile"):
        use(moved, farrier, dorsal_angle_deg=None)
    with pytest.raises(Refused, match="meanwhile"):
        use(moved, farrier, dorsal_angle_deg=Decimal("51.0"))
    assert left_fore(photo).dorsal_angle_deg == GIVEN
    use(moved, farrier, dorsal_angle_deg=GIVEN)
    assert left_fore(photo).dorsal_angle_deg == Decimal("47.3")


def test_other_feet_and_what_was_said_of_this_one_stay(photo, farrier):
    kept = save(photo, farrier)
    use(kept, farrier, heel_angle_deg=None)
    other = add_photo(
        record=photo.record,
        upload=_sole(),
        foot="RF",
        view="solar",
        by=farrier,
    )
    sole = save(other, farrier, places("solar"))
    use(sole, farrier, width_mm=None, length_mm=None, widest_from_toe_mm=None)
    left, right, *_ = record_of(photo).all_feet()
    assert left.heel_angle_deg == Decimal("45.0")
    assert (right.width_mm, right.length_mm) == (Decimal("130.0"), Decimal("135.0"))


def _sole():
    picture = io.BytesIO()
    Image.new("RGB", (WIDE, HIGH), "brown").save(picture, "JPEG")
    picture.seek(0)
    return picture


def test_what_the_marks_do_not_give_is_refused(photo, farrier):
    kept = save(photo, farrier, known_mm=None)
    for name in ("dorsal_length_mm", "width_mm", "hairline_tilt_deg", "work"):
        with pytest.raises(Refused) as refused:
            use(kept, farrier, **{name: None})
        assert refused.value.field == "use"
    with pytest.raises(Refused, match="Tick"):
        use(kept, farrier)


def test_a_closed_record_takes_them_as_an_amendment(photo, visit, farrier, apprentice):
    kept = save(photo, farrier)
    close(visit)
    with pytest.raises(Refused):
        use(kept, farrier, dorsal_angle_deg=None)
    with pytest.raises(Refused):
        use(kept, apprentice, reason="late", dorsal_angle_deg=None)
    use(kept, farrier, reason="measured at home", dorsal_angle_deg=None)
    assert left_fore(photo).dorsal_angle_deg == GIVEN
    amended = Change.objects.get(action="amend")
    assert amended.reason == "measured at home"
    assert amended.label == "horses.visitrecord"


# ---- What it shows ---------------------------------------------------------------
def test_a_photo_that_says_no_foot_cannot_be_used(photo, farrier):
    Photo.objects.filter(pk=photo.pk).update(foot="")
    kept = save(photo, farrier)
    with pytest.raises(Refused, match="which foot"):
        use(kept, farrier, dorsal_angle_deg=None)


def test_another_view_keeps_the_scale_and_lets_the_rest_go(photo, farrier):
    kept = save(photo, farrier)
    told = tell_photo(photo=kept, foot="RF", view="solar", by=farrier)
    assert (told.foot, told.view, told.marks_revision) == ("RF", "solar", 2)
    assert set(points_of(told)) == set(SCALE_LINE)
    change = Change.objects.filter(action="mark").order_by("pk").last()
    assert set(change.before["points"]) == set(places())
    again = tell_photo(photo=told, foot="RF", view="solar", by=farrier)
    assert again.marks_revision == 2


def test_another_foot_keeps_all_marks(photo, farrier):
    kept = save(photo, farrier)
    tell_photo(photo=kept, foot="RF", view="lateral", by=farrier)
    assert points_of(Photo.objects.get(pk=photo.pk)) == places()


@pytest.mark.parametrize(
    ("foot", "view", "field"), [("XX", "solar", "foot"), ("LF", "other", "view")]
)
def test_no_such_foot_or_view_is_refused(photo, farrier, foot, view, field):
    with pytest.raises(Refused) as refused:
        tell_photo(photo=photo, foot=foot, view=view, by=farrier)
    assert refused.value.field == field


# ---- Reading ---------------------------------------------------------------------
def test_ticks_follow_the_viewer_and_start_where_the_record_is_empty(photo, farrier):
    kept = save(photo, farrier)
    use(kept, farrier, dorsal_angle_deg=None)
    photo = Photo.objects.get(pk=kept.pk)
    rows = figures_of(photo, places(heel_ground=(860, 770)), KNOWN).rows
    ticks = {row.name: row.is_ticked for row in rows}
    assert ticks["dorsal_angle_deg"] is False
    assert ticks["heel_angle_deg"] is True
    offered = {"dorsal_angle_deg", "heel_angle_deg"}
    rows = figures_of(
        photo, points_of(photo), KNOWN, ticked={"dorsal_angle_deg"}, offered=offered
    ).rows
    ticks = {row.name: row.is_ticked for row in rows}
    assert ticks["dorsal_angle_deg"] is True
    assert ticks["heel_angle_deg"] is False


def test_the_board_numbers_marks_and_joins_those_that_are_set(photo):
    some = {n: at for n, at in places().items() if not n.startswith("pastern")}
    board = board_of(photo, some)
    assert [spot.number for spot in board.spots] == list(range(1, 11))
    assert board.placed == 8
    unset = {(line.one, line.other) for line in board.lines if line.ends is None}
    assert unset == {("pastern_lower", "pastern_upper")}
    assert {line.kind for line in board.lines} == {"ground", "foot", "scale"}
