"""Drafting: one invoice per payer of a closed visit, from the charge list."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db import transaction

from billing import money
from billing.models import ChargeItem, Invoice, InvoiceLine
from billing.selectors import charge_list, is_proposed, payers_on
from billing.services.charges import propose_charge_list
from billing.services.lines import lacks_rate, put_nets, put_tax, refresh_totals
from billing.split import split
from horses.models import Visit, VisitRecord
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change

_MISSING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Charge:
    """One amount to be shared between the payers of a visit.

    ``parts``: client → part of the whole; ``note`` says how it was shared, with
    ``{part}`` for the payer's own.
    """

    name: str
    price: Decimal | None
    tax_code: str
    parts: dict[int, Fraction]
    note: str
    item: ChargeItem | None = None
    record: VisitRecord | None = None


# ---- Drafting ---------------------------------------------------------------------
@transaction.atomic
def draft_invoices(*, visit: Visit, by: User | None) -> list[Invoice]:
    """One draft per payer of a closed visit, from the charge list of today.

    The agreed price of a horse wins over the charge list; a co-owned horse is billed
    by the shares of the visit's day; a payer of the horse and day wins over the
    owners; the call-out is split by horse, a co-owned horse's part by share. Safe to
    repeat: a payer who has a document for this visit, even a discarded one, gets no
    second one.

    Returns:
        all documents of the visit that stand, new or not.

    Raises:
        Refused: the visit is still open, or a horse has neither owner nor payer.
    """
    visit = Visit.objects.select_for_update().get(pk=visit.pk)
    if not visit.is_closed:
        raise Refused("Close the visit first: an open one may still change.")
    if visit.kind != Visit.Kind.BROUGHT_IN:
        practice = Practice.objects.the_one()
        if not is_proposed(practice):
            propose_charge_list(practice=practice)
        charges = _charges_of(visit)
        payers = sorted({payer for charge in charges for payer in charge.parts})
        for client in Client.objects.filter(pk__in=payers):
            _draft_for(client, visit, charges, practice, by)
    return list(
        Invoice.objects.filter(visit=visit).exclude(state=Invoice.State.DISCARDED)
    )


def _charges_of(visit: Visit) -> list[Charge]:
    records = list(
        visit.records.select_related("horse", "work").order_by("horse__name", "pk")
    )
    parts = payers_on([record.horse for record in records], visit.day)
    for record in records:
        if record.horse_id not in parts:
            raise Refused(
                f"{record.horse.name} had no owner and no payer on "
                f"{visit.day:%-d %B %Y}: add one on the horse's page, then try again."
            )
    items = charge_list()
    if visit.kind == Visit.Kind.ATTENDED:
        by_work = {item.work_id: item for item in items if item.work_id}
        charges = [
            _work_charge(record, by_work, parts[record.horse_id]) for record in records
        ]
        wanted = [i for i in items if i.kind == ChargeItem.Kind.CALL_OUT]
    else:
        charges = []
        wanted = [i for i in items if i.work and i.work.kind == visit.kind]
    return charges + [
        _shared_charge(item, [parts[record.horse_id] for record in records])
        for item in wanted
        if item.price
    ]


def _work_charge(
    record: VisitRecord, items: dict[int, ChargeItem], parts: dict[int, Fraction]
) -> Charge:
    horse = record.horse
    work = record.work_id or horse.usual_work_id
    item = items.get(work or 0)
    is_usual = horse.usual_work_id is None or work == horse.usual_work_id
    is_agreed = horse.agreed_price is not None and is_usual
    named = item.name if item else (horse.usual_work_note or "Work")
    return Charge(
        name=f"{horse.name}: {named}",
        price=horse.agreed_price if is_agreed else (item.price if item else None),
        tax_code=item.tax_code if item else "",
        parts=parts,
        note="{part} share" if len(parts) > 1 else "",
        item=item,
        record=record,
    )


def _shared_charge(item: ChargeItem, horses: Sequence[dict[int, Fraction]]) -> Charge:
    parts: dict[int, Fraction] = {}
    for horse in horses:
        for client, part in horse.items():
            parts[client] = parts.get(client, Fraction(0)) + part / len(horses)
    return Charge(
        name=item.name,
        price=item.price,
        tax_code=item.tax_code,
        parts=parts,
        note=f"{{part}}, shared by the {len(horses)} horses of the visit"
        if len(parts) > 1
        else "",
        item=item,
    )


def _draft_for(
    client: Client,
    visit: Visit,
    charges: Sequence[Charge],
    practice: Practice,
    by: User | None,
) -> None:
    invoice, is_new = Invoice.objects.get_or_create(
        draft_key=f"{visit.pk}:{client.pk}",
        defaults={
            "client": client,
            "visit": visit,
            "currency": practice.currency,
            "prices_include_tax": practice.prices_include_tax,
        },
    )
    if not is_new:
        return
    lines = _lines_of(client, visit, charges, practice)
    for position, line in enumerate(lines, 1):
        line.invoice, line.position = invoice, position
    InvoiceLine.objects.bulk_create(put_nets(invoice, list(lines)))
    refresh_totals(invoice=invoice)
    note_change(by=by, obj=invoice, action="drafted", after={"visit": str(visit.pk)})


def _lines_of(
    client: Client, visit: Visit, charges: Sequence[Charge], practice: Practice
) -> Sequence[InvoiceLine]:
    decimals = money.exponent(practice.currency)
    return [
        _line(charge, client, visit, practice, decimals)
        for charge in charges
        if client.pk in charge.parts
    ]


def _line(
    charge: Charge, client: Client, visit: Visit, practice: Practice, decimals: int
) -> InvoiceLine:
    whole = money.rounded(charge.price or _MISSING, decimals)
    # Keys as long as each other, so that a tie goes to the client known for longer.
    weights = {f"{key:012}": part for key, part in charge.parts.items()}
    amount = split(whole, weights, decimals=decimals)[f"{client.pk:012}"]
    part = charge.parts[client.pk]
    is_shared = len(charge.parts) > 1
    percent = round(Decimal(part.numerator * 100) / part.denominator, 4)
    shown = (
        f"{percent.normalize():f} %" if percent == percent // 1 else f"{percent:.2f} %"
    )
    line = InvoiceLine(
        charge_item=charge.item,
        visit=visit,
        record=charge.record,
        horse=charge.record.horse if charge.record else None,
        name=charge.name[:200],
        note=charge.note.format(part=shown) if is_shared else "",
        service_day=visit.day,
        unit_price=amount,
        share=percent if is_shared else None,
        whole=whole if is_shared else None,
    )
    put_tax(line, practice, charge.tax_code)
    line.needs_price = charge.price is None or lacks_rate(line)
    return line
