"""The pages and API of billing, by path."""

from typing import Any

from django.urls import URLPattern, URLResolver, include, path

from billing import api, portal
from billing.views import (
    bank,
    books,
    charges,
    closing,
    discounts,
    files,
    invoices,
    lines,
    mending,
    paper,
    payments,
    pieces,
    prices,
    rules,
    terms,
)

app_name = "billing"

charge_list_urls: list[URLPattern | URLResolver] = [
    path("", charges.charge_list, name="charge_list"),
    path("extras/", charges.add_to_charge_list, name="charge_add"),
    path("extras/<int:pk>/retire/", charges.retire, name="charge_retire"),
    path("tax/", charges.tax_rate, name="tax_rate"),
    path("tax/standing/", prices.tax, name="tax"),
    path("tax/standing/confirm/", prices.tax_confirm, name="tax_confirm"),
    path("rules/", rules.rules, name="rules"),
    path("rules/<slug:kind>/", rules.add, name="rule_add"),
    path("rules/<slug:kind>/<int:pk>/remove/", rules.remove, name="rule_remove"),
    path("clients/<int:pk>/", terms.client_terms, name="client_terms"),
    path("barns/<int:pk>/", terms.barn_terms, name="barn_terms"),
    path("<int:pk>/", prices.charge, name="charge"),
    path("<int:pk>/prices/", prices.price_add, name="price_add"),
    path(
        "<int:pk>/prices/<int:price>/remove/", prices.price_remove, name="price_remove"
    ),
]

invoice_urls: list[URLPattern | URLResolver] = [
    path("", invoices.invoices, name="invoices"),
    path("drafts/", pieces.drafts, name="drafts_fragment"),
    path("horse/<int:pk>/", pieces.horse_money, name="horse_money"),
    path("<uuid:pk>/", invoices.invoice, name="invoice"),
    path("paper/", paper.paper, name="paper"),
    path("paper/logo/", paper.logo, name="logo"),
    path("<uuid:pk>/pdf/", invoices.invoice_pdf, name="invoice_pdf"),
    path("<uuid:pk>/xml/<slug:kind>/", paper.invoice_xml, name="invoice_xml"),
    path("<uuid:pk>/issue/", invoices.issue, name="invoice_issue"),
    path("<uuid:pk>/discard/", invoices.discard, name="invoice_discard"),
    path("<uuid:pk>/note/", invoices.note, name="invoice_note"),
    path("<uuid:pk>/credit/", invoices.credit, name="invoice_credit"),
    path("<uuid:pk>/write-off/", mending.give_up, name="write_off"),
    path(
        "<uuid:pk>/write-off/<int:entry>/undo/", mending.hope_again, name="hope_again"
    ),
    path("<uuid:pk>/dispute/", mending.object_to, name="object_to"),
    path("<uuid:pk>/settled/", mending.settled, name="settled"),
    path("<uuid:pk>/lateness/", mending.charge_lateness, name="charge_lateness"),
    path("<uuid:pk>/discount/", discounts.discount, name="discount"),
    path(
        "<uuid:pk>/discount/remove/", discounts.discount_remove, name="discount_remove"
    ),
    path("<uuid:pk>/deposit/<uuid:of>/", discounts.deposit, name="deposit"),
    path("<uuid:pk>/lines/", lines.add, name="line_add"),
    path("<uuid:pk>/lines/<int:line>/", lines.change, name="line"),
    path("<uuid:pk>/lines/<int:line>/remove/", lines.remove, name="line_remove"),
]

payment_urls: list[URLPattern | URLResolver] = [
    path("", payments.payments, name="payments"),
    path("<uuid:pk>/", payments.payment, name="payment"),
    path("new/<int:client>/", payments.record, name="payment_new"),
    path("<uuid:pk>/receipt/", paper.receipt, name="receipt"),
    path("account/<int:client>/", payments.account, name="account"),
    path("account/<int:client>/begin/", mending.begin, name="begin"),
    path("<uuid:pk>/receipt/mail/", payments.mail_receipt, name="receipt_mail"),
    path("<uuid:pk>/back/", mending.back, name="pay_back"),
    path("<uuid:pk>/bounced/", mending.bounced, name="bounced"),
    path("account/<int:client>/statement/", paper.statement, name="statement"),
    path("account/<int:client>/credit/", payments.use_credit, name="use_credit"),
]

