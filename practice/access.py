"""Who may enter: the one place of permission.

Two questions are asked of every request. *May this viewer enter this page?* is asked
here, by the decorator on each view (its *door*). *Which rows exist for this viewer?*
is asked by ``visible_to(viewer)`` on each model's queryset; ``get`` is the one way to
fetch an object for a viewer, and answers 404 both for 'not there' and 'not yours'.
Behind both stands Django's ``LoginRequiredMiddleware``: a view without a door is
closed to anonymous visitors, and a test fails on it.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import (
    ObjectDoesNotExist,
    PermissionDenied,
    ValidationError,
)
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from practice.models import User

Role = User.Role
Door = frozenset[str]

#: Everyone of the practice.
STAFF: Door = frozenset({Role.FARRIER, Role.APPRENTICE, Role.OFFICE})
#: Those who treat horses: record visits.
TREATS: Door = frozenset({Role.FARRIER, Role.APPRENTICE})
#: Those who keep the books: bookings, clients, horses, money.
BOOKS: Door = frozenset({Role.FARRIER, Role.OFFICE})
#: Farriers alone: close a visit, plan a foot.
FARRIER: Door = frozenset({Role.FARRIER})
#: The first farrier: practice settings and users. Narrows FARRIER.
HEAD: Door = frozenset({"head"})
OWNER: Door = frozenset({Role.OWNER})
BARN_CONTACT: Door = frozenset({Role.BARN_CONTACT})
#: Anyone who is signed in.
SIGNED_IN: Door = frozenset(Role.values)
#: Anyone at all: sign-in pages, secret feed addresses.
PUBLIC: Door = frozenset({"anyone"})

View = TypeVar("View", bound=Callable[..., HttpResponseBase])
M = TypeVar("M", bound=Model)


def may_enter(viewer: User | AnonymousUser, roles: Door) -> bool:
    """Whether this viewer may pass a door for these roles."""
    if roles == PUBLIC:
        return True
    if not isinstance(viewer, User) or not viewer.is_active:
        return False
    if roles == HEAD:
        return viewer.runs_practice
    return viewer.role in roles


def door(roles: Door) -> Callable[[View], View]:
    """The door of a page: only these roles pass; others get 403, strangers sign in."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(
            request: HttpRequest, *args: Any, **kwargs: Any
        ) -> HttpResponseBase:
            if not may_enter(request.user, roles):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        if roles == PUBLIC:
            guarded = login_not_required(guarded)
        guarded.door = roles  # type: ignore[attr-defined]  # read by the doors test
        return guarded  # type: ignore[return-value]  # same signature by wraps

    return decorate


def member(request: HttpRequest | Request) -> User:
    """The user behind a request that has passed a door.

    Raises:
        PermissionDenied: nobody is signed in.
    """
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user


def get(queryset: QuerySet[M], **lookup: Any) -> M:
    """The one row of a narrowed queryset.

    Args:
        queryset: already passed through ``visible_to(viewer)``.
        lookup: what to look it up by, usually ``pk=…``.

    Raises:
        Http404: there is none, or it is not this viewer's.
    """
    try:
        return queryset.get(**lookup)
    except (ObjectDoesNotExist, ValueError, ValidationError) as error:
        raise Http404 from error


class NobodyYet(BasePermission):
    """The default of API views: closed until a door is given."""

    def has_permission(self, request: Request, view: Any) -> bool:
        return False


class _ApiDoor(BasePermission):
    read: Door = frozenset()
    write: Door = frozenset()

    def has_permission(self, request: Request, view: Any) -> bool:
        roles = self.read if request.method in {"GET", "HEAD"} else self.write
        return may_enter(request.user, roles)


def api_door(read: Door, write: Door | None = None) -> type[BasePermission]:
    """The door of an API view, for ``permission_classes = [api_door(…)]``.

    Args:
        read: roles that may GET.
        write: roles that may do anything else; the same as ``read`` if left out.
    """
    return type(
        "ApiDoor",
        (_ApiDoor,),
        {"read": read, "write": read if write is None else write},
    )
