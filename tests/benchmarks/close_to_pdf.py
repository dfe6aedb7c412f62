"""From 'close' to five stored PDFs: twelve horses, five payers, the embedded default.

    .venv/bin/python tests/benchmarks/close_to_pdf.py [TIMES]

In a fresh data folder on SQLite with the program's own settings: a visit of twelve
horses (one co-owned 60/40), then, timed: closing it (records locked, invoices drafted),
issuing all, and the outbox's jobs that render and store the five PDFs. One process,
prewarmed; by the clock and by the processor, since the clock also counts what other
programs take of a shared machine.

Last measured, 2026-11-25, on two cores with little else running, five times: median 1.68 s
by the clock, 1.64 s of the processor; closed and issued after 0.37 s. At a load of 10.5
from other programs it was 3.44 s by the clock.
"""

import os
import statistics
import sys
import tempfile
import time
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def prepare(folder):
    sys.path.insert(0, str(ROOT))
    os.environ["CLENCHLINE_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "practice.settings"
    os.environ["CLENCHLINE_SECRET_KEY"] = "for one benchmark and no other use " * 2
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    settings.OUTBOX_BELL = ""  # the jobs are done here, where they are timed
    call_command("migrate", verbosity=0)


def visit_of(head, work, clients):
    """Twelve horses of one barn, five payers."""
    from tests import factories

    barn = factories.make_barn()
    horses = [
        factories.make_horse(barn=barn, owner=clients[n % 5], usual_work=work)
        for n in range(11)
    ]
    shares = {clients[0]: Decimal(60), clients[1]: Decimal(40)}
    horses.append(factories.make_horse(barn=barn, shares=shares, usual_work=work))
    return factories.make_visit(horses=horses, farrier=head)


def once(head, work, clients):
    from django.utils import timezone

    from billing.models import Rendition
    from billing.services.invoices import issue_all
    from billing.services.visits import close_visit
    from practice import outbox
    from practice.models import Message

    visit = visit_of(head, work, clients)
    Message.objects.update(state=Message.State.SENT)
    before = Rendition.objects.count()
    clock, cpu = time.perf_counter(), time.process_time()
    close_visit(visit=visit, by=head)
    issue_all(visit=visit, by=head, today=timezone.localdate())
    drafted = time.perf_counter() - clock
    outbox.drain()
    took = time.perf_counter() - clock, time.process_time() - cpu, drafted
    assert Rendition.objects.count() - before == 5
    return took


def main(times):
    from billing import pdf
    from billing.models import ChargeItem
    from billing.services.charges import propose_charge_list
    from tests import factories

    practice = factories.make_practice(email="")
    head = factories.make_user("farrier", runs_practice=True)
    work = factories.make_work()
    propose_charge_list(practice=practice)
    ChargeItem.objects.filter(work=work).update(price=Decimal(95))
    ChargeItem.objects.filter(kind="call_out").update(price=Decimal(45))
    clients = [factories.make_client(email="") for _ in range(5)]
    pdf.prewarm()
    took = [once(head, work, clients) for _ in range(times)]
    clock, cpu, drafted = (
        statistics.median(column) for column in zip(*took, strict=True)
    )
    sys.stdout.write(
        f"load {os.getloadavg()[0]:.1f}; first {took[0][0]:.2f} s; median of {times}: "
        f"{clock:.2f} s by the clock, {cpu:.2f} s of the processor; "
        f"closed and issued after {drafted:.2f} s\n"
    )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        prepare(folder)
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
