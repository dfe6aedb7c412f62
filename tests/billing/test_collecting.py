"""Nudges, once each; interest on late payment; a month's end. And banks' money."""

from datetime import timedelta

import pytest

from billing.bank.lines import BadStatement
from billing.models import BankLine, ClientTerms, Payment
from billing.references import rf_of
from billing.services.bank import bring_in, post_line, take_back
from billing.services.collecting import (
    dispute,
    draft_late_claim,
    late_claim,
    nudge_job,
    set_collecting,
    set_late_percent,
    settle,
    step_of,
)
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import discard_draft
from billing.services.month_end import start_run, step_job
from billing.services.payments import pay_back, reverse_payment
from billing.services.totals import retax_drafts
from practice.errors import Refused
from practice.models import Message
from tests import factories
from tests.billing.books import (
    TODAY,
    D,
    ago,
    books_balance,
    draft_over,
    invoice_over,
    open_of,
    pay,
)


@pytest.fixture
def client(practice):
    return factories.make_client(name="Elspeth Rae")


@pytest.fixture
def nudging(practice):
    set_collecting(by=None, nudges_on=True, days_before=3, late_law="UK")


def nudged():
    return [
        message.key.rpartition(":")[2]
        for message in Message.objects.filter(kind="nudge").order_by("pk")
    ]


# ---- Nudges -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("late", "step"),
    [
        *[(-4, ""), (-3, "before"), (-1, "before"), (0, ""), (6, ""), (7, "7")],
        *[(13, "7"), (14, "14"), (29, "14"), (30, "30"), (36, "30"), (37, "")],
    ],
)
def test_the_step_of_a_day(late, step):
    assert step_of(ago(late), TODAY, 3) == step


def test_each_nudge_goes_once_over_the_days_and_stops_when_paid(client, nudging):
    invoice = invoice_over(client, "100.00", day=ago(60))
    for days in range(60):
        for _ in range(2):
            nudge_job(day=(invoice.issue_day + timedelta(days)).isoformat())
    assert nudged() == ["before", "7", "14", "30"]
    mail = Message.objects.filter(kind="nudge").last()
    assert "£100.00" in mail.body
    assert "fee" not in mail.body.casefold()
    other = invoice_over(client, "50.00", day=ago(25))
    pay(client, "50.00", other)
    nudge_job(day=TODAY.isoformat())
    assert len(nudged()) == 4


def test_a_nudge_is_in_the_client_s_language(nudging):
    client = factories.make_client(name="Jana Roth", language="de")
    invoice_over(client, "1045.00", day=ago(21))
    nudge_job(day=TODAY.isoformat())
    mail = Message.objects.get(kind="nudge")
    body = " ".join(mail.body.split())
    assert mail.subject == "Rechnung INV-00001: 1.045,00 £ noch offen"
    assert body.startswith("Guten Tag Jana Roth, Rechnung INV-00001 war am 18. Nov")
    assert "Zu zahlen: 1.045,00 £" in body


def test_no_nudge_while_disputed_nor_where_they_are_off(client, practice):
    invoice = invoice_over(client, "100.00", day=ago(22))
    nudge_job(day=TODAY.isoformat())
    assert nudged() == []
    set_collecting(by=None, nudges_on=True, days_before=0, late_law="")
    dispute(invoice=invoice, by=None, today=TODAY, reason="lost shoe")
    nudge_job(day=TODAY.isoformat())
    assert nudged() == []
    settle(invoice=invoice, by=None, today=TODAY)
    nudge_job(day=TODAY.isoformat())
    assert nudged() == ["7"]


