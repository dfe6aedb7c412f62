"""The PDF room: what it makes, what it won't fetch, what it says when it can't."""

import builtins
import io

import pypdf
import pytest

from practice import pdf


def text_of(document: bytes) -> str:
    return "".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(document)).pages
    )


def test_a_page_becomes_a_tagged_pdf_with_its_title():
    made = pdf.render("<p>Left fore</p>", title="Visit report", lang="en-GB")
    reader = pypdf.PdfReader(io.BytesIO(made))
    assert "Left fore" in text_of(made)
    assert reader.metadata.title == "Visit report"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"


def test_the_same_input_gives_the_same_bytes_with_a_fixed_identifier():
    first, second = (
        pdf.render("<p>twice</p>", title="Twice", identifier=b"x" * 16)
        for _ in range(2)
    )
    assert first == second


@pytest.mark.parametrize(
    "address", ["file:///etc/hostname", "http://127.0.0.1:9/x.png", "x.png", "//h/x"]
)
def test_nothing_outside_the_page_is_fetched(address, tmp_path, monkeypatch):
    opened = []
    real = builtins.open

    def watching(name, *args, **kwargs):
        opened.append(str(name))
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "open", watching)
    made = pdf.render(
        f'<link rel="stylesheet" href="{address}"><p>kept</p><img src="{address}">',
        title="Sealed",
    )
    assert "kept" in text_of(made)
    assert not [name for name in opened if name in address and name]
    assert "/Image" not in str(
        [page.get("/Resources") for page in pypdf.PdfReader(io.BytesIO(made)).pages]
    )


def test_missing_libraries_are_named_with_the_line_that_mends_it(monkeypatch):
    real = builtins.__import__

    def refusing(name, *args, **kwargs):
        if name == "weasyprint":
            raise OSError("cannot load library 'pango-1.0-0'")
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", refusing)
    monkeypatch.setattr(pdf, "missing_libraries", lambda: ("pango-1.0",))
    with pytest.raises(pdf.PdfUnavailable, match=r"pango-1\.0 missing.*install"):
        pdf.render("<p>x</p>", title="x")
