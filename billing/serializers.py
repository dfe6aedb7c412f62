"""What the API says and takes of money. Amounts are strings in the major unit."""

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from billing import money
from billing.models import (
    Allocation,
    ChargeItem,
    Invoice,
    InvoiceLine,
    LedgerEntry,
    Payment,
    Price,
)


@extend_schema_field(
    {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$", "examples": ["12.50"]}
)
class AmountField(serializers.Field[Decimal, str, str, Any]):
    """An amount: a string such as ``"12.50"``; numbers are refused, since a float
    would not be exact."""

    default_error_messages = {
        "text": "Send the amount as a string such as '12.50'.",
    }

    def to_representation(self, value: Decimal) -> str:
        return f"{value:.2f}" if value == round(value, 2) else f"{value.normalize():f}"

    def to_internal_value(self, data: str) -> Decimal:
        if not isinstance(data, str):
            self.fail("text")
        try:
            return money.read(data, "KWD")  # the most decimals; the service checks
        except money.BadAmount as fault:
            raise serializers.ValidationError(str(fault)) from fault


class LineSerializer(serializers.ModelSerializer[InvoiceLine]):
    """One line; ``share`` is the payer's percent of ``whole`` where it was shared."""

    unit_price = AmountField(read_only=True)
    amount = AmountField(read_only=True)
    net = AmountField(read_only=True)
    whole = AmountField(read_only=True, allow_null=True)

    class Meta:
        model = InvoiceLine
        fields = (
            *("position", "name", "note", "horse", "service_day", "quantity", "unit"),
            *("unit_price", "amount", "net", "share", "whole", "needs_price"),
            *("tax_category", "tax_percent", "tax_reason"),
        )


class InvoiceSerializer(serializers.ModelSerializer[Invoice]):
    """A document without its lines: a row of the list."""

    client_name = serializers.CharField(source="client.name", read_only=True)
    line_total = AmountField(read_only=True)
    tax_total = AmountField(read_only=True)
    total = AmountField(read_only=True)
    rounding = AmountField(read_only=True)
    due = AmountField(read_only=True)
    allocated = AmountField(read_only=True, help_text="paid so far")
    credited = AmountField(read_only=True)
    written_off = AmountField(read_only=True)
    open_amount = AmountField(
        read_only=True, help_text="due − paid − credited − written off"
    )

    class Meta:
        model = Invoice
        fields: tuple[str, ...] = (
            *("id", "kind", "state", "number", "client", "client_name", "visit"),
            *("corrects", "currency", "prices_include_tax", "issue_day", "due_day"),
            *("line_total", "tax_total", "total", "rounding", "due"),
            *("allocated", "credited", "written_off", "open_amount", "note"),
        )


class DocumentSerializer(InvoiceSerializer):
    """A document with its lines."""

    lines = LineSerializer(many=True, read_only=True)

    class Meta(InvoiceSerializer.Meta):
        fields = (*InvoiceSerializer.Meta.fields, "lines", "snapshot_sha256")


class ReasonSerializer(serializers.Serializer[Any]):
    """Why."""

    reason = serializers.CharField(max_length=300)


class CreditSerializer(ReasonSerializer):
    """What of an invoice is credited: some lines, an amount, or all that is left."""

    positions = serializers.ListField(
        child=serializers.IntegerField(min_value=1),
        required=False,
        min_length=1,
        max_length=1000,
        help_text="of lines, each credited whole",
    )
    amount = AmountField(required=False, help_text="tax included")
    key = serializers.UUIDField(
        required=False,
        help_text="made by the sender, needed for a part: sending the same "
        "one again is the same credit note",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        parts = [name for name in ("positions", "amount") if name in attrs]
        if len(parts) == 2:
            raise serializers.ValidationError(
                {"amount": "Send positions or an amount, not both."}
            )
        if parts and "key" not in attrs:
            raise serializers.ValidationError(
                {"key": "A part is credited under a key of yours (a UUID)."}
            )
        return attrs


class WriteOffSerializer(ReasonSerializer):
    """What is given up of an invoice."""

    key = serializers.UUIDField(help_text="sent again, it is the same write-off")
    amount = AmountField(required=False, help_text="without it, all that is open")


class RefundSerializer(ReasonSerializer):
    """Money paid back of what a payment has left."""

    key = serializers.UUIDField(help_text="sent again, it is the same refund")
    amount = AmountField()
    method = serializers.ChoiceField(choices=Payment.Method.choices)


class EntrySerializer(serializers.ModelSerializer[LedgerEntry]):
    """An entry of the ledger; above 0 the client owes more by it."""

    amount = AmountField(read_only=True)

    class Meta:
        model = LedgerEntry
        fields = (
            *("id", "kind", "client", "day", "currency", "amount", "invoice"),
            *("payment", "method", "reason", "key"),
        )


class PriceSerializer(serializers.ModelSerializer[Price]):
    """Another price of a charge: for a client, at a barn, in a season, over a period."""

    amount = AmountField(read_only=True)

    class Meta:
        model = Price
        fields = (
            *("amount", "client", "barn", "starts", "ends"),
            *("season_from", "season_to"),
        )


class ChargeSerializer(serializers.ModelSerializer[ChargeItem]):
    """One charge of the list with its usual price and its others."""

    price = AmountField(read_only=True, allow_null=True, help_text="null: not priced")
    prices = PriceSerializer(many=True, read_only=True)

    class Meta:
        model = ChargeItem
        fields = (
            *("id", "kind", "work", "name", "price", "includes_tax", "unit"),
            *("tax_class", "tax_code", "prices"),
        )


class AllocationSerializer(serializers.ModelSerializer[Allocation]):
    """How much of a payment pays which invoice."""

    number = serializers.CharField(source="invoice.number", read_only=True)
    amount = AmountField(read_only=True)

    class Meta:
        model = Allocation
        fields = ("invoice", "number", "amount")


class PaymentSerializer(serializers.ModelSerializer[Payment]):
    """A payment and what it pays now."""

    amount = AmountField(read_only=True)
    allocations = AllocationSerializer(many=True, read_only=True)

    class Meta:
        model = Payment
        fields = (
            *("id", "client", "day", "currency", "amount", "method", "reference"),
            *("note", "allocations"),
        )


class NewPaymentSerializer(serializers.Serializer[Any]):
    """A payment to record. ``key`` is a UUID made by the sender: sending the same one
    again is the same payment."""

    key = serializers.UUIDField()
    client = serializers.IntegerField(min_value=1)
    amount = AmountField()
    method = serializers.ChoiceField(choices=Payment.Method.choices)
    day = serializers.DateField()
    invoices = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        max_length=100,
        help_text="what it pays, in order; without it, what is due longest",
    )
    reference = serializers.CharField(max_length=80, required=False, allow_blank=True)
    note = serializers.CharField(max_length=200, required=False, allow_blank=True)
    receipt = serializers.BooleanField(
        required=False,
        help_text="mail the receipt; unsaid, as the practice usually does",
    )


class ListQuery(serializers.Serializer[Any]):
    """How the list of invoices is narrowed."""

    state = serializers.ChoiceField(
        choices=["draft", "open", "overdue"], required=False
    )
    client = serializers.IntegerField(min_value=1, max_value=2**63 - 1, required=False)
