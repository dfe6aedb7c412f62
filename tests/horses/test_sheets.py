"""Bringing a sheet in: what is made, what a second time changes, what is refused."""

from datetime import date
from decimal import Decimal

import pytest

from horses.models import (
    DueWindow,
    Horse,
    Ownership,
    ReadRow,
    SheetImport,
    Visit,
    VisitRecord,
    Work,
)
from horses.services import sheets
from horses.services.ownership import set_owners
from horses.services.sheets import (
    answer_sheet,
    bring_in,
    confirm_sheet,
    plan_of,
    receive_sheet,
    terms_for,
)
from horses.services.works import propose_works
from practice.errors import Refused
from practice.models import Barn, Change, Client
from tests.factories import make_barn, make_client, make_horse, make_visit, make_work

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)
HEAD = "Owner,E-mail,Phone,Barn,Post code,Horse,Last visit,Weeks,Work,Price,Notes\n"
ANN = "Ann Other,ann@example.org,,Moss Farm,TD6 9AB,"
NOTHING = {"new": 0, "changed": 0, "same": 0}


def bring(practice, text, *, answers=None, country="GB"):
    terms = terms_for(practice=practice, country=country, today=TODAY)
    data = (HEAD + text).encode()
    return bring_in(name="sheet.csv", data=data, terms=terms, answers=answers, by=None)


def counts(plan):
    return {kind: tuple(several.values()) for kind, several in plan.counts().items()}


def everything():
    """All rows that an import may touch, as they stand."""
    models = (Client, Barn, Horse, Ownership, Visit, VisitRecord, DueWindow)
    kept = (ReadRow, SheetImport, Change)
    return {m.__name__: list(m.objects.order_by("pk").values()) for m in models + kept}


def test_a_row_becomes_owner_barn_horse_and_visit(practice):
    work = make_work(name="Full set")
    bring(
        practice,
        f"{ANN}Kit,04/03/2026,6,full  SET,88.50,kicks\n",
    )
    horse = Horse.objects.get()
    assert (horse.name, horse.interval_weeks) == ("Kit", 6)
    assert (horse.agreed_price, horse.notes) == (Decimal("88.50"), "kicks")
    assert (horse.usual_work, horse.usual_work_note) == (work, "")
    assert (horse.barn.name, horse.barn.post_code) == ("Moss Farm", "TD6 9AB")
    owned = Ownership.objects.get()
    assert (owned.client.name, owned.share, owned.ends) == ("Ann Other", 100, None)
    assert owned.starts == date(2026, 3, 4)
    record = VisitRecord.objects.get()
    assert (record.visit.day, record.visit.barn) == (date(2026, 3, 4), horse.barn)
    assert (record.visit.kind, record.visit.is_closed) == ("brought_in", True)
    assert (record.work, record.is_recorded) == (work, True)
    window = horse.due_window
    assert (window.last_visit_day, window.target) == (
        date(2026, 3, 4),
        date(2026, 4, 15),
    )
    change = Change.objects.get(action="brought in")
    assert change.after["horses"]["new"] == 1


def test_horses_at_one_barn_on_one_day_share_a_visit(practice):
    plan = bring(
        practice,
        f"{ANN}Kit,04/03/2026,,,,\n{ANN}Tin,04/03/2026,,,,\n{ANN}Tom,05/03/2026,,,,\n",
    )
    assert counts(plan)["visits"] == (2, 0, 0)
    assert VisitRecord.objects.count() == 3


def test_a_horse_without_a_barn_has_its_visit_all_the_same(practice):
    bring(practice, "Ann Other,ann@example.org,,,,Kit,04/03/2026,6,,,\n")
    horse = Horse.objects.get()
    assert (horse.barn, Visit.objects.get().barn) == (None, None)
    assert horse.due_window.last_visit_day == date(2026, 3, 4)


def test_without_a_last_visit_the_horse_is_due_today(practice):
    bring(practice, f"{ANN}Kit,,6,,,\n")
    assert Horse.objects.get().due_window.target == TODAY
    assert not Visit.objects.exists()


MESSY = (
    f"{ANN}Kit,04/03/2026,6,trim,45.00,kicks\n"
    "OTHER, ANN,ANN@example.org,,moss farm,td69ab,Tin,04/03/2026,,,,\n".replace(
        "OTHER, ANN", '"OTHER, ANN"', 1
    ).replace(",,,,\n", ",,,\n")
    + "Bob Reed,,,Hill Top,,Tom,,8,,,\n"
    "Bob Reed,,,Hill Top,,Tim,01/02/2026,8,,,\n"
    f"{ANN}Kim,04/03/2026,six,,,\n"
)


