"""The PDF of an issued document: what its page says and what its XML says."""

import io
import shutil
import subprocess
import sys
from datetime import date
from decimal import Decimal

import pypdf
import pytest
import zxingcpp
from PIL import Image

from billing import einvoice, pdf
from billing.words import words
from practice import pdf as press
from tests.billing.reading import on_the_page, page_text, squeezed, xml_of
from tests.snapshots import EUROS, line, snapshot

SHARED = line(
    "Rollo: Full set", net="57.00", note="60 % share", whole="95.00", share="60"
)
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
PAPERS = {
    "shared, discount, rounding": snapshot(
        [SHARED, line("Hoof oil", net="25.00", quantity="3", rate="5")],
        adjustments=[DISCOUNT],
        rounding="0.01",
    ),
    "German, prices with tax": snapshot(
        [
            line(
                "Bramble: Vollbeschlag",
                net="1079.83",
                rate="19",
                amount="1285.00",
                includes_tax=True,
            ),
            line("Anfahrt", net="18.90", rate="19", quantity="42", unit="KMT"),
        ],
        language="de",
        prices_include_tax=True,
        **EUROS,
    ),
    "French credit note": snapshot(
        [line("Étoile: ferrage", net="1795.50", rate="20")],
        kind="381",
        number="CN-00003",
        corrects={"number": "INV-00012", "issue_day": "2026-10-30"},
        language="fr",
        **EUROS,
    ),
    "exempt, prepaid": snapshot(
        [line(rate="0", category="E")], kind="386", number="PRE-00001", prepaid="20.00"
    ),
}


@pytest.fixture(scope="module")
def made():
    """Each paper's bytes; made once."""
    return {
        name: pdf.invoice_pdf(paper, identifier=b"x" * 16)
        for name, paper in PAPERS.items()
    }


@pytest.mark.parametrize("name", PAPERS)
def test_every_figure_of_the_xml_is_on_the_page(made, name):
    assert on_the_page(made[name], words(PAPERS[name]["language"])) >= 12


@pytest.mark.parametrize("name", PAPERS)
def test_the_attached_xml_is_the_download(made, name):
    assert xml_of(made[name]) == einvoice.cii(einvoice.read(PAPERS[name]))


def test_a_changed_page_would_be_noticed(made):
    """The comparison above can fail: another paper's words don't fit."""
    with pytest.raises(AssertionError):
        on_the_page(made["exempt, prepaid"], words("de"))


def test_outside_vat_systems_the_pdf_carries_no_xml():
    paper = snapshot([line(category="O")], seller={"country": "US"}, currency="USD")
    content = pdf.invoice_pdf(paper, identifier=b"x" * 16)
    reader = pypdf.PdfReader(io.BytesIO(content))
    assert not reader.attachments
    assert b'pdfaid:part="3"' in content
    assert b"factur-x" not in content


def test_the_same_paper_gives_the_same_bytes_in_another_process(made, tmp_path):
    name = "German, prices with tax"
    program = (
        "import django, sys; django.setup()\n"
        "from billing import pdf\n"
        "from tests.billing.test_hybrid import PAPERS\n"
        f"sys.stdout.buffer.write(pdf.invoice_pdf(PAPERS[{name!r}], "
        "identifier=b'x' * 16))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        check=True,
        env={
            "PATH": "/usr/bin:/bin",
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "PYTHONHASHSEED": "77",
            "TZ": "Asia/Tokyo",
            "LANG": "de_DE.UTF-8",
            "CLENCHLINE_DATA": str(tmp_path),
        },
    )
    assert done.stdout == made[name]


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="needs poppler-utils")
def test_a_phone_reads_the_invoice_off_the_rendered_page(made, tmp_path):
    """Rendered by poppler, read by zxing-cpp: the lines of EPC069-12."""
    paper = PAPERS["German, prices with tax"]
    file = tmp_path / "page.pdf"
    file.write_bytes(made["German, prices with tax"])
    subprocess.run(
        ["pdftoppm", "-r", "120", "-png", "-singlefile", file, tmp_path / "page"],
        check=True,
    )
    with Image.open(tmp_path / "page.png") as picture:
        (code,) = zxingcpp.read_barcodes(picture)
    said = code.text.split("\n")
    payment = paper["payment"]
    assert said == [
        *("BCD", "002", "1", "SCT", "", payment["account_name"], payment["iban"]),
        *(f"EUR{Decimal(paper['totals']['due']):.2f}", "", payment["rf"]),
    ]


@pytest.mark.parametrize(
    "over",
    [
        {"prepaid": "119.00"},
        {"kind": "381", "corrects": {"number": "INV-1", "issue_day": "2026-10-30"}},
        {"currency": "GBP"},
        {"payment": {**EUROS["payment"], "iban": "DE75512108001245126190"}},
    ],
)
def test_there_is_no_code_that_could_not_be_true(over):
    shown = pdf.said(snapshot([line(net="100.00", rate="19")], **{**EUROS, **over}))
    assert not shown["pay"] or not shown["pay"]["qr"]


def test_a_sign_that_no_font_has_is_seen_and_warned_of():
    paper = snapshot(buyer={"name": "Жанна Ælfgifu ﬁlly"})
    assert pdf.unshown(paper) == "Жан"
    text = page_text(pdf.invoice_pdf(paper, identifier=b"x" * 16))
    assert squeezed("[?][?][?][?][?] Ælfgifu filly") in text


def test_latin_needs_no_look_into_the_fonts():
    """What ``undrawn`` takes for granted, the fonts have."""
    known = press._drawn()
    plain = {*range(0x20, 0x7F), *range(0xA0, 0x180)}
    assert plain <= known


def test_statement_and_receipt_speak_the_client_s_language():
    party = snapshot(**EUROS)
    shared = {
        **{key: party[key] for key in ("seller", "buyer", "currency")},
        "size": "",
        "language": "nl",
    }
    statement = pdf.statement_pdf(
        {
            **shared,
            "from_day": date(2026, 1, 1),
            "to_day": date(2026, 11, 25),
            "opening": Decimal(20),
            "closing": Decimal("1171.00"),
            "entries": [
                {
                    "day": date(2026, 3, 1),
                    "what": "invoice",
                    "number": "INV-00004",
                    "amount": Decimal("1151.00"),
                    "balance": Decimal("1171.00"),
                }
            ],
            "open": [
                {
                    "number": "INV-00004",
                    "due_day": date(2026, 3, 15),
                    "amount": Decimal("1151.00"),
                    "is_late": True,
                }
            ],
            "aged": [Decimal(0)] * 5,
            "pay": {**party["payment"], "reference": "", "rf": ""},
        }
    )
    text = page_text(statement)
    for said in ("Rekeningoverzicht", "€ 1.171,00", "15-03-2026 · te laat", "1 van 1"):
        assert squeezed(said).lower() in text.lower(), said
    receipt = pdf.receipt_pdf(
        {
            **shared,
            "number": "20261125-AB12CD",
            "day": date(2026, 11, 25),
            "amount": Decimal("1200.00"),
            "method": "transfer",
            "reference": "",
            "parts": [
                {
                    "number": "INV-00004",
                    "issue_day": date(2026, 3, 1),
                    "amount": Decimal("1100.00"),
                    "open": Decimal("51.00"),
                }
            ],
            "left": Decimal("100.00"),
        }
    )
    text = page_text(receipt)
    for said in ("€ 51,00 nog open", "overschrijving", "€ 1.200,00", "tegoed"):
        assert squeezed(said) in text, said
