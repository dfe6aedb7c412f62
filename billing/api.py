"""The API of money: invoices, payments, and closing a visit."""

from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import (
    OpenApiParameter,
    OpenApiResponse,
    extend_schema,
)
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from billing.models import ChargeItem, Invoice, LedgerEntry, Payment
from billing.selectors import charge_list, document_rows, invoice_list, payment_list
from billing.serializers import (
    ChargeSerializer,
    CreditSerializer,
    DocumentSerializer,
    EntrySerializer,
    InvoiceSerializer,
    ListQuery,
    NewPaymentSerializer,
    PaymentSerializer,
    RefundSerializer,
    WriteOffSerializer,
)
from billing.services.collecting import collecting
from billing.services.credit import credit_amount, credit_in_full, credit_lines
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_invoice
from billing.services.ledger import write_off
from billing.services.payments import pay_back, record_payment
from billing.services.visits import close_visit
from billing.views.invoices import pdf_answer
from billing.views.paper import receipt_answer, xml_answer
from horses.models import Visit
from practice import access
from practice.api.base import Resource, asked
from practice.api.schema import PROBLEM
from practice.errors import Refused
from practice.models import Client

_PROBLEM = {"$ref": "#/components/schemas/Problem"}
_REFUSED: dict[Any, Any] = {
    (422, PROBLEM): OpenApiResponse(_PROBLEM, description="Refused: says what mends it")
}
BOOKS_OR_OWNER = access.BOOKS | access.OWNER


class Invoices(Resource[Invoice]):
    """Invoices and credit notes. An owner sees the own issued ones."""

    permission_classes = [access.api_door(BOOKS_OR_OWNER, write=access.BOOKS)]
    serializer_class = InvoiceSerializer

    def get_queryset(self) -> Any:
        return document_rows(self.viewer)

    @extend_schema(
        summary="List invoices",
        parameters=[ListQuery],
        responses={200: InvoiceSerializer(many=True), **_REFUSED},
    )
    def list(self, request: Request) -> Response:
        """Newest first; ``state`` is draft, open or overdue."""
        query = ListQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        rows = invoice_list(
            self.member,
            state=query.validated_data.get("state", ""),
            client=query.validated_data.get("client"),
            today=timezone.localdate(),
        )
        return self.paged(rows)

    @extend_schema(summary="One invoice", responses=DocumentSerializer)
    def retrieve(self, request: Request, pk: UUID) -> Response:
        """With its lines."""
        return self.told(self.one(), DocumentSerializer)

    @extend_schema(
        summary="The issued PDF",
        responses={(200, "application/pdf"): OpenApiTypes.BINARY, **_REFUSED},
    )
    def pdf(self, request: Request, pk: UUID) -> HttpResponse:
        """The stored bytes, always the same."""
        return pdf_answer(self.one())

    @extend_schema(
        summary="The issued document as an e-invoice",
        parameters=[
            OpenApiParameter(
                "kind",
                location=OpenApiParameter.PATH,
                enum=["cii", "ubl"],
                description="UN/CEFACT CII or OASIS UBL 2.1, both by EN 16931",
            )
        ],
        responses={(200, "application/xml"): OpenApiTypes.BINARY, **_REFUSED},
    )
    def xml(self, request: Request, pk: UUID, kind: str) -> HttpResponse:
        """The stored XML, always the same; refused where there can be none."""
        return xml_answer(self.one(), kind)

    @extend_schema(
        summary="Issue a draft",
        request=None,
        responses={200: DocumentSerializer, **_REFUSED},
    )
    def issue(self, request: Request, pk: UUID) -> Response:
        """Gives it its number and queues PDF and mail; repeating changes nothing."""
        issue_invoice(invoice=self.one(), by=self.member, today=timezone.localdate())
        return self.told(self.one(), DocumentSerializer)

    @extend_schema(
        summary="Credit an invoice, or a part of it",
        request=CreditSerializer,
        responses={201: DocumentSerializer},
    )
    def credit(self, request: Request, pk: UUID) -> Response:
        """Issues a credit note over all that is left, over lines, or over an amount;
        repeating returns the same one."""
        body = asked(request, CreditSerializer)
        told: dict[str, Any] = {
            "invoice": self.one(),
            "by": self.member,
            "today": timezone.localdate(),
            "reason": body["reason"],
        }
        if "positions" in body:
            made = credit_lines(**told, positions=body["positions"], key=body["key"])
        elif "amount" in body:
            made = credit_amount(**told, amount=body["amount"], key=body["key"])
        else:
            made = credit_in_full(**told)
        row = self.get_queryset().get(pk=made.pk)
        return self.told(row, DocumentSerializer, code=status.HTTP_201_CREATED)

    @extend_schema(
        summary="Write off what is open, or a part",
        request=WriteOffSerializer,
        responses={201: EntrySerializer, 200: EntrySerializer},
    )
    def write_off(self, request: Request, pk: UUID) -> Response:
        """201 for a new one, 200 if the key was sent before."""
        body = asked(request, WriteOffSerializer)
        code = _code(body["key"])
        made = write_off(
            invoice=self.one(), by=self.member, today=timezone.localdate(), **body
        )
        return self.told(made, EntrySerializer, code=code)