def test_the_same_sheet_again_changes_nothing_at_all(practice):
    first = bring(practice, MESSY)
    assert counts(first) == {
        "clients": (3, 0, 0),
        "barns": (3, 0, 0),
        "horses": (4, 0, 0),
        "visits": (2, 0, 0),
    }
    assert [bad.line for bad in first.bad] == [6]
    stood = everything()
    again = bring(practice, MESSY)
    assert counts(again) == {
        "clients": (0, 0, 3),
        "barns": (0, 0, 3),
        "horses": (0, 0, 4),
        "visits": (0, 0, 2),
    }
    assert again.near == []
    assert everything() == stood


def test_the_same_rows_in_another_order_change_nothing(practice):
    bring(practice, MESSY)
    stood = everything()
    bring(practice, "".join(reversed(MESSY.splitlines(keepends=True))))
    assert everything() == stood


def test_the_same_sheet_read_by_another_country_makes_nobody_anew(practice):
    text = "Bob Reed,,07700 900101,Hill Top,05826,Tom,05/05/2026,8,,,\n"
    bring(practice, text)
    plan = bring(practice, text.replace("05826", "5826"), country="US")
    assert counts(plan) == {
        "clients": (0, 0, 1),
        "barns": (0, 0, 1),
        "horses": (0, 0, 1),
        "visits": (0, 0, 1),
    }


def test_a_row_written_twice_is_one(practice):
    plan = bring(practice, "Bob Reed,,,Hill Top,,Tom,01/02/2026,8,,,\n" * 3)
    assert counts(plan) == {
        "clients": (1, 0, 0),
        "barns": (1, 0, 0),
        "horses": (1, 0, 0),
        "visits": (1, 0, 0),
    }
    assert ReadRow.objects.count() == 1


def test_what_was_taken_out_comes_in_again_whole(practice):
    text = "Bob Reed,,07700 900101,Hill Top,,Tom,01/02/2026,8,trim,45.00,kicks\n"
    bring(practice, text)
    VisitRecord.objects.all().delete()
    Visit.objects.all().delete()
    Horse.objects.all().delete()
    Client.objects.all().delete()
    Barn.objects.all().delete()
    plan = bring(practice, text)
    assert counts(plan)["horses"] == (1, 0, 0)
    assert Client.objects.get().phone == "07700 900101"
    assert Horse.objects.get().interval_weeks == 8
    stood = everything()
    assert counts(bring(practice, text))["horses"] == (0, 0, 1)
    assert everything() == stood


def test_what_people_have_taken_out_since_stays_out(practice, farrier):
    text = "Bob Reed,bob@example.org,,Hill Top,TD1 1AA,Tom,01/02/2026,8,,,\n"
    bring(practice, text)
    horse = Horse.objects.get()
    new_owner = make_client(name="Tina Orr")
    set_owners(horse=horse, shares={new_owner: Decimal(100)}, starts=TODAY, by=farrier)
    Ownership.objects.exclude(client=new_owner).delete()
    Client.objects.filter(name="Bob Reed").delete()
    Visit.objects.update(barn=None)
    Horse.objects.update(barn=None)
    Barn.objects.all().delete()
    stood = everything()
    plan = bring(practice, text)
    assert counts(plan)["horses"] == (0, 0, 1)
    assert everything() == stood
    bring(practice, text.replace(",8,", ",7,"))
    assert Horse.objects.get().interval_weeks == 7
    assert not Barn.objects.exists()


def test_a_mended_row_comes_in_the_second_time(practice):
    bring(practice, MESSY)
    plan = bring(practice, MESSY.replace("six", "6"))
    assert counts(plan)["horses"] == (1, 0, 4)
    assert counts(plan)["clients"] == (0, 0, 3)
    assert counts(plan)["visits"] == (0, 1, 1)
    assert plan.bad == []


