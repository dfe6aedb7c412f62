"""What every row carries."""

from django.db import models


class Timed(models.Model):
    """Created and changed times. ``save(update_fields=…)`` must name ``changed_at``
    where the time of the change matters to a reader.
    """

    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True
