"""The books under any order of issuing, paying, allocating, crediting, paying back,
writing off, taking back and bringing statements in: after every step the control
equation holds, and a model that knows only sums agrees.
"""

from contextlib import suppress
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from billing.models import BankImport, Invoice, LedgerEntry, Payment
from billing.references import rf_of
from billing.selectors import account
from billing.selectors.ledger import aged, control
from billing.services.bank import bring_in, take_back
from billing.services.credit import credit_amount, credit_in_full
from billing.services.ledger import undo_write_off, write_off
from billing.services.payments import apply_credit, pay_back, reverse_payment
from practice.errors import Refused
from tests import factories
from tests.billing.books import TODAY, invoice_over, pay

# Few, so that they meet: what is open, what is left, a cent beside either.
AMOUNTS = st.sampled_from(
    [Decimal(text) for text in ("0.01", "33.33", "49.99", "50.00", "100.00", "166.67")]
)
PICK = st.integers(0, 50)

STATEMENT = """OFXHEADER:100

<OFX><STMTRS><CURDEF>GBP<BANKACCTFROM><ACCTID>1</BANKACCTFROM><BANKTRANLIST>{}</BANKTRANLIST></STMTRS></OFX>"""


class Books(RuleBasedStateMachine):
    """``owed`` is the model: what a client owes less what stands to the credit."""

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        self.client = factories.make_client()
        self.owed = Decimal(0)
        self.movements = 0
        self.lines = []

    def teardown(self):
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def invoices(self):
        return list(Invoice.objects.exclude(kind="381").order_by("pk"))

    def pick(self, rows, at):
        return rows[at % len(rows)]

    @initialize(code=st.sampled_from(["standard", "zero"]))
    def begin(self, code):
        """An invoice paid by two payments, the second with something over."""
        self.issue(Decimal("100.00"), Decimal("50.00"), code)
        for amount in ("100.00", "100.00"):
            self.pay(Decimal(amount), 0, is_named=True)

    @rule(amount=AMOUNTS, other=AMOUNTS, code=st.sampled_from(["standard", "zero"]))
    def issue(self, amount, other, code):
        made = invoice_over(self.client, amount, other, tax_code=[code, "zero"])
        self.owed += made.due

    @rule(amount=AMOUNTS, at=PICK, is_named=st.booleans())
    def pay(self, amount, at, is_named):
        rows = self.invoices()
        named = [self.pick(rows, at)] if is_named and rows else []
        pay(self.client, amount, *named)
        self.owed -= amount

    @rule()
    def allocate(self):
        apply_credit(client=self.client, by=None, today=TODAY)

    @precondition(lambda self: Invoice.objects.exists())
    @rule(at=PICK, amount=AMOUNTS | st.none())
    def credit(self, at, amount):
        row = self.pick(self.invoices(), at)
        before = Invoice.objects.filter(kind="381").count()
        told = {"invoice": row, "by": None, "today": TODAY, "reason": "x"}
        with suppress(Refused):
            if amount is None:
                note = credit_in_full(**told)
            else:
                note = credit_amount(amount=amount, **told)
            if Invoice.objects.filter(kind="381").count() > before:
                self.owed -= note.due

    @precondition(lambda self: Payment.objects.exists())
    @rule(at=PICK, amount=AMOUNTS)
    def refund(self, at, amount):
        row = self.pick(list(Payment.objects.order_by("pk")), at)
        with suppress(Refused):
            pay_back(
                payment=row,
                amount=amount,
                method="cash",
                day=TODAY,
                by=None,
                reason="x",
            )
            self.owed += amount

    @precondition(lambda self: Payment.objects.exists())
    @rule(at=PICK)
    def bounce(self, at):
        row = self.pick(list(Payment.objects.order_by("pk")), at)
        is_new = not row.entries.filter(kind="payment", reverses__isnull=False).exists()
        with suppress(Refused):
            reverse_payment(payment=row, by=None, today=TODAY, reason="x")
            self.owed += row.amount if is_new else 0

    @precondition(lambda self: Invoice.objects.exists())
    @rule(at=PICK, amount=AMOUNTS | st.none())
    def give_up(self, at, amount):
        row = self.pick(self.invoices(), at)
        with suppress(Refused):
            made = write_off(
                invoice=row, amount=amount, by=None, today=TODAY, reason="x"
            )
            self.owed += made.amount

    @precondition(lambda self: LedgerEntry.objects.filter(kind="write_off").exists())
    @rule(at=PICK)
    def hope_again(self, at):
        rows = LedgerEntry.objects.filter(kind="write_off", reverses__isnull=True)
        row = self.pick(list(rows.order_by("pk")), at)
        is_new = not LedgerEntry.objects.filter(reverses=row).exists()
        undo_write_off(entry=row, by=None, today=TODAY, reason="x")
        self.owed -= row.amount if is_new else 0

    @precondition(lambda self: Invoice.objects.exists())
    @rule(at=PICK, amount=AMOUNTS)
    def bring_in(self, at, amount):
        """A further line with an RF reference, and all earlier ones of the account:
        each new file overlaps the one before."""
        self.movements += 1
        row = self.pick(self.invoices(), at)
        self.lines.append(
            f"<STMTTRN><DTPOSTED>20261120<TRNAMT>{amount}<FITID>{self.movements}"
            f"<MEMO>{rf_of(row.number)}</STMTTRN>"
        )
        data = STATEMENT.format("".join(self.lines)).encode()
        before = Payment.objects.count()
        brought = bring_in(name="bank.ofx", data=data, by=None)
        made = Payment.objects.order_by("pk")[before:]
        assert brought.posted == len(made)
        self.owed -= sum((payment.amount for payment in made), Decimal(0))
        again = bring_in(name="bank.ofx", data=data, by=None)
        assert (again.new, again.posted) == (0, 0)

    @precondition(lambda self: BankImport.objects.exists())
    @rule(at=PICK)
    def take_back(self, at):
        row = self.pick(list(BankImport.objects.order_by("pk")), at)
        paid = [
            line.payment
            for line in row.lines.filter(state="posted").select_related("payment")
            if not line.payment.entries.filter(
                kind="payment", reverses__isnull=False
            ).exists()
        ]
        with suppress(Refused):
            take_back(made=row, by=None)
            self.owed += sum((payment.amount for payment in paid), Decimal(0))

    @invariant()
    def the_control_equation_holds(self):
        found = control([self.client.pk])
        assert all(one.holds for one in found), found
        assert sum(one.entries for one in found) == self.owed

    @invariant()
    def account_and_aged_list_say_the_same(self):
        found = account(self.client, today=TODAY)
        assert found.balance == self.owed
        assert (found.entries[-1].balance if found.entries else 0) == self.owed
        old = aged(TODAY)
        assert old.owed - old.credit == self.owed


@pytest.mark.django_db
def test_the_books_hold_whatever_is_done(practice):
    run_state_machine_as_test(
        Books,
        settings=settings(
            max_examples=7,
            stateful_step_count=10,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
