"""The cases of a real yard, each under its name, from the visit to the issued figures.

How a farrier charges is common practice, no source; taxes are those of the practice's
regime (GB, 20 %) unless a case says otherwise.
"""

from datetime import date, time
from decimal import Decimal

import pytest
from django.db import DatabaseError, transaction

from billing.models import (
    BarnTerms,
    BillingSettings,
    ChargeItem,
    ClientTerms,
    Invoice,
    InvoiceAllowance,
    NoticeStep,
    OffHours,
    Price,
    TravelBand,
)
from billing.selectors.deposits import left_of, open_deposits
from billing.services.charges import set_tax_rate
from billing.services.deposits import deduct_prepayment
from billing.services.discounts import remove_discount, set_discount
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_invoice
from billing.services.lines import LineWish, NewLine, add_line, change_line
from billing.services.totals import Wish
from horses.models import Visit, Work
from practice.errors import Refused
from tests import factories

D = Decimal
DAY = date(2026, 11, 20)  # a Friday
SUNDAY = date(2026, 11, 22)


@pytest.fixture
def full_set(practice):
    return factories.make_work(name="Full set")


@pytest.fixture
def rules(db):
    def switch_on(**over):
        return BillingSettings.objects.update_or_create(pk=1, defaults=over)[0]

    return switch_on


@pytest.fixture
def visit_of(farrier):
    def make(*horses, **over):
        return factories.make_visit(
            horses=list(horses), farrier=farrier, closed=True, **{"day": DAY, **over}
        )

    return make


def drafts_of(visit):
    return {d.client: d for d in draft_invoices(visit=visit, by=None)}


def only_draft(visit):
    (draft,) = draft_invoices(visit=visit, by=None)
    return draft


def told(invoice):
    return [(line.rule, line.amount) for line in invoice.lines.order_by("position")]


def item_of(work):
    return ChargeItem.objects.get(work=work)


def issued(invoice, day=DAY):
    return issue_invoice(invoice=invoice, by=None, today=day)


# ---- Who pays ---------------------------------------------------------------------------
def test_a_horse_sold_between_two_visits(full_set, priced, visit_of):
    priced(full_set, "95")
    seller, buyer = factories.make_client(), factories.make_client()
    horse = factories.make_horse(owner=seller, usual_work=full_set)
    horse.ownerships.update(ends=date(2026, 11, 20))
    factories.make_ownership(horse=horse, client=buyer, starts=date(2026, 11, 21))
    assert set(drafts_of(visit_of(horse, day=date(2026, 11, 20)))) == {seller}
    assert set(drafts_of(visit_of(horse, day=date(2026, 12, 18)))) == {buyer}


def test_a_trainer_who_pays_for_training_horses_only(full_set, priced, visit_of):
    priced(full_set, "95", call_out="30")
    owner, trainer = factories.make_client(), factories.make_client()
    barn = factories.make_barn()
    shared = {"owner": owner, "usual_work": full_set, "barn": barn}
    in_training = factories.make_horse(name="Flint", **shared)
    hack = factories.make_horse(name="Moss", **shared)
    factories.make_payer(horse=in_training, client=trainer)
    drafts = drafts_of(visit_of(in_training, hack))
    names = {c: [line.name for line in d.lines.all()] for c, d in drafts.items()}
    assert names[trainer] == ["Flint: Full set", "Call-out"]
    assert names[owner] == ["Moss: Full set", "Call-out"]
    assert drafts[trainer].lines.get(name="Call-out").amount == 15


def test_one_payer_for_a_whole_barn_with_the_horses_lines_shown(
    full_set, priced, visit_of
):
    priced(full_set, "95", call_out="30")
    livery, trainer = factories.make_client(), factories.make_client()
    barn = factories.make_barn()
    horses = [
        factories.make_horse(name=n, usual_work=full_set, barn=barn)
        for n in ("Ash", "Beech", "Cedar")
    ]
    factories.make_payer(horse=horses[2], client=trainer)
    BarnTerms.objects.create(barn=barn, payer=livery, payer_from=DAY)
    before = drafts_of(visit_of(*horses, day=date(2026, 11, 19)))
    assert livery not in before
    assert len(before) == 3  # one invoice per owner, and the trainer's
    drafts = drafts_of(visit_of(*horses))
    assert set(drafts) == {livery, trainer}
    lines = drafts[livery].lines.order_by("position")
    assert [line.name for line in lines] == [
        "Ash: Full set", "Beech: Full set", "Call-out",
    ]  # fmt: skip
    assert [line.amount for line in lines] == [95, 95, 20]


