"""What was made under a key that its maker chose."""

from django.db import models

from practice.models.base import Timed


class MadeOnce(Timed):
    """That a row was made under a client-made key, so that a repeat finds it."""

    key = models.UUIDField(unique=True)
    label = models.CharField(max_length=60, help_text="app.model")
    object_id = models.CharField(max_length=40)
    said_sha256 = models.CharField(
        max_length=64, blank=True, help_text="digest of what was asked for"
    )

    def __str__(self) -> str:
        return f"{self.key}: {self.label} {self.object_id}"
