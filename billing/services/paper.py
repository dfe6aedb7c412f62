"""What the practice wants on its paper: size, logo, feet, its payment link."""

import hashlib
from typing import Any, BinaryIO

from django.db import transaction

from billing import paying
from billing.models import Logo, PaperSettings
from horses.photos import cleaned
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change


@transaction.atomic
def change_paper(
    *,
    by: User | None,
    size: str,
    draws_feet: bool,
    pay_link: str,
    logo: BinaryIO | None = None,
    drops_logo: bool = False,
) -> PaperSettings:
    """Sets the wishes. Documents that were issued keep theirs.

    Args:
        logo: a new one (JPEG, PNG, WebP), made anew without what else is in the file;
            None leaves the one that is there.

    Raises:
        Refused: a size that isn't one, a link that isn't https, no picture.
    """
    if size not in PaperSettings.Size.values:
        raise Refused("Choose A4, Letter, or what is usual.", field="size")
    if pay_link.strip():
        try:
            pay_link = paying.check_link(pay_link)
        except paying.BadPayment as fault:
            raise Refused(str(fault), field="pay_link") from fault
    PaperSettings.objects.get_or_create(pk=1)
    row = PaperSettings.objects.select_for_update().get(pk=1)
    fields: dict[str, Any] = {
        "size": size,
        "draws_feet": draws_feet,
        "pay_link": pay_link.strip(),
        "logo_id": None if drops_logo else row.logo_id,
    }
    if logo is not None:
        fields["logo_id"] = _kept(logo).pk
    before = {name: getattr(row, name) for name in fields}
    if before == fields:
        return row
    for name, value in fields.items():
        setattr(row, name, value)
    row.save(update_fields=["size", "draws_feet", "pay_link", "logo", "changed_at"])
    note_change(by=by, obj=row, action="changed", before=before, after=fields)
    return row


def _kept(upload: BinaryIO) -> Logo:
    """The logo as a small JPEG on white, under its digest."""
    try:
        photo = cleaned(upload)
    except Refused as refused:
        raise Refused(refused.sentence, field="logo") from refused
    sha256 = hashlib.sha256(photo.small).hexdigest()
    row, _ = Logo.objects.get_or_create(
        sha256=sha256,
        defaults={
            "content": photo.small,
            "width_px": photo.width_px,
            "height_px": photo.height_px,
        },
    )
    return row
