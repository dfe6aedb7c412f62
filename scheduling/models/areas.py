"""What planning keeps of an area."""

from collections.abc import Sequence

from django.db import models

from practice.geo import Position
from practice.models import Area, Timed


class AreaOutline(Timed):
    """The line drawn round an area. It is no fact of a barn: a barn is in the area that
    somebody put it in. A barn in none that lies inside is proposed the area."""

    area = models.OneToOneField(Area, on_delete=models.CASCADE, related_name="+")
    corners = models.JSONField(help_text="[[latitude, longitude], …], not closed")

    def __str__(self) -> str:
        return f"outline of {self.area}"

    @property
    def places(self) -> tuple[Position, ...]:
        return tuple(Position(lat, lon) for lat, lon in self.corners)

    @staticmethod
    def rounded(places: Sequence[Position]) -> list[list[float]]:
        """Corners as they are kept: six digits, a tenth of a metre."""
        return [[round(one.lat, 6), round(one.lon, 6)] for one in places]
