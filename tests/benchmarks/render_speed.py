"""How long an invoice takes, against the bare WeasyPrint document of the same page.

    .venv/bin/python tests/benchmarks/render_speed.py

Both in one process, prewarmed, turn by turn; processor time of this process, medians
of 40. 'Bare' is ``weasyprint.HTML(html).write_pdf`` with the same HTML, style sheet and
font set-up, without PDF/A, XML, code or our reading of the snapshot. The page: six
lines, transfer code, link.

Last measured, 2026-11-25, on two cores that eight other programs used too (so the
milliseconds are those of a busy machine; the ratio is what counts):

| load | bare, ms | invoice, ms | ratio | first invoice, ms |
| --- | --- | --- | --- | --- |
| 10.4 | 193 | 192 | 0.99 | 442 |
| 13.5 | 218 | 220 | 1.01 | 425 |

The sheet is read once a process here and at each document there, which pays for the
XML, the archive form and the code. The first invoice is slower than the next in spite
of the warming.
"""

import os
import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django  # noqa: E402

django.setup()

import weasyprint  # noqa: E402
from django.template.loader import render_to_string  # noqa: E402

from billing import pdf  # noqa: E402
from billing.pdf.parts import css_of  # noqa: E402
from practice import pdf as press  # noqa: E402
from tests.snapshots import EUROS, line, snapshot  # noqa: E402

TIMES = 40
PAPER = snapshot(
    [line(f"Horse {n}: Vollbeschlag", rate="19") for n in range(6)],
    language="de",
    **{
        **EUROS,
        "payment": {**EUROS["payment"], "link": "https://pay.example.org/INV-00017"},
    },
)


def bare(html, css):
    fonts, sealed = press._fonts(), press._sealed()
    sheet = weasyprint.CSS(string=css, font_config=fonts, url_fetcher=sealed)
    page = weasyprint.HTML(string=html, base_url="sealed:/", url_fetcher=sealed)
    return page.write_pdf(
        stylesheets=[sheet], font_config=fonts, pdf_tags=True, pdf_identifier=b"x" * 16
    )


def timed(work):
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1000


def main():
    started = time.process_time()
    pdf.prewarm()
    warming = time.process_time() - started
    doc = pdf.said(PAPER)
    html = render_to_string("pdf/invoice.html", {"doc": doc, "w": doc["words"]})
    css = css_of("A4", "de")
    ours, plain = [], []
    first = timed(lambda: pdf.invoice_pdf(PAPER, identifier=b"x" * 16))
    for _ in range(TIMES):
        plain.append(timed(lambda: bare(html, css)))
        ours.append(timed(lambda: pdf.invoice_pdf(PAPER, identifier=b"x" * 16)))
    ratio = statistics.median(ours) / statistics.median(plain)
    load = os.getloadavg()[0]
    sys.stdout.write(
        f"load {load:.1f}; prewarm {warming:.2f} s; first invoice {first:.0f} ms\n"
        f"bare {statistics.median(plain):.0f} ms, invoice "
        f"{statistics.median(ours):.0f} ms, ratio {ratio:.2f} (at most 1.25)\n"
    )
    return 0 if ratio <= 1.25 else 1


if __name__ == "__main__":
    sys.exit(main())
