"""What is agreed with one client, and for one barn."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from billing.models import BarnTerms, ClientTerms
from billing.services.keeping import put
from billing.services.totals import retax_drafts
from practice.errors import Refused
from practice.models import Barn, Client, User

TAX = ("treatment", "exempt_number", "exempt_until")
"""What of a client's terms the tax of the drafts goes by."""


@transaction.atomic
def set_client_terms(
    *, client: Client, by: User | None, wish: Mapping[str, Any]
) -> bool:
    """Sets how a client is billed; whether anything changed. Drafts follow where the
    tax does.

    Raises Refused for an exemption without certificate or expiry, a reverse charge
    without the client's VAT number, a discount without reason: naming the field.
    """
    client = Client.objects.select_for_update().get(pk=client.pk)
    treatment = wish.get("treatment", "")
    if treatment == ClientTerms.Treatment.EXEMPT:
        if not wish.get("exempt_number"):
            raise Refused("Enter the certificate's number.", field="exempt_number")
        if not wish.get("exempt_until"):
            raise Refused("Enter its last day.", field="exempt_until")
    if treatment == ClientTerms.Treatment.REVERSE and not client.tax_number:
        raise Refused(
            "A reverse charge names the client's VAT number: enter it on the client's "
            "page first.",
            field="treatment",
        )
    percent = wish.get("discount_percent")
    if percent is not None:
        if not 0 < percent <= 100:
            raise Refused("Above 0 and at most 100.", field="discount_percent")
        if not wish.get("discount_reason"):
            raise Refused("Say why: the invoice shows it.", field="discount_reason")
    row = ClientTerms.objects.filter(client=client).first()
    row = row or ClientTerms(client=client)
    taxed = [getattr(row, name) for name in TAX]
    is_changed = put(row=row, fields=wish, by=by, action="terms set")
    if [getattr(row, name) for name in TAX] != taxed:
        retax_drafts(client=client)
    return is_changed


@transaction.atomic
def set_barn_terms(*, barn: Barn, by: User | None, wish: Mapping[str, Any]) -> bool:
    """Sets how visits at a barn are billed; whether anything changed.

    Raises Refused for a period that ends before it begins.
    """
    barn = Barn.objects.select_for_update(of=("self",)).get(pk=barn.pk)
    starts, ends = wish.get("payer_from"), wish.get("payer_to")
    if starts and ends and ends < starts:
        raise Refused("It ends before it begins.", field="payer_to")
    row = BarnTerms.objects.filter(barn=barn).first() or BarnTerms(barn=barn)
    return put(row=row, fields=wish, by=by, action="terms set")
