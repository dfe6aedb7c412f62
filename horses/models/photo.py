"""Photos: private, cleaned of position and camera data before they are kept."""

from django.contrib.auth.models import AnonymousUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from horses.models.visit import Foot, MaybeDecimal, VisitRecord
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
    known_mm: MaybeDecimal = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="known length between the two marks of the scale",
        validators=[MinValueValidator(1), MaxValueValidator(1000)],
    )
    marks_revision = models.PositiveIntegerField(default=0)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"photo {self.pk}"

    @property
    def is_measurable(self) -> bool:
        """Whether it shows one foot in a view that has landmarks."""
        return bool(self.foot) and self.view != self.View.OTHER


class Landmark(Timed):
    """A named point on a photo: fractions of the picture, x to the right, y down. The
    names are those of ``horses.landmarks.spots``.
    """

    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="landmarks")
    name = models.CharField(max_length=20)
    x = models.DecimalField(max_digits=7, decimal_places=6)
    y = models.DecimalField(max_digits=7, decimal_places=6)
    by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["photo", "name"], name="one_landmark_of_a_name"
            ),
            models.CheckConstraint(
                condition=Q(x__gte=0, x__lte=1, y__gte=0, y__lte=1),
                name="landmark_in_the_picture",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} on {self.photo_id}"
