"""Nudges, once each; interest on late payment; a month's end. And banks' money."""

from datetime import timedelta

import pytest

from billing.bank.lines import BadStatement
from billing.models import BankLine, ClientTerms, Payment
from billing.references import rf_of
from billing.services.bank import bring_in, take_back
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
from billing.services.invoices import issue_invoice
from billing.services.month_end import start_run, step_job
from billing.services.payments import pay_back
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
    assert issue_invoice(invoice=draft, by=None, today=TODAY).is_issued
    pay(client, "2000.00", invoice)
    with pytest.raises(Refused, match="Nothing can be claimed"):
        draft_late_claim(**told)


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
