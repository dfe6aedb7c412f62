"""HTML in, PDF bytes out: the one place that knows WeasyPrint.

It needs system libraries (Pango and friends) that pip can't bring, so that it is
imported only when a document is asked for, and what is missing is named with the
line that mends it; everything else in the house works without it. Rendering is
sealed: nothing is fetched from disk or net. What a page shows (a picture, a
drawing) stands in the HTML as inline SVG or a ``data:`` address.
"""

import ctypes.util
import platform
from functools import cache
from typing import Any

PANGO = ("gobject-2.0", "pango-1.0", "pangoft2-1.0", "harfbuzz", "fontconfig")
"""The libraries without which WeasyPrint can't be imported."""

CURES = {
    "debian": "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 "
    "libharfbuzz-subset0",
    "fedora": "sudo dnf install pango",
    "macos": "brew install pango",
}


class PdfUnavailable(RuntimeError):
    """This machine lacks libraries; the sentence names them and the cure."""


def missing_libraries() -> tuple[str, ...]:
    """Which of the needed system libraries are absent; empty if PDFs will work."""
    return tuple(name for name in PANGO if not ctypes.util.find_library(name))


def cure() -> str:
    """The one line that installs what is missing, for this kind of system."""
    if platform.system() == "Darwin":
        return CURES["macos"]
    try:
        release = platform.freedesktop_os_release()
    except OSError:
        release = {}
    kin = f"{release.get('ID', '')} {release.get('ID_LIKE', '')}".split()
    return CURES["fedora" if {"fedora", "rhel"} & set(kin) else "debian"]


def _weasyprint() -> Any:
    try:
        import weasyprint  # late on purpose: the module says why
    except (ImportError, OSError) as fault:
        absent = ", ".join(missing_libraries()) or str(fault)
        raise PdfUnavailable(
            f"PDFs can't be made here: {absent} missing. Install with: {cure()}. "
            "Everything else works."
        ) from fault
    return weasyprint


@cache
def _fonts() -> Any:
    """One font set-up a process: a new one per document is slower and is not given
    back (70 to 140 MB within 200 documents)."""
    return _weasyprint().text.fonts.FontConfiguration()


def render(
    html: str,
    *,
    css: str = "",
    title: str,
    lang: str = "en",
    identifier: bytes | None = None,
    **options: Any,
) -> bytes:
    """Render one document.

    ``html``: a whole page or a fragment; SVG inline, pictures as ``data:``.
    ``css``: the text of the style sheet (read the file yourself, pass its text).
    ``title``: shown by PDF viewers; ``lang``: BCP 47, for hyphenation and readers.
    ``identifier``: fixes the file's identifier, so that the same input on the same
    versions gives the same bytes. ``options``: WeasyPrint's own, e.g. ``pdf_variant``,
    ``attachments``. The PDF is tagged, so that a screen reader can follow it.

    Raises PdfUnavailable where the system libraries are missing. A resource that
    isn't a ``data:`` address is never fetched; it is left out.
    """
    weasyprint = _weasyprint()
    sealed = weasyprint.urls.URLFetcher(
        allowed_protocols=("data",), allow_redirects=False
    )
    page = weasyprint.HTML(
        string=html, base_url="sealed:/", url_fetcher=sealed, media_type="print"
    )
    fonts = _fonts()
    sheets = (
        [weasyprint.CSS(string=css, url_fetcher=sealed, font_config=fonts)]
        if css
        else []
    )
    options = {"pdf_tags": True, **options}
    document = page.render(stylesheets=sheets, font_config=fonts, **options)
    document.metadata.title = title
    document.metadata.lang = document.metadata.lang or lang
    pdf: bytes = document.write_pdf(pdf_identifier=identifier, **options)
    return pdf
