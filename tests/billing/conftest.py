"""What billing's tests share."""

from decimal import Decimal

import pytest

from billing.models import ChargeItem
from billing.services.charges import propose_charge_list


@pytest.fixture
def priced(practice):
    """``priced(work, "95.00")``: the charge list with this price for this work; a
    call-out too with ``priced(call_out="45.00")``."""

    def set_price(work=None, price=None, *, call_out=None, tax_code="standard"):
        propose_charge_list(practice=practice)
        if work is not None:
            ChargeItem.objects.filter(work=work).update(
                price=Decimal(price), tax_code=tax_code
            )
        if call_out is not None:
            ChargeItem.objects.filter(kind="call_out").update(price=Decimal(call_out))

    return set_price