class Payments(Resource[Payment]):
    """Payments. An owner sees the own ones."""

    permission_classes = [access.api_door(BOOKS_OR_OWNER, write=access.BOOKS)]
    serializer_class = PaymentSerializer

    def get_queryset(self) -> Any:
        return payment_list(self.viewer).prefetch_related("allocations__invoice")

    @extend_schema(summary="List payments")
    def list(self, request: Request) -> Response:
        """Newest first."""
        return self.paged(self.get_queryset())

    @extend_schema(
        summary="A receipt for a payment",
        responses={(200, "application/pdf"): OpenApiTypes.BINARY, **_REFUSED},
    )
    def receipt(self, request: Request, pk: UUID) -> HttpResponse:
        """A PDF from the books as they stand; it is not kept."""
        return receipt_answer(self.one())

    @extend_schema(summary="One payment")
    def retrieve(self, request: Request, pk: UUID) -> Response:
        """With what it pays."""
        return self.told(self.one())

    @extend_schema(
        summary="Record a payment",
        request=NewPaymentSerializer,
        responses={201: PaymentSerializer, 200: PaymentSerializer},
    )
    def create(self, request: Request) -> Response:
        """201 for a new one, 200 if the key was sent before."""
        body = asked(request, NewPaymentSerializer)
        if body["day"] > timezone.localdate():
            raise Refused("Not before the money is there.", field="day")
        is_known = Payment.objects.filter(pk=body["key"]).exists()
        client = _named(
            Client.objects.visible_to(self.viewer), body.pop("client"), "client"
        )
        rows = Invoice.objects.visible_to(self.viewer).filter(client=client)
        wanted = [_named(rows, key, "invoices") for key in body.pop("invoices", [])]
        body.setdefault("receipt", bool(client.email) and collecting().receipts_on)
        made = record_payment(client=client, invoices=wanted, by=self.member, **body)
        row = self.get_queryset().get(pk=made.pk)
        code = status.HTTP_200_OK if is_known else status.HTTP_201_CREATED
        return self.told(row, code=code)

    @extend_schema(
        summary="Pay money back",
        request=RefundSerializer,
        responses={201: EntrySerializer, 200: EntrySerializer},
    )
    def refund(self, request: Request, pk: UUID) -> Response:
        """Books what was paid back of what the payment has left; 201 for a new one,
        200 if the key was sent before."""
        body = asked(request, RefundSerializer)
        code = _code(body["key"])
        made = pay_back(
            payment=self.one(), by=self.member, day=timezone.localdate(), **body
        )
        return self.told(made, EntrySerializer, code=code)


def _code(key: UUID) -> int:
    """Whether an entry of the ledger was sent before."""
    is_known = LedgerEntry.objects.filter(key=key).exists()
    return status.HTTP_200_OK if is_known else status.HTTP_201_CREATED


def _named(rows: Any, key: Any, field: str) -> Any:
    """The row that a body names; Refused, not 404, if it isn't there."""
    row = rows.filter(pk=key).first()
    if row is None:
        raise Refused(f"There is no such {field.rstrip('s')} here.", field=field)
    return row


class Charges(Resource[ChargeItem]):
    """The charge list: what the practice asks for its work, its coming and its goods."""

    permission_classes = [access.api_door(access.BOOKS)]
    serializer_class = ChargeSerializer
    pagination_class = None  # a practice has a few dozen

    def get_queryset(self) -> Any:
        return ChargeItem.objects.visible_to(self.viewer)

    @extend_schema(summary="The charge list", responses=ChargeSerializer(many=True))
    def list(self, request: Request) -> Response:
        """Call-out, work, extras. Empty ``includes_tax``: as the practice; empty
        ``tax_code``: that of its class. A client's, barn's or season's own price goes
        before ``price``."""
        return Response(ChargeSerializer(charge_list(with_prices=True), many=True).data)


class Closing(Resource[Any]):
    """Closing a visit, which drafts its invoices."""

    permission_classes = [access.api_door(access.BOOKS)]
    serializer_class = DocumentSerializer
    pagination_class = None  # a visit's few documents come at once

    def get_queryset(self) -> Any:
        return Visit.objects.visible_to(self.viewer)

    @extend_schema(
        summary="Close a visit",
        request=None,
        responses={200: DocumentSerializer(many=True), **_REFUSED},
        parameters=[OpenApiParameter("id", UUID, OpenApiParameter.PATH)],
    )
    def close(self, request: Request, pk: UUID) -> Response:
        """Locks the record (farriers) and drafts an invoice per payer; repeating
        changes nothing."""
        visit, by = self.one(), self.member
        if visit.is_closed:
            made = draft_invoices(visit=visit, by=by)
        elif access.may_enter(by, access.FARRIER):
            made = close_visit(visit=visit, by=by)
        else:
            raise PermissionDenied
        rows = document_rows(by).filter(pk__in=[document.pk for document in made])
        return Response(DocumentSerializer(rows, many=True).data)