def test_a_barn_splits_its_own_way(full_set, priced, visit_of, rules):
    priced(full_set, "95", call_out="30")
    rules(split_mode="by_horse")
    barn = factories.make_barn()
    two, one = factories.make_client(), factories.make_client()
    horses = [
        factories.make_horse(owner=owner, usual_work=full_set, barn=barn)
        for owner in (two, two, one)
    ]
    BarnTerms.objects.create(barn=barn, split_mode="equally")
    drafts = drafts_of(visit_of(*horses))
    assert [drafts[c].lines.get(rule="call_out").amount for c in (two, one)] == [15, 15]


# ---- What it costs ----------------------------------------------------------------------
def test_season_price(full_set, priced, visit_of):
    priced(full_set, "95")
    Price.objects.create(
        item=item_of(full_set), amount=105, season_from=1101, season_to=228
    )
    horse = factories.make_horse(usual_work=full_set)
    assert only_draft(visit_of(horse)).line_total == 105
    assert only_draft(visit_of(horse, day=date(2026, 10, 31))).line_total == 95


def test_price_per_client(full_set, priced, visit_of):
    priced(full_set, "95")
    regular, other = factories.make_client(), factories.make_client()
    Price.objects.create(item=item_of(full_set), amount=85, client=regular)
    horses = [
        factories.make_horse(owner=c, usual_work=full_set) for c in (regular, other)
    ]
    drafts = drafts_of(visit_of(*horses))
    assert (drafts[regular].line_total, drafts[other].line_total) == (85, 95)


def test_price_per_barn(full_set, priced, visit_of):
    priced(full_set, "95")
    barn = factories.make_barn()
    Price.objects.create(item=item_of(full_set), amount=90, barn=barn)
    here = factories.make_horse(usual_work=full_set, barn=barn)
    there = factories.make_horse(usual_work=full_set)
    assert only_draft(visit_of(here)).line_total == 90
    assert only_draft(visit_of(there)).line_total == 95


def test_off_hours(full_set, priced, visit_of, rules):
    priced(full_set, "95")
    rules(off_hours_on=True)
    OffHours.objects.create(name="Sunday", weekday=7, percent=25)
    OffHours.objects.create(
        name="Evening", from_time=time(18), to_time=time(7), amount=D("40")
    )
    horse = factories.make_horse(usual_work=full_set)
    assert told(only_draft(visit_of(horse))) == [("work", 95)]
    assert told(only_draft(visit_of(horse, day=SUNDAY)))[1:] == [
        ("off_hours", D("23.75"))
    ]
    late = visit_of(horse, start_time=time(19, 30))
    assert told(only_draft(late))[1:] == [("off_hours", 40)]
    rules(off_hours_on=False)
    assert told(only_draft(visit_of(horse, day=date(2026, 11, 29)))) == [("work", 95)]


def test_minimum_charge(full_set, priced, visit_of, rules):
    priced(full_set, "35")
    rules(minimum_charge=60)
    horse = factories.make_horse(usual_work=full_set)
    invoice = only_draft(visit_of(horse))
    assert told(invoice) == [("work", 35), ("minimum", 25)]
    assert invoice.due == 72


def test_distance(full_set, priced, visit_of, rules, practice):
    practice.road_unit = "mi"
    practice.save(update_fields=["road_unit"])
    priced(full_set, "95")
    rules(travel="distance", travel_price=D("0.45"), travel_both_ways=True)
    horse = factories.make_horse(usual_work=full_set)
    line = only_draft(visit_of(horse, travel_metres=16_093)).lines.get(rule="travel")
    assert (line.quantity, line.unit, line.unit_price) == (20, "SMI", D("0.45"))
    assert line.amount == 9
    unknown = only_draft(visit_of(horse, day=date(2026, 11, 21)))
    assert unknown.lines.get(rule="travel").needs_price
    with pytest.raises(Refused, match="no price yet"):
        issued(unknown)


