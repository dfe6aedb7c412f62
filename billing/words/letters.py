"""The words of the mails that go to clients: with a document in the document's
language, all others in the client's. Pure."""

from datetime import date
from decimal import Decimal
from typing import Any

from billing.paying import grouped, is_in_euros
from billing.snapshot import as_current
from billing.words import words

_TITLES = {"380": "invoice", "381": "credit_note", "386": "prepayment_invoice"}


def letter(snapshot: dict[str, Any]) -> dict[str, Any]:
    """What the mail says of an issued document, from its snapshot: ``subject``,
    ``dear``, ``attached``, ``rows`` (word, value), ``link``, ``see_all``, ``regards``.
    """
    snapshot = as_current(snapshot)
    w = words(snapshot["language"])
    currency, number = snapshot["currency"], snapshot["number"]
    due = Decimal(snapshot["totals"]["due"])
    is_credit = snapshot["kind"] == "381"
    title = w.t(_TITLES[snapshot["kind"]])
    if is_credit:
        attached = w.t(
            "attached_credit",
            number=number,
            amount=w.money(due, currency),
            corrects=snapshot["corrects"]["number"],
        )
    else:
        key = "attached_invoice" if snapshot["kind"] == "380" else "attached_prepayment"
        attached = w.t(key, number=number)
    return {
        "subject": w.t(
            "subject", title=title, number=number, practice=snapshot["seller"]["name"]
        ),
        "dear": w.t("dear", name=snapshot["buyer"]["name"]),
        "attached": attached,
        "rows": [] if is_credit or due <= 0 else _rows(snapshot, w, due),
        "link": snapshot["payment"]["link"] if not is_credit else "",
        "pay_online": w.t("pay_online"),
        "see_all": w.t("see_all"),
        "regards": w.t("regards"),
    }


def nudge(
    language: str,
    *,
    name: str,
    number: str,
    step: str,
    due_day: date,
    late: int,
    amount: Decimal,
    currency: str,
) -> dict[str, Any]:
    """What a nudge says: ``subject``, ``dear``, ``text``, ``rows``, ``paid``,
    ``see_it``, ``regards``. ``step`` is that of ``collecting.step_of``, ``amount`` what
    is open still."""
    w = words(language)
    told = {
        "number": number,
        "day": w.day(due_day),
        "amount": w.money(amount, currency),
        "days": late,
    }
    text = {"before": "nudge_before", "30": "nudge_last"}.get(step, "nudge_late")
    subject = "nudge_subject_before" if step == "before" else "nudge_subject"
    return {
        "subject": w.t(subject, **told),
        "dear": w.t("dear", name=name),
        "text": w.t(text, **told),
        "rows": [(w.t("amount_due"), told["amount"]), (w.t("reference"), number)],
        "paid": w.t("nudge_paid"),
        "see_it": w.t("see_it"),
        "regards": w.t("regards"),
    }


def receipt(
    language: str,
    *,
    name: str,
    practice: str,
    number: str,
    amount: Decimal,
    currency: str,
) -> dict[str, Any]:
    """What the mail says that brings a receipt, under the same names as ``letter``."""
    w = words(language)
    attached = w.t("attached_receipt", amount=w.money(amount, currency))
    return {
        "subject": w.t(
            "subject", title=w.t("receipt"), number=number, practice=practice
        ),
        "dear": w.t("dear", name=name),
        "attached": f"{attached} {w.t('thanks')}",
        "rows": [],
        "link": "",
        "see_all": w.t("see_all"),
        "regards": w.t("regards"),
    }


def _rows(snapshot: dict[str, Any], w: Any, due: Decimal) -> list[tuple[str, str]]:
    payment, currency = snapshot["payment"], snapshot["currency"]
    in_euros = is_in_euros(payment, currency) and payment["rf"]
    account = payment["account"]
    rows = [
        (w.t("amount_due"), w.money(due, currency)),
        (w.t("pay_by"), w.day(date.fromisoformat(snapshot["due_day"]))),
        (
            w.t("account_name"),
            payment["account_name"] if account or payment["iban"] else "",
        ),
        (w.t("sort_code"), payment["sort_code"] if account else ""),
        (w.t("account"), account),
        ("IBAN", grouped(payment["iban"])),
        ("BIC", payment["bic"]),
        (
            w.t("reference"),
            grouped(payment["rf"]) if in_euros else payment["reference"],
        ),
    ]
    return [(word, value) for word, value in rows if value]
