"""The secret address of a farrier's calendar."""

from django.contrib.auth.models import AnonymousUser
from django.db import models

from practice.models import Timed, User


class CalendarFeedQuerySet(models.QuerySet["CalendarFeed"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "CalendarFeedQuerySet":
        """A farrier sees the own address; who runs the practice and the office see
        all; nobody else any."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.runs_practice or viewer.role == User.Role.OFFICE:
            return self
        if viewer.is_farrier:
            return self.filter(farrier=viewer)
        return self.none()


class CalendarFeed(Timed):
    """Whoever has the token may read the farrier's rounds, without signing in.

    The token itself is kept, not its hash, because the page shows the address again;
    it opens nothing but this calendar, and renewing it shuts the old address.
    """

    farrier = models.OneToOneField(User, on_delete=models.CASCADE, related_name="+")
    token = models.CharField(max_length=60, unique=True)

    objects = CalendarFeedQuerySet.as_manager()

    def __str__(self) -> str:
        return f"calendar of {self.farrier}"
