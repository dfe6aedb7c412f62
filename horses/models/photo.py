"""Photos: private, cleaned of position and camera data before they are kept."""

from django.contrib.auth.models import AnonymousUser
from django.db import models

from horses.models.visit import Foot, VisitRecord
from practice.keys import uuid7
from practice.models import Timed, User


class PhotoQuerySet(models.QuerySet["Photo"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "PhotoQuerySet":
        """Whoever sees the record sees its photos."""
        return self.filter(record__in=VisitRecord.objects.visible_to(viewer))


class Photo(Timed):
    """One picture of a horse or a foot at a visit."""

    class View(models.TextChoices):
        SIDE = "lateral", "from the side"
        FRONT = "dorsal", "from the front"
        SOLE = "solar", "of the sole"
        OTHER = "other", "other"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    record = models.ForeignKey(
        VisitRecord, on_delete=models.CASCADE, related_name="photos"
    )
    foot = models.CharField(max_length=2, choices=Foot.choices, blank=True)
    view = models.CharField(max_length=7, choices=View.choices, default=View.OTHER)
    path = models.CharField(max_length=200, help_text="below the media folder")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    caption = models.CharField(max_length=200, blank=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"photo {self.pk}"
