"""HTML in, PDF bytes out: the one place that knows WeasyPrint.

It needs system libraries (Pango and friends) that pip can't bring, so that it is
imported only when a document is asked for, and what is missing is named with the
line that mends it; everything else in the house works without it. Rendering is
sealed: nothing is fetched from disk or net. What a page shows (a picture, a
drawing) stands in the HTML as inline SVG or a ``data:`` address; the house's own
fonts have the addresses ``asset:regular`` and ``asset:bold``.

``Archival`` makes a file for keeping: PDF/A-3u (ISO 19005-3), with an e-invoice in it
where there is one. Three things that WeasyPrint 70 leaves are mended there: additions
to the XMP get an ``rdf:RDF`` of their own, an attached file stands twice in ``/AF``,
and its ``/EF`` lacks ``/UF``.
"""

import atexit
import ctypes.util
import io
import platform
import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from functools import cache, lru_cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

PANGO = ("gobject-2.0", "pango-1.0", "pangoft2-1.0", "harfbuzz", "fontconfig")
"""The libraries without which WeasyPrint can't be imported."""

CURES = {
    "debian": "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 "
    "libharfbuzz-subset0",
    "fedora": "sudo dnf install pango",
    "macos": "brew install pango",
}

FAMILY = "Clenchline Sans"
_FONTS = Path(__file__).parent / "fonts"
_ASSETS = {
    "asset:regular": _FONTS / "ClenchlineSans-Regular.ttf",
    "asset:bold": _FONTS / "ClenchlineSans-Bold.ttf",
}
FONT_FACES = "".join(
    f'@font-face {{ font-family: "{FAMILY}"; src: url({address}); '
    f"font-weight: {weight}; }}\n"
    for address, weight in (("asset:regular", 400), ("asset:bold", 700))
)
"""Put it before a style sheet that uses the house's fonts."""

LACKING = "[?]"
"""What a document shows for a character that the house's fonts don't have."""


class PdfUnavailable(RuntimeError):
    """This machine lacks libraries; the sentence names them and the cure."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file in the PDF. ``relationship``: to the pages (ISO 19005-3, 6.8)."""

    name: str
    content: bytes
    description: str
    relationship: str = "Alternative"


@dataclass(frozen=True, slots=True)
class Archival:
    """What a PDF/A-3u says beside its pages.

    ``made``: the date that it bears, in UTC; fixed, so that the bytes are.
    ``author``: who issued it. ``xmp``: ``rdf:Description`` elements to add.
    """

    made: datetime
    author: str = ""
    attached: Attached | None = None
    xmp: str = ""


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


# ---- What a process keeps -----------------------------------------------------------
@cache
def _fonts() -> Any:
    """One font set-up a process: a new one per document is slower and is not given
    back (70 to 140 MB within 200 documents)."""
    atexit.register(_let_go)
    return _weasyprint().text.fonts.FontConfiguration()


def _let_go() -> None:
    """The set-up's folder of fonts goes while there is an interpreter to remove it."""
    _sheet.cache_clear()
    _fonts.cache_clear()


@cache
def _sealed() -> Any:
    """A fetcher that knows ``data:`` and our own assets, and nothing else."""
    urls = _weasyprint().urls
    fetcher: Any = urls.URLFetcher

    class Sealed(fetcher):  # type: ignore[misc]  # WeasyPrint has no types
        def fetch(self, url: str, headers: Any = None) -> Any:
            if url in _ASSETS:
                return urls.URLFetcherResponse(
                    url, _ASSETS[url].read_bytes(), {"Content-Type": "font/ttf"}
                )
            return super().fetch(url, headers)

    return Sealed(allowed_protocols=("data",), allow_redirects=False)


@cache
def _profile() -> Any:
    """The output intent (sRGB) as the bytes of its file, read once. WeasyPrint opens
    the file for each document and leaves it to be closed by chance; and it writes the
    profile anew, in other bytes once its name was asked for."""
    weasyprint = _weasyprint()
    file = resources.files(weasyprint.pdf) / "sRGB2014.icc"
    raw = file.read_bytes()

    usual: Any = weasyprint.css.ColorProfile

    class Profile(usual):  # type: ignore[misc]  # WeasyPrint has no types
        content = raw

    parts = (["r"], ["g"], ["b"])
    return Profile(io.BytesIO(raw), file.name, "relative-colorimetric", parts)


@lru_cache(maxsize=64)
def _sheet(css: str) -> Any:
    """A style sheet, read once a process: there are a handful."""
    return _weasyprint().CSS(string=css, url_fetcher=_sealed(), font_config=_fonts())


def prewarm(*sheets: str) -> None:
    """Loads libraries, fonts and style sheets, so that the first document is as quick
    as the next.

    Call it after a fork: what Pango keeps is not to be shared by processes.
    """
    words = "".join(map(chr, range(0x21, 0x7F)))
    html = f"<p>{words.replace('<', '').replace('&', '')} <b>Aa0</b></p>"
    css = f'{FONT_FACES} html {{ font-family: "{FAMILY}"; }}'
    warm = Archival(made=datetime(2000, 1, 1))  # noqa: DTZ001 - in UTC, as it says
    for sheet in sheets or (css,):
        render(html, css=sheet, title="warm", archival=warm)