def test_what_a_row_says_anew_is_changed(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,trim,45.00,kicks\n")
    plan = bring(practice, f"{ANN}Kit,04/03/2026,8,trim,45.00,bites\n")
    assert counts(plan) == {
        "clients": (0, 0, 1),
        "barns": (0, 0, 1),
        "horses": (0, 1, 0),
        "visits": (0, 0, 1),
    }
    horse = Horse.objects.get()
    assert (horse.interval_weeks, horse.notes) == (8, "bites")
    assert horse.due_window.target == date(2026, 4, 29)


def test_what_people_have_mended_since_stays(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,trim,45.00,\n")
    Horse.objects.update(interval_weeks=5, agreed_price=Decimal(50))
    Client.objects.update(email="new@example.org")
    bring(practice, f"{ANN}Kit,04/03/2026,6,trim,46.00,\n")
    horse = Horse.objects.get()
    assert (horse.interval_weeks, horse.agreed_price) == (5, Decimal(46))
    assert Client.objects.get().email == "new@example.org"


def test_a_blank_cell_takes_nothing_away(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,trim,45.00,kicks\n")
    plan = bring(practice, f"{ANN}Kit,,,,,\n")
    assert counts(plan)["horses"] == (0, 0, 1)
    assert Horse.objects.get().interval_weeks == 6


def test_a_later_last_visit_is_a_further_one(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,,,\n")
    plan = bring(practice, f"{ANN}Kit,15/04/2026,6,,,\n")
    assert counts(plan)["visits"] == (1, 0, 0)
    assert VisitRecord.objects.count() == 2
    assert Horse.objects.get().due_window.last_visit_day == date(2026, 4, 15)


def test_an_earlier_last_visit_corrects_the_sheet(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,,,\n")
    bring(practice, f"{ANN}Kit,03/03/2026,6,,,\n")
    assert [v.day for v in Visit.objects.all()] == [date(2026, 3, 3)]
    assert Horse.objects.get().due_window.last_visit_day == date(2026, 3, 3)
    stood = everything()
    bring(practice, f"{ANN}Kit,03/03/2026,6,,,\n")
    assert everything() == stood


def test_a_moved_horse_is_at_its_new_barn(practice):
    bring(practice, f"{ANN}Kit,04/03/2026,6,,,\n")
    moved = "Ann Other,ann@example.org,,New Farm,TD1 1AA,Kit,04/03/2026,6,,,\n"
    plan = bring(practice, moved)
    assert counts(plan) == {
        "clients": (0, 0, 1),
        "barns": (1, 0, 0),
        "horses": (0, 1, 0),
        "visits": (0, 0, 1),
    }
    assert Horse.objects.get().barn.name == "New Farm"


def test_clients_barns_and_horses_of_the_practice_are_found(practice, farrier):
    client = make_client(name="ANN OTHER", email="Ann@Example.org", phone="")
    barn = make_barn(name="moss farm", post_code="TD69AB")
    horse = make_horse(owner=client, barn=barn, name="KIT")
    visit = make_visit(horses=[horse], farrier=farrier, day=date(2026, 3, 4))
    visit.state, visit.closed_at = "closed", visit.created_at
    visit.save(update_fields=["state", "closed_at"])
    plan = bring(practice, f"{ANN}Kit,04/03/2026,6,,,\n")
    assert counts(plan) == {
        "clients": (0, 0, 1),
        "barns": (0, 0, 1),
        "horses": (0, 1, 0),
        "visits": (0, 0, 1),
    }
    horse.refresh_from_db()
    assert horse.interval_weeks == 6
    assert Visit.objects.count() == 1


def test_a_near_match_is_another_until_somebody_says_so(practice):
    client = make_client(name="Anne Other", email="anne@example.org")
    plan = bring(practice, f"{ANN}Kit,,,,,\n", answers={})
    (near,) = plan.near
    assert (near.kind, near.like) == ("client", "Anne Other")
    assert Client.objects.count() == 2
    Horse.objects.all().delete()
    ReadRow.objects.all().delete()
    Client.objects.exclude(pk=client.pk).delete()
    (near,) = bring_dry(practice, f"{ANN}Kit,,,,,\n").near
    bring(practice, f"{ANN}Kit,,,,,\n", answers={near.key: True})
    assert Ownership.objects.get().client == client


def bring_dry(practice, text):
    terms = terms_for(practice=practice, country="GB", today=TODAY)
    return sheets.plan_sheet(
        data=(HEAD + text).encode(), terms=terms, mapping={}, answers={}
    )


def test_planning_alone_writes_nothing(practice):
    stood = everything()
    assert counts(bring_dry(practice, MESSY))["horses"] == (4, 0, 0)
    assert everything() == stood


def test_all_good_rows_or_none(practice, monkeypatch):
    def fails(**_):
        raise RuntimeError("the machine stops here")

    stood = everything()
    monkeypatch.setattr(sheets, "refresh_due_windows", fails)
    with pytest.raises(RuntimeError):
        bring(practice, MESSY)
    assert everything() == stood


def test_shares_add_up_for_each_new_horse(practice):
    bring(practice, MESSY)
    for horse in Horse.objects.all():
        shares = horse.ownerships.on(TODAY).values_list("share", flat=True)
        assert sum(shares) == 100


def test_use_and_work_are_the_house_s_words_where_they_are_known(practice):
    trim = make_work(name="Trim", kind=Work.Kind.TRIM)
    terms = terms_for(practice=practice, country="GB", today=TODAY)
    text = (
        "Owner,Horse,Use,Work\nAnn,Kit,happy hacker,barefoot\n"
        "Ann,Tin,Dressage,trim\nAnn,Tom,vaulting,something odd\n"
    )
    bring_in(name="x", data=text.encode(), terms=terms, by=None)
    rows = Horse.objects.order_by("pk").values_list(
        "use", "use_note", "usual_work", "usual_work_note"
    )
    assert list(rows) == [
        ("hacking", "happy hacker", trim.pk, "barefoot"),
        ("dressage", "", trim.pk, ""),
        ("", "vaulting", None, "something odd"),
    ]


@pytest.mark.parametrize(
    ("text", "name", "note"),
    [
        ("full set", "Full set", ""),
        ("Shoes", "Full set", "Shoes"),
        ("fronts", "Front shoes", "fronts"),
        ("refit", "Reset", "refit"),
        ("barefoot", "Trim", "barefoot"),
        ("pull", "Pull shoes", "pull"),
        ("Remedial work", "Remedial work", ""),
        ("aluminium racing plates", None, "aluminium racing plates"),
    ],
)
def test_the_usual_works_are_known_by_what_people_call_them(practice, text, name, note):
    propose_works()
    bring(practice, f"{ANN}Kit,,,{text},,\n")
    horse = Horse.objects.get()
    assert (horse.usual_work and horse.usual_work.name) == name
    assert horse.usual_work_note == note


def test_a_sheet_plans_in_a_fixed_number_of_queries(
    practice, django_assert_max_num_queries
):
    bring(practice, MESSY)
    with django_assert_max_num_queries(12):
        bring_dry(
            practice,
            MESSY
            + "".join(
                f"Owner {n},o{n}@example.org,,Barn {n},TD1 1AA,H{n},01/02/2026,6,,,\n"
                for n in range(60)
            ),
        )


# --- an upload, answered and confirmed ----------------------------------------------


def upload(farrier, text=MESSY):
    return receive_sheet(name="sheet.csv", data=(HEAD + text).encode(), by=farrier)


def test_an_upload_waits_and_is_confirmed_once(practice, farrier):
    sheet = upload(farrier)
    assert not Horse.objects.exists()
    done = confirm_sheet(sheet=sheet, by=farrier)
    assert (done.state, bytes(done.content)) == ("brought_in", b"")
    assert done.counts["rows_bad"] == 1
    stood = everything()
    assert confirm_sheet(sheet=sheet, by=farrier).counts == done.counts
    assert everything() == stood


def test_answers_are_kept_and_used(practice, farrier):
    sheet = upload(farrier)
    keys = {near.key: True for near in plan_of(sheet=sheet).near}
    assert len(keys) == 2  # the two Bobs and the two hill tops
    sheet = answer_sheet(sheet=sheet, answers=keys, date_order="month_first")
    confirm_sheet(sheet=sheet, by=farrier)
    assert Client.objects.count() == 2
    assert Visit.objects.filter(day=date(2026, 4, 3)).exists()


def test_columns_that_do_not_do_are_refused(practice, farrier):
    sheet = upload(farrier)
    with pytest.raises(Refused) as refused:
        answer_sheet(sheet=sheet, mapping={"Horse": None})
    assert refused.value.field == "mapping"
    sheet.refresh_from_db()
    assert sheet.mapping == {}


def test_what_is_no_sheet_is_not_kept(practice, farrier):
    with pytest.raises(Refused) as refused:
        receive_sheet(name="x.pdf", data=b"%PDF-1.7\n\x00\x01", by=farrier)
    assert refused.value.field == "file"
    assert not SheetImport.objects.exists()


def test_a_sheet_with_unknown_headings_waits_for_its_columns(practice, farrier):
    sheet = receive_sheet(name="x.csv", data=b"Whose,Nag\nAnn,Kit\n", by=farrier)
    with pytest.raises(Refused):
        confirm_sheet(sheet=sheet, by=farrier)
    sheet = answer_sheet(sheet=sheet, mapping={"Whose": "owner", "Nag": "horse"})
    confirm_sheet(sheet=sheet, by=farrier)
    assert Horse.objects.get().name == "Kit"


def test_a_sheet_that_is_in_takes_no_more_answers(practice, farrier):
    sheet = confirm_sheet(sheet=upload(farrier), by=farrier)
    with pytest.raises(Refused, match="is in already"):
        answer_sheet(sheet=sheet, date_order="day_first")


def test_imports_are_for_those_who_keep_the_books(
    practice, farrier, office, apprentice, owner
):
    upload(farrier)
    for viewer, sees in ((farrier, 1), (office, 1), (apprentice, 0), (owner, 0)):
        assert SheetImport.objects.visible_to(viewer).count() == sees