def test_what_nobody_priced_still_asks_once_its_rate_is_entered(
    full_set, priced, visit_of, rules, practice
):
    """A rate that comes later must not let an unknown distance go out as nothing."""
    practice.tax_regime = "SE"
    practice.save(update_fields=["tax_regime"])
    priced(full_set, "95")
    rules(travel="distance", travel_price=D("0.45"))
    draft = only_draft(visit_of(factories.make_horse(usual_work=full_set)))
    set_tax_rate(by=None, code="standard", percent=D(25), starts=date(2026, 1, 1))
    with pytest.raises(Refused, match="“Travel” has no price yet"):
        issued(draft)


def test_a_barn_whose_distance_was_agreed(full_set, priced, visit_of, rules):
    priced(full_set, "95")
    rules(travel="distance", travel_price=1)
    horse = factories.make_horse(usual_work=full_set)
    BarnTerms.objects.create(barn=horse.barn, travel_metres=5_000)
    draft = only_draft(visit_of(horse, travel_metres=16_093))
    assert draft.lines.get(rule="travel").quantity == 5


def test_zone(full_set, priced, visit_of, rules):
    priced(full_set, "95")
    rules(travel="zone")
    hills = factories.make_area(name="The hills")
    TravelBand.objects.create(area=hills, price=30)
    TravelBand.objects.create(up_to_metres=15_000, price=12)
    near = factories.make_horse(usual_work=full_set)
    far = factories.make_horse(
        usual_work=full_set, barn=factories.make_barn(area=hills)
    )
    assert told(only_draft(visit_of(near, travel_metres=9_000)))[1:] == [("travel", 12)]
    assert told(only_draft(visit_of(far, travel_metres=9_000)))[1:] == [("travel", 30)]


def test_no_show(full_set, priced, visit_of, rules):
    factories.make_work(name="No-show", kind=Work.Kind.NO_SHOW)
    priced(full_set, "95", call_out="20")
    rules(no_show_on=True)
    NoticeStep.objects.create(kind="no_show", amount=40, with_call_out=True)
    horse = factories.make_horse(usual_work=full_set)
    draft = only_draft(visit_of(horse, kind=Visit.Kind.NO_SHOW))
    assert told(draft) == [("no_show", 40), ("call_out", 20)]


@pytest.mark.parametrize(("hours", "charged"), [(60, None), (30, "23.75"), (2, "95")])
def test_late_call_off(full_set, priced, visit_of, rules, hours, charged):
    factories.make_work(name="Late call-off", kind=Work.Kind.LATE_CALL_OFF)
    priced(full_set, "95")
    rules(late_call_off_on=True)
    NoticeStep.objects.create(kind="late_call_off", under_hours=48, percent=25)
    NoticeStep.objects.create(kind="late_call_off", under_hours=4, percent=100)
    horse = factories.make_horse(usual_work=full_set)
    visit = visit_of(horse, kind=Visit.Kind.LATE_CALL_OFF, notice_minutes=hours * 60)
    drafts = draft_invoices(visit=visit, by=None)
    assert [d.line_total for d in drafts] == ([] if charged is None else [D(charged)])


def test_a_lost_shoe_put_back_free_within_n_days(
    full_set, priced, visit_of, rules, practice
):
    again = factories.make_work(name="Put back a shoe", kind=Work.Kind.RESET)
    priced(full_set, "95", call_out="20")
    priced(again, "25")
    ChargeItem.objects.filter(work=again).update(puts_back=True)
    rules(put_back_days=14)
    horse = factories.make_horse(usual_work=full_set)
    visit_of(horse, day=date(2026, 11, 6))

    def put_back(day):
        visit = visit_of(horse, day=day)
        visit.records.update(work=again)
        return only_draft(visit)

    free = put_back(DAY)
    (line,) = free.lines.all()
    assert (line.unit_price, line.allowance, line.amount) == (25, 25, 0)
    assert line.allowance_reason == "Free within 14 days of 2026-11-06"
    said = issued(free).snapshot["lines"][0]
    assert (said["net"], said["net_price"]) == ("0.00", "25")
    assert said["allowances"][0]["net"] == "25.00"
    # That visit doesn't begin the days anew: they run from the shoeing.
    paid = put_back(date(2026, 11, 21))
    assert told(paid) == [("work", 25), ("call_out", 20)]


