"""Who may sign in, and as what."""

from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from practice.errors import Refused
from practice.models import Barn, BarnContact, Client, Practice, SignInLink, User
from practice.services.changes import note_change
from practice.services.sign_in import INVITATION_LIFE, send_link

Role = User.Role
_CHANGEABLE = frozenset({"name", "phone", "email", "role", "runs_practice", "client"})


@transaction.atomic
def add_user(
    *,
    email: str,
    name: str,
    role: str,
    by: User | None,
    phone: str = "",
    runs_practice: bool = False,
    client: Client | None = None,
    barns: Iterable[Barn] = (),
    invite: bool = True,
) -> User:
    """Adds a user without a password and mails an invitation.

    Raises:
        Refused: the address signs somebody in already, or the role lacks what it
            needs (an owner a client, a barn contact a barn).
    """
    _check_role(role=role, client=client, runs_practice=runs_practice)
    _check_email(email)
    user = User.objects.create_user(
        email,
        None,
        name=name.strip(),
        role=role,
        phone=phone,
        runs_practice=runs_practice,
        client=client,
    )
    note_change(
        by=by, obj=user, action="added", after={"email": user.email, "role": role}
    )
    set_barns(user=user, barns=barns, by=by)
    if invite:
        invite_user(user=user, by=by)
    return user


@transaction.atomic
def change_user(*, user: User, by: User | None, **fields: Any) -> User:
    """Changes the named fields of a user.

    Raises:
        Refused: as for adding; or nobody would run the practice any more.
    """
    if set(fields) - _CHANGEABLE:
        raise TypeError(f"User has no changeable field {set(fields) - _CHANGEABLE}")
    user = User.objects.select_for_update().get(pk=user.pk)
    role = fields.get("role", user.role)
    client = fields.get("client", user.client)
    if role != Role.OWNER:
        client = fields["client"] = None
    runs = fields.get("runs_practice", user.runs_practice)
    _check_role(role=role, client=client, runs_practice=runs)
    if "email" in fields:
        fields["email"] = fields["email"].strip().lower()
        _check_email(fields["email"], but=user)
    if user.runs_practice and not runs:
        _check_someone_else_runs(user)
    before, after = _differences(user, fields)
    if not after:
        return user
    _save(user, fields)
    if "email" in after:
        _end_links(user)
    if role != Role.BARN_CONTACT:
        BarnContact.objects.filter(user=user).delete()
    note_change(by=by, obj=user, action="changed", before=before, after=after)
    return user


@transaction.atomic
def set_barns(*, user: User, barns: Iterable[Barn], by: User | None) -> None:
    """The barns whose visits a barn contact sees, from now on.

    Raises:
        Refused: a barn contact without a barn, or anyone else with one.
    """
    wanted = {barn.pk for barn in barns}
    if user.role != Role.BARN_CONTACT:
        wanted = set()
    elif not wanted:
        raise Refused("A barn contact needs at least one barn.", field="barns")
    had = set(BarnContact.objects.filter(user=user).values_list("barn_id", flat=True))
    if wanted == had:
        return
    BarnContact.objects.filter(user=user).exclude(barn_id__in=wanted).delete()
    for pk in sorted(wanted - had):
        BarnContact.objects.create(user=user, barn_id=pk)
    note_change(
        by=by,
        obj=user,
        action="barns changed",
        before={"barns": sorted(had)},
        after={"barns": sorted(wanted)},
    )


@transaction.atomic
def set_active(*, user: User, active: bool, by: User) -> User:
    """Lets a user in again, or keeps one out: open sessions and links end at once.

    Raises:
        Refused: one would keep oneself out, or nobody would run the practice.
    """
    user = User.objects.select_for_update().get(pk=user.pk)
    if user.is_active == active:
        return user
    if not active and user.pk == by.pk:
        raise Refused("You can't keep yourself out. Another who runs it can do it.")
    if not active and user.runs_practice:
        _check_someone_else_runs(user)
    user.is_active = active
    user.save(update_fields=["is_active", "changed_at"])
    if not active:
        _end_links(user)
    action = "let in again" if active else "kept out"
    note_change(by=by, obj=user, action=action)
    return user


@transaction.atomic
def invite_user(*, user: User, by: User | None) -> SignInLink:
    """Mails a link that signs the user in once, within seven days.

    Raises:
        Refused: the user is kept out.
    """
    user = User.objects.get(pk=user.pk)
    if not user.is_active:
        raise Refused(f"{user.name} is kept out. Let them in again first.")
    note_change(by=by, obj=user, action="invited")
    return send_link(user=user, life=INVITATION_LIFE)


@transaction.atomic
def invite_owner(*, client: Client, by: User | None) -> User:
    """Gives a client a way in to the own horses, and mails it; asked again, mails it
    again.

    Raises:
        Refused: the client has no e-mail, or it signs somebody else in already.
    """
    client = Client.objects.select_for_update().get(pk=client.pk)
    user = client.users.filter(email__iexact=client.email).first()
    if user is not None:
        invite_user(user=user, by=by)
        return user
    if not client.email:
        raise Refused(f"Give {client.name} an e-mail address first.", field="email")
    return add_user(
        email=client.email,
        name=client.name,
        phone=client.phone,
        role=Role.OWNER,
        client=client,
        by=by,
    )


@transaction.atomic
def set_password(*, user: User, password: str) -> None:
    """Sets a user's own password, already checked for strength."""
    user.set_password(password)
    user.save(update_fields=["password", "changed_at"])
    note_change(by=user, obj=user, action="password set")


def _check_role(*, role: str, client: Client | None, runs_practice: bool) -> None:
    if role == Role.OWNER and client is None:
        raise Refused("Say which client this owner is.", field="client")
    if role != Role.OWNER and client is not None:
        raise Refused("Only an owner belongs to a client.", field="client")
    if runs_practice and role != Role.FARRIER:
        raise Refused("Only a farrier runs the practice.", field="runs_practice")


def _check_email(email: str, but: User | None = None) -> None:
    taken = User.objects.filter(email__iexact=email.strip())
    if but is not None:
        taken = taken.exclude(pk=but.pk)
    user = taken.first()
    if user is not None:
        raise Refused(
            f"{email.strip()} signs in {user.name} already. Use another address.",
            field="email",
        )


def _end_links(user: User) -> None:
    """Links that were mailed, maybe to an address that is no longer theirs."""
    now = timezone.now()
    SignInLink.objects.filter(user=user, used_at__isnull=True).update(
        used_at=now, changed_at=now
    )


def _check_someone_else_runs(user: User) -> None:
    # Two who take it from each other at once wait for each other here.
    Practice.objects.select_for_update().filter(pk=1).first()
    others = User.objects.filter(runs_practice=True, is_active=True)
    if not others.exclude(pk=user.pk).exists():
        raise Refused(
            f"{user.name} is the only one who runs the practice. "
            "Let another farrier run it first.",
            field="runs_practice",
        )


def _save(user: User, fields: dict[str, Any]) -> None:
    for name, value in fields.items():
        setattr(user, name, value)
    try:
        with transaction.atomic():
            user.save(update_fields=[*fields, "changed_at"])
    except IntegrityError as error:
        raise Refused("That address signs in somebody already.", "email") from error


def _differences(
    user: User, fields: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    before, after = {}, {}
    for name, value in fields.items():
        had = getattr(user, name)
        if had != value:
            before[name] = str(had) if isinstance(had, Client) else had
            after[name] = str(value) if isinstance(value, Client) else value
    return before, after
