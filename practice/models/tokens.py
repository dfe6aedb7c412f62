"""A program's way into the API."""

from django.contrib.auth.models import AnonymousUser
from django.db import models

from practice.models.base import Timed
from practice.models.people import User


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "ApiTokenQuerySet":
        """Everyone sees the own tokens, and nobody else's."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        return self.filter(user=viewer)


class ApiToken(Timed):
    """Whoever has the token is the user, to the API alone. Only its SHA-256 is kept:
    it is shown once, and what a backup holds opens nothing.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=80, help_text="what uses it")
    token_sha256 = models.CharField(max_length=64, unique=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(name=""), name="api_token_has_name"
            )
        ]

    def __str__(self) -> str:
        return self.name