# ---- Deposit, discount, exemption -----------------------------------------------------
def prepaid(client, practice, amount, day=date(2026, 11, 2)):
    draft = Invoice.objects.create(
        kind=Invoice.Kind.PREPAYMENT,
        client=client,
        currency=practice.currency,
        prices_include_tax=True,
    )
    add_line(invoice=draft, by=None, line=NewLine(name="Deposit", unit_price=D(amount)))
    return issued(draft, day)


def test_a_deposit(full_set, priced, visit_of, practice):
    priced(full_set, "95")
    owner = factories.make_client()
    deposit = prepaid(owner, practice, "50.00")
    assert deposit.snapshot["kind"] == "386"
    horse = factories.make_horse(owner=owner, usual_work=full_set)
    draft = only_draft(visit_of(horse))
    assert open_deposits(draft) == [(deposit, 50)]
    deduct_prepayment(invoice=draft, prepayment=deposit, by=None)
    # A discount is of the work, whatever was prepaid.
    set_discount(invoice=draft, by=None, wish=Wish("Kind", percent=D(10)))
    assert Invoice.objects.get(pk=draft.pk).due == D("52.60")
    remove_discount(invoice=draft, by=None, reason="Kind")
    final = issued(Invoice.objects.get(pk=draft.pk))
    assert final.due == D("64.00")  # 95 + 20 % − 50
    group = final.snapshot["tax_groups"][0]
    assert (group["basis"], group["tax"]) == ("53.33", "10.67")
    # Deposit and final invoice together bear the tax of the whole, to the cent.
    assert deposit.tax_total + final.tax_total == D("19.00")
    assert final.snapshot["prepayments"] == [
        {"number": deposit.number, "issue_day": "2026-11-02", "amount": "50.00"}
    ]
    assert left_of(deposit) == 0


def test_a_deposit_is_used_up_over_two_invoices_and_never_twice(
    full_set, priced, visit_of, practice
):
    priced(full_set, "95")
    owner = factories.make_client()
    deposit = prepaid(owner, practice, "150.00")
    horse = factories.make_horse(owner=owner, usual_work=full_set)
    first = only_draft(visit_of(horse))
    deduct_prepayment(invoice=first, prepayment=deposit, by=None)
    assert issued(Invoice.objects.get(pk=first.pk)).due == 0
    assert left_of(deposit) == 36
    second = only_draft(visit_of(horse, day=date(2026, 12, 20)))
    deduct_prepayment(invoice=second, prepayment=deposit, by=None)
    assert Invoice.objects.get(pk=second.pk).due == 78
    with pytest.raises(Refused, match="not so much left"):
        deduct_prepayment(invoice=second, prepayment=deposit, by=None)
    stranger = Invoice.objects.create(client=factories.make_client(), currency="GBP")
    with pytest.raises(Refused, match="another client's"):
        deduct_prepayment(invoice=stranger, prepayment=deposit, by=None)


def test_a_discount_with_its_reason(full_set, priced, visit_of):
    priced(full_set, "95")
    draft = only_draft(visit_of(factories.make_horse(usual_work=full_set)))
    add_line(
        invoice=draft,
        by=None,
        line=NewLine(name="Book", unit_price=D(10), tax_code="zero"),
    )
    set_discount(invoice=draft, by=None, wish=Wish("Ten horses a year", percent=D(10)))
    draft = Invoice.objects.get(pk=draft.pk)
    rows = InvoiceAllowance.objects.filter(invoice=draft)
    assert [(r.tax_percent, r.base, r.amount) for r in rows] == [
        (20, 95, D("9.50")),
        (0, 10, D("1.00")),
    ]
    assert (draft.allowance_total, draft.due) == (D("10.50"), D("111.60"))
    line = draft.lines.get(name="Book")
    change_line(line=line, by=None, wish=LineWish(unit_price=D(20)))
    assert Invoice.objects.get(pk=draft.pk).allowance_total == D("11.50")
    said = issued(Invoice.objects.get(pk=draft.pk)).snapshot
    assert {row["reason"] for row in said["adjustments"]} == {"Ten horses a year"}
    assert said["totals"]["allowance_total"] == "11.50"
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(reason="Another")


