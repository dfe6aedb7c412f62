"""Photos: served only to whoever may see the record."""

from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST, require_safe

from horses.models import Photo
from horses.photos import small_path
from horses.services.photos import remove_photo
from practice import access
from practice.errors import Refused


def _photo(request: HttpRequest, pk: UUID) -> Photo:
    return access.get(
        Photo.objects.visible_to(request.user).select_related("record__visit"), pk=pk
    )


def _served(path: str) -> FileResponse:
    place = Path(settings.MEDIA_ROOT) / path
    try:
        response = FileResponse(place.open("rb"), content_type="image/jpeg")
    except FileNotFoundError as gone:
        raise Http404 from gone
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_safe
@access.door(access.SIGNED_IN)
def photo(request: HttpRequest, pk: UUID) -> FileResponse:
    """A photo in full."""
    return _served(_photo(request, pk).path)


@require_safe
@access.door(access.SIGNED_IN)
def photo_small(request: HttpRequest, pk: UUID) -> FileResponse:
    """A photo as lists show it."""
    return _served(small_path(_photo(request, pk).path))


@require_POST
@access.door(access.TREATS)
def photo_remove(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes a photo off an open visit's record."""
    row = _photo(request, pk)
    try:
        remove_photo(photo=row, by=access.member(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("horses:record", pk=row.record_id)
