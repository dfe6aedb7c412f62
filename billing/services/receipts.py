"""Receipts by mail: once a payment, for ever."""

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from billing import pdf
from billing.models import LedgerEntry, Payment
from billing.selectors.paper import logo_bytes, receipt_data, receipt_number
from billing.words.letters import receipt as receipt_letter
from practice import outbox
from practice.errors import Refused
from practice.models import Message, Practice


def receipt_key(payment: Payment) -> str:
    """The name of its mail in the outbox."""
    return f"receipt:{payment.pk}"


@transaction.atomic
def send_receipt(*, payment: Payment) -> Message:
    """Queues the mail with the payment's receipt, in the client's language. Asked
    again, it is the mail of the first time.

    Raises Refused where the client has no e-mail address, or the payment was taken out
    of the books.
    """
    client, practice = payment.client, Practice.objects.the_one()
    there = Message.objects.filter(key=receipt_key(payment)).first()
    if there is not None:
        return there
    if not client.email:
        raise Refused(
            f"{client.name} has no e-mail address: enter one on the client's page.",
            field="receipt",
        )
    _check_in_the_books(payment)
    about = {
        "practice": practice,
        "said": receipt_letter(
            practice.language_to(client),
            name=client.name,
            practice=practice.name,
            number=receipt_number(payment),
            amount=payment.amount,
            currency=payment.currency,
        ),
        "page": settings.SITE_URL + reverse("billing:my_account"),
        "has_sign_in": client.users.filter(is_active=True).exists(),
    }
    return outbox.queue_mail(
        kind="receipt",
        to=client.email,
        subject=render_to_string("mail/invoice/subject.txt", about),
        body=render_to_string("mail/invoice/body.txt", about),
        key=receipt_key(payment),
        attach=[("receipt", str(payment.pk))],
        client=client,
    )


def call_receipt_back(payment: Payment) -> None:
    """Lets the mail go that has not gone out, in the caller's transaction: the payment
    is taken out of the books."""
    waiting = Message.objects.filter(
        key=receipt_key(payment), state=Message.State.READY
    )
    waiting.update(
        state=Message.State.LET_GO,
        answer="the payment was taken out of the books",
        changed_at=timezone.now(),
    )


def attachment(key: str) -> tuple[str, bytes, str]:
    """The outbox's provider: file name, bytes and media type of a receipt, from the
    books as they stand."""
    payment = Payment.objects.select_related("client").get(pk=key)
    _check_in_the_books(payment)
    data = receipt_data(payment)
    content = pdf.receipt_pdf(data, logo=logo_bytes(data["logo"]))
    return f"receipt-{data['number']}.pdf", content, "application/pdf"


def _check_in_the_books(payment: Payment) -> None:
    out = payment.entries.filter(kind=LedgerEntry.Kind.PAYMENT, reverses__isnull=False)
    if out.exists():
        raise Refused("This payment was taken out of the books: it has no receipt.")
