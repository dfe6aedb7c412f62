"""Two hundred invoices, issued through the services, read back by independent readers.

    .venv/bin/python tests/benchmarks/read_back.py [COUNT]

In a fresh data folder: four practices in turn (registered in the United Kingdom, in
Germany in euros, unregistered, a small business with a tax number), documents of one to
twelve lines from a seeded generator: price modes, quantities, names with accents,
prepayments, credit notes, six languages. Each PDF is made from its snapshot and stored;
then factur-x takes the XML out (schema checked) and reads it, pypdf reads the page.
Number, dates, currency, parties, totals, tax and each line must be those of the
database's rows, and each figure of the XML must stand on the page.

The last measured table stands at the end of this file.
"""

import os
import random
import statistics
import sys
import tempfile
import time
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KINDS_OF_PRACTICE = {
    "GB registered": {},
    "DE registered": {
        "country": "DE",
        "currency": "EUR",
        "tax_regime": "DE",
        "tax_number": "DE123456789",
        "iban": "DE75512108001245126199",
    },
    "GB unregistered": {"tax_registered": False, "tax_number": ""},
    "DE small business": {
        "country": "DE",
        "currency": "EUR",
        "tax_regime": "DE",
        "tax_registered": False,
        "tax_number": "12/345/67890",
    },
}
NAMES = (
    *("Elspeth Ainslie", "Désirée Ćwiękała-O’Brien", "Þórunn Ægisdóttir & Sons"),
    *("Jürgen Weiß", "Şule Ğ. Öztürk", "Ŵyn <Farm> Ltd"),
)


def prepare(folder):
    sys.path.insert(0, str(ROOT))
    os.environ["CLENCHLINE_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "practice.settings"
    os.environ["CLENCHLINE_SECRET_KEY"] = "for one benchmark and no other use " * 2
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def draft_of(dice, practice, number):
    """One draft of the generator."""
    from billing.models import Invoice
    from billing.services.lines import NewLine, add_line, set_note
    from tests import factories

    language = dice.choice(["en", "de", "fr", "nl", "es", "it"])
    name = f"{dice.choice(NAMES)} {number}"
    client = factories.make_client(name=name, language=language)
    draft = Invoice.objects.create(
        client=client,
        currency=practice.currency,
        kind=dice.choice(["380", "380", "380", "386"]),
        prices_include_tax=dice.random() < 0.5,
    )
    for row in range(dice.randint(1, 12)):
        add_line(
            invoice=draft,
            by=None,
            line=NewLine(
                name=f"Étoile {row}: {dice.choice(['Full set', 'Bekappen', 'Ferrage'])}",
                unit_price=Decimal(dice.randint(1, 20_000)) / 100,
                quantity=Decimal(dice.choice(["1", "1", "2", "3", "1.5"])),
            ),
        )
    if dice.random() < 0.3:
        set_note(invoice=draft, by=None, note="Mind the gate. Straße, œuvre.")
    return draft, language


def checked(paper, language):
    """Reads one document back; how many figures were compared, and the times."""
    from billing.services import renditions
    from billing.words import words
    from tests.billing.reading import on_the_page, same_as_database

    paper.refresh_from_db()
    start = time.process_time()
    content = renditions.read(renditions.render(invoice=paper))
    took = time.process_time() - start
    found = same_as_database(paper, content)
    compared = 9 + 6 * len(found["BG-25"]) + on_the_page(content, words(language))
    return compared, took, len(content)


def main(count):
    from billing import pdf
    from billing.services.credit import credit_in_full
    from billing.services.invoices import issue_invoice
    from practice.models import Practice
    from tests import factories

    dice = random.Random(20261125)  # noqa: S311 - the same documents each time
    pdf.prewarm()
    day = date(2026, 1, 2)
    practice = factories.make_practice()
    plain = {
        field: getattr(practice, field)
        for field in ("country", "currency", "tax_regime", "tax_number", "iban")
    } | {"tax_registered": True}
    sys.stdout.write("| practice | documents | figures | kB | ms each |\n")
    sys.stdout.write("| --- | --- | --- | --- | --- |\n")
    for name, over in KINDS_OF_PRACTICE.items():
        Practice.objects.update(**{**plain, **over})
        practice.refresh_from_db()
        done = []
        while len(done) < count // len(KINDS_OF_PRACTICE):
            day += timedelta(days=dice.randint(0, 1))
            draft, language = draft_of(dice, practice, len(done))
            paper = issue_invoice(invoice=draft, by=None, today=day)
            done.append(checked(paper, language))
            if dice.random() < 0.2 and paper.kind == "380":
                note = credit_in_full(
                    invoice=paper, by=None, today=day, reason="Taken back"
                )
                done.append(checked(note, language))
        figures, took, size = zip(*done, strict=True)
        sys.stdout.write(
            f"| {name} | {len(done)} | {sum(figures)} | "
            f"{statistics.median(size) / 1000:.0f} | "
            f"{statistics.median(took) * 1000:.0f} |\n"
        )
        sys.stdout.flush()
    sys.stdout.write(f"all equal; load {os.getloadavg()[0]:.1f}\n")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        prepare(folder)
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)

# Last measured, 2026-11-25, two cores at a load of 15 from other programs ('ms each' is
# the processor's time to render and store one, by the median):
#
# | practice | documents | figures | kB | ms each |
# | --- | --- | --- | --- | --- |
# | GB registered | 50 | 3670 | 29 | 300 |
# | DE registered | 50 | 4051 | 32 | 305 |
# | GB unregistered | 50 | 4135 | 29 | 295 |
# | DE small business | 50 | 3933 | 30 | 267 |
#
# all equal: 15,789 figures of 200 documents.
