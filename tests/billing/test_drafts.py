"""One draft per payer: who pays what, to the cent."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from billing.models import ChargeItem, Invoice
from billing.services.drafts import draft_invoices
from billing.services.lines import discard_draft
from horses.models import Visit, Work
from practice.errors import Refused
from practice.models import Change
from tests import factories

DAY = date(2026, 11, 20)


def drafts_of(visit, by=None):
    found = draft_invoices(visit=visit, by=by)
    return {invoice.client: invoice for invoice in found}


def lines_of(invoice):
    return [
        (line.name, line.amount, line.share) for line in invoice.lines.order_by("pk")
    ]


@pytest.fixture
def full_set(practice):
    return factories.make_work(name="Full set")


@pytest.fixture
def visit_of(farrier):
    def make(*horses, **over):
        return factories.make_visit(
            horses=list(horses), farrier=farrier, closed=True, **{"day": DAY, **over}
        )

    return make


def test_a_sole_owner_pays_work_and_call_out_with_tax(full_set, priced, visit_of):
    priced(full_set, "95.00", call_out="20.00")
    elspeth = factories.make_client()
    horse = factories.make_horse(owner=elspeth, usual_work=full_set, name="Tansy")
    invoice = drafts_of(visit_of(horse))[elspeth]
    assert lines_of(invoice) == [
        ("Tansy: Full set", Decimal(95), None),
        ("Call-out", Decimal(20), None),
    ]
    figures = (invoice.line_total, invoice.tax_total, invoice.total, invoice.due)
    assert figures == (115, 23, 138, 138)
    assert invoice.is_draft
    assert invoice.number is None


def test_a_sixty_forty_horse_is_split_to_the_cent(full_set, priced, visit_of):
    priced(full_set, "100.01")
    anna, bert = factories.make_client(), factories.make_client()
    horse = factories.make_horse(
        shares={anna: 60, bert: 40}, usual_work=full_set, name="Rowan"
    )
    drafts = drafts_of(visit_of(horse))
    assert lines_of(drafts[anna]) == [("Rowan: Full set", Decimal("60.01"), 60)]
    assert lines_of(drafts[bert]) == [("Rowan: Full set", Decimal("40.00"), 40)]
    (line,) = drafts[anna].lines.all()
    assert line.whole == Decimal("100.01")
    assert line.note == "60 % share"


def test_the_call_out_is_shared_by_horse_and_a_co_owned_part_by_share(
    full_set, priced, visit_of
):
    priced(full_set, "90.00", call_out="45.00")
    anna, bert = factories.make_client(), factories.make_client()
    barn = factories.make_barn()
    shared = {"usual_work": full_set, "barn": barn}
    horses = [
        factories.make_horse(owner=anna, **shared),
        factories.make_horse(owner=anna, **shared),
        factories.make_horse(owner=bert, **shared),
        factories.make_horse(shares={anna: 60, bert: 40}, **shared),
    ]
    drafts = drafts_of(visit_of(*horses))
    call_outs = {
        client: drafts[client].lines.get(name="Call-out") for client in (anna, bert)
    }
    # Anna 2.6 of 4 horses, Bert 1.4 of 4.
    assert call_outs[anna].amount == Decimal("29.25")
    assert call_outs[bert].amount == Decimal("15.75")
    assert (call_outs[anna].share, call_outs[bert].share) == (65, 35)
    assert "4 horses" in call_outs[anna].note


def test_payers_with_three_two_one_and_one_horses_share_a_call_out(
    full_set, priced, visit_of
):
    priced(full_set, "0.00", call_out="45.00")
    barn = factories.make_barn()
    payers = [factories.make_client() for _ in range(4)]
    horses = [
        factories.make_horse(owner=payer, usual_work=full_set, barn=barn)
        for payer, count in zip(payers, (3, 2, 1, 1), strict=True)
        for _ in range(count)
    ]
    drafts = drafts_of(visit_of(*horses))
    shares = [drafts[p].lines.get(name="Call-out").amount for p in payers]
    assert shares == [Decimal(a) for a in ("19.28", "12.86", "6.43", "6.43")]


def test_the_payer_of_the_day_wins_over_the_owners(full_set, priced, visit_of):
    priced(full_set, "90.00")
    owner, trainer = factories.make_client(), factories.make_client()
    horse = factories.make_horse(owner=owner, usual_work=full_set)
    factories.make_payer(
        horse=horse, client=trainer, starts=date(2026, 11, 1), ends=date(2026, 11, 20)
    )
    assert set(drafts_of(visit_of(horse))) == {trainer}
    assert set(drafts_of(visit_of(horse, day=date(2026, 11, 21)))) == {owner}


def test_ownership_counts_on_the_day_of_the_visit(full_set, priced, visit_of):
    priced(full_set, "90.00")
    before, after = factories.make_client(), factories.make_client()
    horse = factories.make_horse(owner=before, usual_work=full_set)
    horse.ownerships.update(ends=date(2026, 11, 19))
    factories.make_ownership(horse=horse, client=after, starts=date(2026, 11, 20))
    assert set(drafts_of(visit_of(horse, day=date(2026, 11, 19)))) == {before}
    assert set(drafts_of(visit_of(horse, day=date(2026, 11, 20)))) == {after}


def test_the_agreed_price_wins_for_the_usual_work_only(
    full_set, priced, visit_of, farrier
):
    trim = factories.make_work(name="Trim", kind=Work.Kind.TRIM)
    priced(full_set, "95.00")
    priced(trim, "40.00")
    horse = factories.make_horse(usual_work=full_set, agreed_price=Decimal("80.00"))
    (usual,) = drafts_of(visit_of(horse)).values()
    other_visit = visit_of(horse, day=date(2026, 11, 21))
    other_visit.records.update(work=trim)
    (other,) = drafts_of(other_visit).values()
    assert usual.line_total == 80
    assert other.line_total == 40


def test_work_that_has_no_price_is_drafted_and_says_so(full_set, priced, visit_of):
    priced()
    horse = factories.make_horse(usual_work=full_set)
    (invoice,) = drafts_of(visit_of(horse)).values()
    (line,) = invoice.lines.all()
    assert line.needs_price
    assert invoice.due == 0


def test_a_horse_without_owner_is_named_and_nothing_is_drafted(
    full_set, priced, visit_of
):
    horse = factories.make_horse(usual_work=full_set, name="Orphan")
    horse.ownerships.all().delete()
    with pytest.raises(Refused, match="Orphan had no owner"):
        drafts_of(visit_of(horse))
    assert not Invoice.objects.exists()


def test_drafting_again_makes_nothing_new(full_set, priced, visit_of):
    priced(full_set, "95.00")
    visit = visit_of(factories.make_horse(usual_work=full_set))
    first = drafts_of(visit)
    priced(full_set, "99.00")
    assert drafts_of(visit) == first
    assert [invoice.line_total for invoice in drafts_of(visit).values()] == [95]
    assert Change.objects.filter(action="drafted").count() == 1


def test_a_discarded_draft_does_not_come_back(full_set, priced, visit_of):
    priced(full_set, "95.00")
    visit = visit_of(factories.make_horse(usual_work=full_set))
    (invoice,) = drafts_of(visit).values()
    discard_draft(invoice=invoice, by=None)
    assert drafts_of(visit) == {}


def test_an_open_visit_is_not_billed(full_set, farrier):
    visit = factories.make_visit(horses=[factories.make_horse()], farrier=farrier)
    with pytest.raises(Refused, match="Close the visit first"):
        draft_invoices(visit=visit, by=None)


def test_a_visit_from_a_sheet_is_not_billed(full_set, priced, visit_of):
    priced(full_set, "95.00", call_out="20.00")
    visit = visit_of(
        factories.make_horse(usual_work=full_set), kind=Visit.Kind.BROUGHT_IN
    )
    assert drafts_of(visit) == {}


def test_a_no_show_costs_its_own_fee_once_and_no_call_out(full_set, priced, visit_of):
    fee = factories.make_work(name="No-show", kind=Work.Kind.NO_SHOW)
    priced(full_set, "95.00", call_out="20.00")
    priced(fee, "30.00")
    owner = factories.make_client()
    horses = [factories.make_horse(owner=owner, usual_work=full_set) for _ in range(2)]
    visit = visit_of(*horses, kind=Visit.Kind.NO_SHOW)
    assert lines_of(drafts_of(visit)[owner]) == [("No-show", Decimal(30), None)]


def test_prices_that_include_the_tax_stay_what_was_told(
    full_set, practice, visit_of, priced
):
    """At 20 % no net gives 100.01 exactly: the odd cent goes to BT-114."""
    practice.prices_include_tax = True
    practice.save(update_fields=["prices_include_tax"])
    priced(full_set, "100.01")
    horse = factories.make_horse(usual_work=full_set)
    (invoice,) = drafts_of(visit_of(horse)).values()
    assert invoice.due == Decimal("100.01")
    assert invoice.total + invoice.rounding == invoice.due
    assert invoice.tax_total == Decimal("16.67")
    assert invoice.line_total == Decimal("83.34")


def test_a_practice_that_is_not_registered_charges_no_tax(
    full_set, practice, visit_of, priced
):
    practice.tax_registered = False
    practice.save(update_fields=["tax_registered"])
    priced(full_set, "95.00")
    (invoice,) = drafts_of(visit_of(factories.make_horse(usual_work=full_set))).values()
    (line,) = invoice.lines.all()
    assert (line.tax_category, line.tax_percent, invoice.due) == ("O", None, 95)
    assert line.tax_reason == "Not registered for VAT."


SHARES = st.lists(st.integers(1, 99), min_size=1, max_size=4).map(
    lambda parts: [Decimal(part) for part in parts]
)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    price=st.integers(0, 50_000),
    call_out=st.integers(1, 9_999),
    horses=st.lists(SHARES, min_size=1, max_size=4),
)
def test_what_the_payers_pay_adds_up_to_the_charges(
    db, full_set, priced, visit_of, price, call_out, horses
):
    """Invariant 3, through the database: whatever the owners and their shares."""
    amount, fee = Decimal(price).scaleb(-2), Decimal(call_out).scaleb(-2)
    priced(full_set, amount, call_out=fee)
    clients = [factories.make_client() for _ in range(4)]
    barn = factories.make_barn()
    made = []
    for parts in horses:
        whole = sum(parts)
        shares = [round(part * 100 / whole, 4) for part in parts]
        shares[0] += 100 - sum(shares)
        made.append(
            factories.make_horse(
                shares=dict(zip(clients, shares, strict=False)),
                usual_work=full_set,
                barn=barn,
            )
        )
    drafts = drafts_of(visit_of(*made))
    assert sum(d.line_total for d in drafts.values()) == amount * len(made) + fee
    for horse in made:
        parts = [
            line.amount
            for draft in drafts.values()
            for line in draft.lines.filter(horse=horse)
        ]
        assert sum(parts) == amount


def test_the_charge_list_proposal_is_repeatable_and_covers_all_work(
    practice, full_set, priced
):
    priced()
    priced()
    assert ChargeItem.objects.filter(work=full_set).count() == 1
    assert ChargeItem.objects.filter(kind="call_out").count() == 1
    assert ChargeItem.objects.get(work=full_set).price is None