# ---- Characters ---------------------------------------------------------------------
@cache
def _drawn() -> frozenset[int]:
    """The characters that both of the house's fonts have."""
    from fontTools.ttLib import TTFont  # comes with WeasyPrint, and is slow to load

    known = []
    for path in _ASSETS.values():
        with TTFont(path) as font:
            known.append(set(font.getBestCmap()))
    return frozenset.intersection(*map(frozenset, known))


_BREAKS = frozenset("\n\r\t")
_PLAIN = re.compile("[\n\r\t -~\xa0-\u017f]*")
"""Latin, Latin-1 and Latin Extended-A, which both fonts have whole (a test looks)."""


def undrawn(text: str) -> str:
    """The characters of ``text`` that a document can't show, each once, in order."""
    text = unicodedata.normalize("NFC", text)
    if _PLAIN.fullmatch(text):  # nearly always: the fonts need no reading then
        return ""
    known = _drawn()
    lacking = (
        sign
        for sign in text
        if sign not in _BREAKS and ord(sign) not in known and not _near(sign)
    )
    return "".join(dict.fromkeys(lacking))


def drawn(text: str) -> str:
    """``text`` in characters that a document can show: a sign of the same meaning
    where there is one (ﬁ → fi), else ``LACKING``, which can be seen."""
    text = unicodedata.normalize("NFC", text)
    if _PLAIN.fullmatch(text):
        return text
    known = _drawn()
    return "".join(
        sign if ord(sign) in known or sign in _BREAKS else _near(sign) or LACKING
        for sign in text
    )


def _near(sign: str) -> str:
    if sign == "\N{NON-BREAKING HYPHEN}":
        return "-"
    like = unicodedata.normalize("NFKC", sign)
    if like == sign or any(ord(part) not in _drawn() for part in like):
        return ""
    return like


# ---- Rendering ----------------------------------------------------------------------
def render(
    html: str,
    *,
    css: str = "",
    title: str,
    lang: str = "en",
    identifier: bytes | None = None,
    archival: Archival | None = None,
    **options: Any,
) -> bytes:
    """Render one document.

    ``html``: a whole page or a fragment; SVG inline, pictures as ``data:``.
    ``css``: the text of the style sheet (read the file yourself, pass its text).
    ``title``: shown by PDF viewers; ``lang``: BCP 47, for hyphenation and readers.
    ``identifier``: fixes the file's identifier, so that the same input on the same
    versions gives the same bytes. ``archival``: makes it a PDF/A-3u. ``options``:
    WeasyPrint's own. The PDF is tagged, so that a screen reader can follow it.

    Raises PdfUnavailable where the system libraries are missing. A resource that
    is neither a ``data:`` address nor one of our assets is never fetched; it is left
    out.
    """
    weasyprint = _weasyprint()
    page = weasyprint.HTML(
        string=html, base_url="sealed:/", url_fetcher=_sealed(), media_type="print"
    )
    options = {"pdf_tags": True, **options}
    finisher, profiles = None, {}
    if archival is not None:
        options |= {
            "pdf_variant": "pdf/a-3u",
            "output_intent": _INTENT,
            "attachments": _attachments(archival),
        }
        finisher, profiles = partial(_finished, archival), {_INTENT: _profile()}
    document = page.render(
        stylesheets=[_sheet(css)] if css else [],
        font_config=_fonts(),
        color_profiles=profiles,
        **options,
    )
    document.metadata.title = title
    document.metadata.lang = document.metadata.lang or lang
    if archival is not None:
        made = archival.made.strftime("%Y-%m-%dT%H:%M:%SZ")
        document.metadata.created = document.metadata.modified = made
        document.metadata.authors = [archival.author] if archival.author else []
    pdf: bytes = document.write_pdf(
        finisher=finisher, pdf_identifier=identifier, **options
    )
    return pdf


def _attachments(archival: Archival) -> list[Any]:
    attached = archival.attached
    if attached is None:
        return []
    made = _weasyprint().Attachment(
        string=attached.content,
        name=attached.name,
        description=attached.description,
        created=archival.made,
        modified=archival.made,
        relationship=attached.relationship,
        url_fetcher=_sealed(),
    )
    return [made]


_INTENT = "house-srgb"
_END = b"</rdf:RDF>"


def _finished(archival: Archival, document: Any, pdf: Any) -> None:
    """The three mends that the module's head names."""
    metadata = pdf.objects[int(pdf.catalog["Metadata"].split()[0])]
    (xmp,) = metadata.stream
    head, end, tail = xmp.rpartition(_END)
    metadata.stream = [head + archival.xmp.encode() + end + tail]
    metadata.compress = False  # plain, so that a reader without filters finds it
    if "AF" in pdf.catalog:
        once = list(dict.fromkeys(pdf.catalog["AF"]))
        pdf.catalog["AF"][:] = once
    for item in pdf.objects:
        if isinstance(item, dict) and item.get("Type") == "/Filespec":
            item["EF"]["UF"] = item["EF"]["F"]
