"""Our documents under a structural lint of PDF/A-3u (see pdf_lint)."""

import io

import pikepdf
import pytest

from billing import pdf
from tests.reference.pdf_lint import lint
from tests.snapshots import EUROS, line, snapshot

LINK = {"link": "https://pay.example.org/forge?ref=INV-00017"}


@pytest.fixture(scope="module")
def whole():
    paper = snapshot(
        [line("Étoile & <Sons>: Vollbeschlag", rate="19", feet={"LF": "new_shoe"})],
        language="de",
        paper={"size": "", "logo": "", "feet": True},
        **{
            **EUROS,
            "payment": {**EUROS["payment"], **LINK},
            "buyer": {"name": "Жанна von Œuvre", "country": "DE"},
        },
    )
    return pdf.invoice_pdf(paper, identifier=b"x" * 16)


def test_an_invoice_with_code_link_feet_and_foreign_signs_is_clean(whole):
    assert lint(whole, carries_invoice=True) == []


def test_a_file_without_an_e_invoice_is_clean_too():
    paper = snapshot([line(category="O")], seller={"country": "US"}, currency="USD")
    content = pdf.invoice_pdf(paper, identifier=b"x" * 16)
    assert lint(content, carries_invoice=False) == []


def _second_rdf(file):
    xmp = file.Root.Metadata.read_bytes()
    more = b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/>'
    file.Root.Metadata.write(xmp.replace(b"</x:xmpmeta>", more + b"</x:xmpmeta>"))


def _twice_in_af(file):
    file.Root.AF.append(file.Root.AF[0])


def _no_uf(file):
    del file.Root.AF[0].EF["/UF"]


def _other_title(file):
    file.docinfo["/Title"] = "Another"


def _no_unicode(file):
    for item in file.objects:
        if isinstance(item, pikepdf.Dictionary) and "/ToUnicode" in item:
            del item["/ToUnicode"]


def _no_intent(file):
    del file.Root["/OutputIntents"]


@pytest.mark.parametrize(
    ("spoil", "clause"),
    [
        (_second_rdf, "2 rdf:RDF"),
        (_twice_in_af, "2 entries in /AF"),
        (_no_uf, "/EF lacks"),
        (_other_title, "/Title is"),
        (_no_unicode, "no ToUnicode"),
        (_no_intent, "output intent"),
    ],
)
def test_the_lint_sees_a_spoilt_file(whole, spoil, clause):
    with pikepdf.open(io.BytesIO(whole)) as file:
        spoil(file)
        out = io.BytesIO()
        file.save(out)
    assert any(clause in fault for fault in lint(out.getvalue(), carries_invoice=True))