# ---- Interest -----------------------------------------------------------------------
def test_interest_is_claimed_of_a_business_alone_and_drafted_once(client, nudging):
    """The example of the Act of 1998: GBP 2000, 45 days, 11.75 %: 28.97 and 70."""
    invoice = invoice_over(client, "2000.00", day=ago(59))  # due after 14 days
    set_late_percent(by=None, starts=ago(200), percent=D("11.75"))
    assert late_claim(invoice, today=TODAY) is None
    ClientTerms.objects.create(client=client, is_business=True)
    found = late_claim(invoice, today=TODAY)
    assert (found.interest, found.fixed_sum) == (D("28.97"), 70)
    told = {"invoice": invoice, "by": None, "today": TODAY}
    draft = draft_late_claim(**told)
    assert draft_late_claim(**told) == draft
    assert (draft.due, draft.tax_total) == (D("98.97"), 0)
    assert draft_late_claim(**{**told, "today": TODAY + timedelta(9)}) == draft
    retax_drafts()
    first = issue_invoice(invoice=draft, by=None, today=TODAY)
    assert first.snapshot["tax_groups"][0]["category"] == "O"
    with pytest.raises(Refused, match="Nothing can be claimed"):
        draft_late_claim(**told)
    # Ten days more: those alone, and no second sum. 2000 × 11.75 % × 10 / 365
    told["today"] = TODAY + timedelta(10)
    then = draft_late_claim(**told)
    assert then.due == D("6.44")
    discard_draft(invoice=then, by=None)
    again = draft_late_claim(**told)
    assert again.due == D("6.44")
    discard_draft(invoice=again, by=None)
    assert late_claim(first, today=TODAY + timedelta(40)) is None  # none on interest
    pay(client, "2000.00", invoice)
    with pytest.raises(Refused, match="Nothing can be claimed"):
        draft_late_claim(invoice=invoice, by=None, today=TODAY + timedelta(20))


def test_a_claim_that_was_credited_can_be_made_again(client, nudging):
    invoice = invoice_over(client, "2000.00", day=ago(59))
    set_late_percent(by=None, starts=ago(200), percent=D("11.75"))
    ClientTerms.objects.create(client=client, is_business=True)
    told = {"invoice": invoice, "by": None, "today": TODAY}
    first = issue_invoice(invoice=draft_late_claim(**told), by=None, today=TODAY)
    credit_in_full(invoice=first, by=None, today=TODAY, reason="wrong day")
    assert draft_late_claim(**told).due == first.due == D("98.97")


# ---- Month end ------------------------------------------------------------------------
def test_a_step_done_again_does_nothing_and_what_is_issued_by_hand_is_passed(client):
    drafts = [draft_over(client, "10.00") for _ in range(7)]
    run = start_run(by=None, today=TODAY)
    assert start_run(by=None, today=TODAY) == run
    issue_invoice(invoice=drafts[0], by=None, today=TODAY)
    for _ in range(2):
        step_job(run=str(run.pk), at=0)
    run.refresh_from_db()
    assert (run.at, run.issued, run.ended_at) == (5, 4, None)
    assert Message.objects.filter(kind="issue_drafts").count() == 2
    step_job(run=str(run.pk), at=5)
    run.refresh_from_db()
    assert (run.issued, run.ended_at is not None) == (6, True)
    with pytest.raises(Refused, match="no draft"):
        start_run(by=None, today=TODAY)


def test_a_run_over_midnight_goes_on_where_the_numbers_are(client):
    """Issued by hand meanwhile: what follows can't bear the day before."""
    drafts = [draft_over(client, "10.00") for _ in range(2)]
    run = start_run(by=None, today=ago(1))
    issue_invoice(invoice=drafts[0], by=None, today=TODAY)
    step_job(run=str(run.pk), at=0)
    run.refresh_from_db()
    drafts[1].refresh_from_db()
    assert (run.issued, run.refused, drafts[1].issue_day) == (1, [], TODAY)


# ---- Banks' money ------------------------------------------------------------------
def ofx(*lines):
    told = "".join(
        f"<STMTTRN><DTPOSTED>20261120<TRNAMT>{amount}<FITID>{n}<NAME>{name}<MEMO>{memo}</STMTTRN>"
        for n, (amount, name, memo) in enumerate(lines)
    )
    return (
        f"<OFX><STMTRS><CURDEF>GBP<ACCTID>1<BANKTRANLIST>{told}</BANKTRANLIST>"
        "</STMTRS></OFX>"
    ).encode()


