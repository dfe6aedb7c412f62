"""Who owns and who pays on a day."""

from datetime import date

from horses.models import Horse, Ownership, Payer


def owners_on(horse: Horse, day: date) -> list[Ownership]:
    """The ownerships that hold on ``day``, largest share first, with their clients.

    Empty before the horse's first ownership. One query.
    """
    return list(
        Ownership.objects.on(day)
        .filter(horse=horse)
        .select_related("client")
        .order_by("-share", "client__name", "pk")
    )


def payer_on(horse: Horse, day: date) -> Payer | None:
    """Who is billed instead of the owners on ``day``, if anyone. One query."""
    return (
        Payer.objects.on(day)
        .filter(horse=horse)
        .select_related("client")
        .order_by("-starts", "-pk")
        .first()
    )
