"""Clients: added and changed, never merged behind anyone's back."""

from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from practice import names
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change
from practice.services.once import made_once

FIELDS = (
    "name",
    "kind",
    "phone",
    "email",
    "street",
    "town",
    "post_code",
    "country",
    "tax_number",
    "payment_days",
    "language",
    "notes",
)


@transaction.atomic
def add_client(
    *,
    by: User | None,
    name: str,
    key: UUID | None = None,
    sure: bool = False,
    **fields: Any,
) -> Client:
    """Adds a client.

    Args:
        key: client-made; a second call with it gives the first one's client.
        sure: add even where another has the same e-mail or phone.

    Raises:
        Refused: no name; or the same e-mail or phone is there and ``sure`` is not
            said.
    """
    return made_once(
        key=key,
        model=Client,
        said={"name": name, **fields},
        make=lambda: _add(by=by, sure=sure, name=name, **fields),
    )


def _add(*, by: User | None, sure: bool, **fields: Any) -> Client:
    cleaned = _cleaned(fields)
    if not sure:
        _refuse_doubles(likes(email=cleaned["email"], phone=cleaned["phone"]))
    client = Client.objects.create(**cleaned)
    note_change(by=by, obj=client, action="added", after={"name": client.name})
    return client


@transaction.atomic
def change_client(
    *, client: Client, by: User | None, sure: bool = False, **fields: Any
) -> Client:
    """Changes the named fields of a client.

    Raises:
        Refused: as for adding, where the e-mail or phone is a new one.
    """
    client = Client.objects.select_for_update().get(pk=client.pk)
    before = {field: getattr(client, field) for field in FIELDS}
    cleaned = _cleaned({**before, **fields})
    changed = {name: new for name, new in cleaned.items() if new != before[name]}
    if not changed:
        return client
    if not sure:
        _refuse_doubles(
            [
                like
                for like in likes(
                    email=changed.get("email", ""), phone=changed.get("phone", "")
                )
                if like.pk != client.pk
            ]
        )
    for name, value in changed.items():
        setattr(client, name, value)
    client.save(update_fields=[*changed, "changed_at"])
    note_change(
        by=by,
        obj=client,
        action="changed",
        before={name: before[name] for name in changed},
        after=changed,
    )
    return client


@transaction.atomic
def set_client_active(*, client: Client, active: bool, by: User | None) -> Client:
    """Puts a client aside, out of lists and choices, or brings one back. The
    records stay."""
    client = Client.objects.select_for_update().get(pk=client.pk)
    if client.is_active == active:
        return client
    client.is_active = active
    client.save(update_fields=["is_active", "changed_at"])
    action = "brought back" if active else "put aside"
    note_change(by=by, obj=client, action=action)
    return client


def likes(*, email: str, phone: str) -> list[Client]:
    """Clients with the same e-mail (but for letter case) or the same phone number
    (however it is written)."""
    same = Q(pk__in=_same_phone(phone))
    if email:
        same |= Q(email__iexact=email.strip())
    return list(Client.objects.filter(same))


def _same_phone(phone: str) -> list[int]:
    practice = Practice.objects.filter(pk=1).first()
    country = practice.country if practice else ""
    wanted = names.phone_key(phone, country) if phone else ""
    if not wanted:
        return []
    # The last four figures are the same however a number is written.
    tail = "".join(sign for sign in wanted.partition(";")[0] if sign.isdigit())[-4:]
    near = Client.objects.exclude(phone="").values_list("pk", "phone")
    return [
        pk
        for pk, other in near
        if "".join(sign for sign in other if sign.isdigit()).endswith(tail)
        and names.phone_key(other, country) == wanted
    ]


def _refuse_doubles(doubles: list[Client]) -> None:
    if doubles:
        told = ", ".join(client.name for client in doubles)
        raise Doubled(
            f"The same e-mail or phone belongs to {told}. Open that client instead, "
            "or tick ‘someone else’ and save again.",
            doubles,
        )


class Doubled(Refused):
    """That another client has the same e-mail or phone; ``clients`` are those."""

    def __init__(self, sentence: str, clients: list[Client]) -> None:
        super().__init__(sentence, field="sure")
        self.clients = clients


def _cleaned(fields: dict[str, Any]) -> dict[str, Any]:
    unknown = set(fields) - set(FIELDS)
    if unknown:
        raise TypeError(f"Client has no changeable field {', '.join(sorted(unknown))}")
    given = {"email": "", "phone": "", **fields}
    texts = {name: _tidy(name, value) for name, value in given.items()}
    if not texts.get("name"):
        raise Refused("Give the client a name.", field="name")
    return texts


def _tidy(name: str, value: Any) -> Any:
    if not isinstance(value, str):
        return value
    # Blank lines between paragraphs are the writer's own.
    if name == "notes":
        return value.replace("\r\n", "\n").strip()
    return names.squeeze(value)
