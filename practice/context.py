"""What every template may read."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def house(request: HttpRequest) -> dict[str, Any]:
    """The practice, the tile settings and the request's id."""
    return {
        "practice": getattr(request, "practice", None),
        "request_id": getattr(request, "house_id", ""),
        "tile_url": settings.TILE_URL,
        "tile_credit": settings.TILE_CREDIT,
    }
