"""How the practice stands with its tax: chosen and confirmed by its first farrier."""

from datetime import datetime

from django.db import transaction

from billing.models import BillingSettings
from billing.selectors import regime_of
from billing.services.keeping import put
from billing.services.rules import the_settings
from billing.services.totals import retax_drafts
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change


def standing_of(practice: Practice, said: BillingSettings) -> str:
    """Regime, registration and price mode in one word: what a confirmation is for."""
    scheme = "registered" if practice.tax_registered else said.unregistered_scheme
    mode = "incl" if practice.prices_include_tax else "excl"
    return f"{regime_of(practice).code}:{scheme}:{mode}"[:40]


def is_confirmed(practice: Practice, said: BillingSettings) -> bool:
    """Whether somebody confirmed just this standing."""
    return bool(
        said.tax_confirmed_at and said.tax_confirmed_for == standing_of(practice, said)
    )


@transaction.atomic
def set_standing(*, by: User | None, scheme: str, place: str) -> bool:
    """Chooses the scheme of a practice that isn't registered, and its province; drafts
    follow. Whether anything changed.

    Raises Refused for a scheme or a place that the country doesn't know.
    """
    practice = Practice.objects.the_one()
    regime = regime_of(practice)
    if scheme not in BillingSettings.Scheme.values:
        raise Refused("Choose one of the two.", field="unregistered_scheme")
    if place and place not in regime.places:
        raise Refused("Choose a province of the country.", field="tax_place")
    fields = {"unregistered_scheme": scheme, "tax_place": place}
    is_changed = put(
        row=the_settings(), fields=fields, by=by, action="tax standing set"
    )
    if is_changed:
        retax_drafts()
    return is_changed


@transaction.atomic
def confirm_tax(*, by: User, now: datetime) -> None:
    """Notes that this person has confirmed the standing as it is. Safe to repeat."""
    practice, said = Practice.objects.the_one(), the_settings()
    if is_confirmed(practice, said):
        return
    said.tax_confirmed_at, said.tax_confirmed_by = now, by
    said.tax_confirmed_for = standing_of(practice, said)
    said.save(
        update_fields=[
            *("tax_confirmed_at", "tax_confirmed_by", "tax_confirmed_for"),
            "changed_at",
        ]
    )
    after = {"standing": said.tax_confirmed_for}
    note_change(by=by, obj=said, action="tax confirmed", after=after)