def test_a_discount_of_an_amount_is_shared_by_the_taxes_to_the_cent(
    full_set, priced, visit_of
):
    priced(full_set, "95")
    draft = only_draft(visit_of(factories.make_horse(usual_work=full_set)))
    zero = NewLine(name="Book", unit_price=D(50), tax_code="zero")
    add_line(invoice=draft, by=None, line=zero)
    set_discount(invoice=draft, by=None, wish=Wish("Late", amount=D("10.00")))
    rows = InvoiceAllowance.objects.filter(invoice=draft)
    assert [row.amount for row in rows] == [D("6.55"), D("3.45")]
    remove_discount(invoice=draft, by=None, reason="Late")
    assert Invoice.objects.get(pk=draft.pk).allowance_total is None
    assert not rows.all().exists()


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        (Wish("", percent=D(10)), "reason"),
        (Wish("Why", percent=D(101)), "percent"),
        (Wish("Why"), "amount"),
        (Wish("Why", amount=D(96)), "amount"),
        (Wish("Why", amount=D("0.001")), "amount"),
    ],
)
def test_a_discount_that_cannot_be_names_its_field(
    full_set, priced, visit_of, wish, field
):
    priced(full_set, "95")
    draft = only_draft(visit_of(factories.make_horse(usual_work=full_set)))
    with pytest.raises(Refused) as refusal:
        set_discount(invoice=draft, by=None, wish=wish)
    assert refusal.value.field == field


def test_a_standing_discount_is_on_every_draft_of_the_client(
    full_set, priced, visit_of
):
    priced(full_set, "95")
    owner = factories.make_client()
    ClientTerms.objects.create(
        client=owner, discount_percent=5, discount_reason="Riding for the disabled"
    )
    draft = only_draft(visit_of(factories.make_horse(owner=owner, usual_work=full_set)))
    assert draft.allowance_total == D("4.75")
    assert draft.due == D("108.30")


def test_an_exempt_client_with_certificate(full_set, priced, visit_of):
    priced(full_set, "95")
    school = factories.make_client()
    ClientTerms.objects.create(
        client=school, treatment="exempt", exempt_number="EX-104", exempt_until=DAY
    )
    horse = factories.make_horse(owner=school, usual_work=full_set)
    invoice = issued(only_draft(visit_of(horse)))
    (group,) = invoice.snapshot["tax_groups"]
    assert (group["category"], group["percent"], group["tax"]) == ("E", "0", "0.00")
    assert group["reason"] == "Exempt: certificate EX-104, valid to 2026-11-20"
    assert invoice.due == 95
    # The day after its last day the certificate is worth nothing.
    later = only_draft(visit_of(horse, day=date(2026, 11, 21)))
    assert later.due == 114


def test_a_certificate_without_number_or_expiry_is_none(db):
    client = factories.make_client()
    with pytest.raises(DatabaseError), transaction.atomic():
        ClientTerms.objects.create(client=client, treatment="exempt")


def test_a_business_that_accounts_for_the_tax_itself(full_set, priced, visit_of):
    priced(full_set, "95")
    stud = factories.make_client(tax_number="IE1234567FA", country="IE", language="fr")
    ClientTerms.objects.create(client=stud, treatment="reverse_charge")
    horse = factories.make_horse(owner=stud, usual_work=full_set)
    said = issued(only_draft(visit_of(horse))).snapshot
    (group,) = said["tax_groups"]
    assert (group["category"], group["reason"]) == ("AE", "Reverse charge")
    assert (said["buyer"]["vat_id"], said["language"]) == ("IE1234567FA", "fr")


def test_an_item_priced_with_tax_where_the_others_are_not(full_set, priced, visit_of):
    """The price told is paid to the cent, beside prices that get their tax."""
    priced(full_set, "95")
    draft = only_draft(visit_of(factories.make_horse(usual_work=full_set)))
    salve = ChargeItem.objects.create(
        kind="extra", name="Hoof salve", price=D("10.01"), includes_tax=True,
        tax_class="goods",
    )  # fmt: skip
    add_line(invoice=draft, by=None, line=NewLine(item=salve, quantity=D(3)))
    draft = Invoice.objects.get(pk=draft.pk)
    assert draft.due == D("144.03")  # 95 × 1.2 + 3 × 10.01
    said = issued(draft).snapshot
    for line in said["lines"]:
        exact = D(line["net_price"]) / D(line["base_quantity"]) * D(line["quantity"])
        assert round(exact, 2) == D(line["net"])
    assert [line["includes_tax"] for line in said["lines"]] == [False, True]
