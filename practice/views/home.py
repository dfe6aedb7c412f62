"""The front door: each role goes to its own first page."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from practice import access
from practice.models import Practice, User


@access.door(access.PUBLIC)
def home(request: HttpRequest) -> HttpResponse:
    """To the role's home; to signing in; on an empty database to the start."""
    if isinstance(request.user, User):
        return redirect(settings.HOME_BY_ROLE[request.user.role])
    if not Practice.objects.exists():
        return redirect("practice:start")
    return redirect("practice:sign_in")