def test_what_is_sure_is_posted_what_is_not_is_proposed(client):
    first, second, third = (invoice_over(client, "50.00", day=ago(9)) for _ in range(3))
    data = ofx(
        ("50.00", "X", rf_of(first.number)),
        ("50.00", "RAE ELSPETH", second.number),
        ("50.01", "RAE ELSPETH", third.number),
        ("50.00", "X", rf_of(first.number)),  # paid twice in one file
        ("-9.00", "Fuel", ""),
    )
    done = bring_in(name="a.ofx", data=data, by=None)
    assert (done.new, done.posted, done.known) == (5, 2, 0)
    assert [open_of(one) for one in (first, second, third)] == [0, 0, 50]
    states = list(BankLine.objects.order_by("pk").values_list("state", flat=True))
    assert states == ["posted", "posted", "waiting", "waiting", "ignored"]
    assert "more than is open by now" in BankLine.objects.order_by("pk")[3].why
    assert bring_in(name="again.ofx", data=data, by=None).new == 0
    longer = ofx(
        ("50.00", "X", rf_of(first.number)),
        ("50.00", "RAE ELSPETH", second.number),
        ("50.01", "RAE ELSPETH", third.number),
        ("50.00", "X", rf_of(first.number)),
        ("-9.00", "Fuel", ""),
        ("50.00", "X", rf_of(third.number)),
    )
    assert bring_in(name="overlap.ofx", data=longer, by=None).posted == 1
    books_balance()


def test_an_import_taken_back_leaves_the_books_as_before_and_can_come_again(client):
    invoice = invoice_over(client, "50.00", day=ago(9))
    data = ofx(("50.00", "X", rf_of(invoice.number)))
    done = bring_in(name="a.ofx", data=data, by=None)
    assert open_of(invoice) == 0
    assert take_back(made=done.made, by=None) == 1
    assert take_back(made=done.made, by=None) == 0
    assert open_of(invoice) == 50
    books_balance()
    assert bring_in(name="a.ofx", data=data, by=None).posted == 1
    assert open_of(invoice) == 0


def test_a_line_whose_payment_is_taken_out_can_be_posted_again(client):
    """Posted to the wrong client, say; and the account isn't held for theirs."""
    invoice = invoice_over(client, "100.00")
    bring_in(name="x.ofx", data=ofx(("100.00", "Nobody", "hello")), by=None)
    line = BankLine.objects.get()
    other = factories.make_client(name="Somebody Else")
    wrong = post_line(line=line, client=other, by=None)
    reverse_payment(payment=wrong, by=None, today=TODAY, reason="not theirs")
    line.refresh_from_db()
    assert (line.state, line.payment) == ("waiting", None)
    right = post_line(line=line, client=client, by=None)
    assert post_line(line=line, client=client, by=None) == right
    assert (right.client, open_of(invoice)) == (client, 0)
    assert take_back(made=line.brought_by, by=None) == 1
    line.refresh_from_db()
    assert (line.state, line.payment, open_of(invoice)) == ("undone", right, 100)
    books_balance()


@pytest.mark.parametrize("amount", ["1e30", "10.005", "100000000"])
def test_an_amount_that_no_bank_books_is_refused_with_its_day(client, amount):
    lines = ofx(("5.00", "a", ""), (amount, "b", ""))
    with pytest.raises(Refused, match="movement of 2026-11-20") as refusal:
        bring_in(name="x.ofx", data=lines, by=None)
    assert (refusal.value.field, BankLine.objects.count()) == ("file", 0)


def test_an_import_whose_money_was_paid_back_stays(client):
    data = ofx(("50.00", "Elspeth Rae", "hello"))
    done = bring_in(name="a.ofx", data=data, by=None)
    from billing.services.bank import post_line

    line = BankLine.objects.get()
    payment = post_line(line=line, client=client, by=None)
    pay_back(
        payment=payment, amount=D(5), method="cash", day=TODAY, by=None, reason="x"
    )
    with pytest.raises(Refused, match="paid back"):
        take_back(made=done.made, by=None)
    assert BankLine.objects.get().state == "posted"


def test_a_file_that_is_broken_leaves_nothing(client):
    with pytest.raises(Refused) as refusal:
        bring_in(name="a", data=ofx(("x", "", "")), by=None)
    assert refusal.value.field == "file"
    assert isinstance(refusal.value.__cause__, BadStatement)
    assert not BankLine.objects.exists()
    assert not Payment.objects.exists()
