"""The practice: opened once, changed by its first farrier, the demo left behind."""

from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.module_loading import import_string

from practice import countries
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

_PROPOSED = (
    "currency",
    "time_zone",
    "length_unit",
    "mass_unit",
    "road_unit",
    "tax_regime",
    "prices_include_tax",
    "language",
)
_THERE_IS_ONE = (
    "This installation has a practice already. Change it on its settings page."
)
_FIXED = frozenset({"id", "pk", "is_demo", "created_at", "changed_at"})
_CHANGEABLE = frozenset(field.name for field in Practice._meta.concrete_fields) - _FIXED


@transaction.atomic
def create_practice(
    *,
    name: str,
    country: str,
    by: User | None = None,
    is_demo: bool = False,
    **over: Any,
) -> Practice:
    """Opens the practice of this installation.

    Args:
        country: ISO 3166-1 alpha-2; currency, units, time zone and tax follow from it
            as ``practice.countries`` proposes.
        over: fields of ``Practice`` that differ from the proposals.

    Raises:
        Refused: there is one already, or it has no name.
    """
    if not name.strip():
        raise Refused("Give the practice a name.", field="name")
    if Practice.objects.exists():
        raise Refused(_THERE_IS_ONE)
    _check_fields(over)
    proposed = countries.proposals(country)
    fields = {field: getattr(proposed, field) for field in _PROPOSED}
    try:
        with transaction.atomic():
            practice = Practice.objects.create(
                name=name.strip(),
                country=country.strip().upper(),
                is_demo=is_demo,
                **{**fields, **over},
            )
    except IntegrityError as error:
        if Practice.objects.exists():  # another was opened at the same moment
            raise Refused(_THERE_IS_ONE) from error
        raise
    note_change(
        by=by,
        obj=practice,
        action="opened",
        after={"name": practice.name, "country": practice.country},
    )
    if not is_demo:  # the demo brings its own
        for beginning in settings.PRACTICE_OPENED:
            import_string(beginning)()
    return practice


@transaction.atomic
def change_practice(*, by: User | None, **fields: Any) -> Practice:
    """Changes the named fields of the practice; those that stay the same are left
    alone, and nothing is noted when nothing changed.

    Raises:
        Refused: the practice would lose its name.
    """
    _check_fields(fields)
    practice = Practice.objects.select_for_update().get(pk=1)
    if not str(fields.get("name", practice.name)).strip():
        raise Refused("Give the practice a name.", field="name")
    changed = {
        field: value
        for field, value in fields.items()
        if getattr(practice, field) != value
    }
    if not changed:
        return practice
    before = {field: _plain(getattr(practice, field)) for field in changed}
    for field, value in changed.items():
        setattr(practice, field, value)
    practice.save(update_fields=[*changed, "changed_at"])
    note_change(
        by=by,
        obj=practice,
        action="changed",
        before=before,
        after={field: _plain(value) for field, value in changed.items()},
    )
    for follows in settings.PRACTICE_CHANGED:
        import_string(follows)(fields=frozenset(changed))
    return practice


@transaction.atomic
def open_practice(
    *,
    name: str,
    country: str,
    farrier_name: str,
    farrier_email: str,
    farrier_password: str,
    **over: Any,
) -> User:
    """Opens the practice with its first farrier, who runs it.

    Returns:
        the first farrier.
    """
    create_practice(name=name, country=country, **over)
    farrier = User.objects.create_user(
        farrier_email,
        farrier_password,
        name=farrier_name.strip(),
        role=User.Role.FARRIER,
        runs_practice=True,
    )
    note_change(by=None, obj=farrier, action="added", after={"role": farrier.role})
    return farrier


@transaction.atomic
def start_own_practice(
    *,
    name: str,
    country: str,
    farrier_name: str,
    farrier_email: str,
    farrier_password: str,
    **over: Any,
) -> User:
    """Leaves the demo behind: erases all of its rows and opens the own practice, in
    one transaction.

    Returns:
        the first farrier of the new practice.

    Raises:
        Refused: the practice is not the demo; nothing is ever erased then.
    """
    practice = Practice.objects.select_for_update().filter(pk=1).first()
    if practice is None or not practice.is_demo:
        raise Refused(
            "Only the demo can be left behind. This practice is a real one, and "
            "nothing of it was touched."
        )
    for app in reversed(settings.HOUSE_APPS):
        import_string(f"{app}.demo.erase")()
    return open_practice(
        name=name,
        country=country,
        farrier_name=farrier_name,
        farrier_email=farrier_email,
        farrier_password=farrier_password,
        **over,
    )


def _check_fields(fields: dict[str, Any]) -> None:
    unknown = set(fields) - _CHANGEABLE
    if unknown:
        raise TypeError(f"Practice has no changeable field {', '.join(unknown)}")


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else value