books_urls: list[URLPattern | URLResolver] = [
    path("", books.books, name="books"),
    path("owed/", books.owed, name="owed"),
    path("export/", books.export, name="export"),
    path("month-end/", books.month_end, name="month_end"),
    path("month-end/<uuid:pk>/", books.issue_run, name="issue_run"),
    path("collecting/", books.how, name="collecting"),
    path("collecting/rates/", books.late_percent, name="late_percent"),
    path("files/", files.ask, name="file_ask"),
    path("files/<uuid:pk>/", files.file, name="file"),
    path("files/<uuid:pk>/progress/", files.progress, name="file_progress"),
    path("files/<uuid:pk>/take/", files.take, name="file_take"),
    path("bank/", bank.bank, name="bank"),
    path("bank/columns/", bank.columns, name="bank_columns"),
    path("bank/<uuid:pk>/", bank.bank_import, name="bank_import"),
    path("bank/<uuid:pk>/undo/", bank.undo, name="bank_undo"),
    path("bank/lines/<int:pk>/post/", bank.post, name="bank_post"),
    path("bank/lines/<int:pk>/leave/", bank.leave_out, name="bank_leave"),
]

closing_urls: list[URLPattern | URLResolver] = [
    path("<uuid:pk>/", closing.closing, name="closing"),
    path("<uuid:pk>/issue/", closing.issue_visit, name="closing_issue"),
]

my_urls: list[URLPattern | URLResolver] = [
    path("", portal.my_invoices, name="my_invoices"),
    path("account/", portal.my_account, name="my_account"),
    path("<uuid:pk>/", portal.my_invoice, name="my_invoice"),
    path("<uuid:pk>/pdf/", portal.my_invoice_pdf, name="my_invoice_pdf"),
    path("<uuid:pk>/xml/<slug:kind>/", portal.my_invoice_xml, name="my_invoice_xml"),
    path("receipts/<uuid:pk>/", portal.my_receipt, name="my_receipt"),
    path("statement/", portal.my_statement, name="my_statement"),
]

one: dict[str, Any] = {"get": "retrieve"}
api_urls: list[URLPattern | URLResolver] = [
    path("invoices/", api.Invoices.as_view({"get": "list"}), name="api_invoices"),
    path("invoices/<uuid:pk>/", api.Invoices.as_view(one), name="api_invoice"),
    path(
        "invoices/<uuid:pk>/pdf/",
        api.Invoices.as_view({"get": "pdf"}),
        name="api_invoice_pdf",
    ),
    path(
        "invoices/<uuid:pk>/xml/<slug:kind>/",
        api.Invoices.as_view({"get": "xml"}),
        name="api_invoice_xml",
    ),
    path(
        "payments/<uuid:pk>/receipt/",
        api.Payments.as_view({"get": "receipt"}),
        name="api_receipt",
    ),
    path(
        "invoices/<uuid:pk>/issue/",
        api.Invoices.as_view({"post": "issue"}),
        name="api_invoice_issue",
    ),
    path(
        "invoices/<uuid:pk>/credit/",
        api.Invoices.as_view({"post": "credit"}),
        name="api_invoice_credit",
    ),
    path(
        "invoices/<uuid:pk>/write-off/",
        api.Invoices.as_view({"post": "write_off"}),
        name="api_write_off",
    ),
    path(
        "payments/<uuid:pk>/refund/",
        api.Payments.as_view({"post": "refund"}),
        name="api_refund",
    ),
    path("charge-list/", api.Charges.as_view({"get": "list"}), name="api_charge_list"),
    path(
        "payments/",
        api.Payments.as_view({"get": "list", "post": "create"}),
        name="api_payments",
    ),
    path("payments/<uuid:pk>/", api.Payments.as_view(one), name="api_payment"),
    path(
        "closing/<uuid:pk>/",
        api.Closing.as_view({"post": "close"}),
        name="api_closing",
    ),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("charge-list/", include(charge_list_urls)),
    path("invoices/", include(invoice_urls)),
    path("payments/", include(payment_urls)),
    path("books/", include(books_urls)),
    path("closing/", include(closing_urls)),
    path("my/invoices/", include(my_urls)),
    path("api/v1/", include(api_urls)),
]
