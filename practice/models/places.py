"""Where horses are attended."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, Q

from practice.models.base import Timed
from practice.models.people import Client, User


class Area(Timed):
    """A named part of the country that the practice serves on its own days."""

    name = models.CharField(max_length=80, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class BarnQuerySet(models.QuerySet["Barn"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "BarnQuerySet":
        """Staff see every barn, a barn contact the own ones, an owner none."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.BARN_CONTACT:
            return self.filter(contacts__user=viewer).distinct()
        return self.none()

    def active(self) -> "BarnQuerySet":
        return self.filter(is_active=True)


class Barn(Timed):
    """A place where horses are attended."""

    name = models.CharField(max_length=120)
    street = models.CharField(max_length=200, blank=True)
    town = models.CharField(max_length=100, blank=True)
    post_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, blank=True)
    latitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )
    longitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )
    area = models.ForeignKey(
        Area, on_delete=models.SET_NULL, null=True, blank=True, related_name="barns"
    )
    run_by = models.ForeignKey(
        Client, on_delete=models.SET_NULL, null=True, blank=True, related_name="barns"
    )
    phone = models.CharField(max_length=40, blank=True)
    setup_minutes = models.PositiveSmallIntegerField(default=10)
    typed_drive_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="drive from home, where there is no position"
    )
    directions = models.TextField(blank=True)
    standing = models.TextField(blank=True, help_text="where to work: floor, light")
    notes = models.TextField(blank=True)
    is_active = models.BooleanField(default=True)

    objects = BarnQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="barn_has_name"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="barn_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def has_position(self) -> bool:
        return self.latitude is not None and self.longitude is not None


class Weekday(models.IntegerChoices):
    """ISO 8601 weekdays."""

    MONDAY = 1, "Monday"
    TUESDAY = 2, "Tuesday"
    WEDNESDAY = 3, "Wednesday"
    THURSDAY = 4, "Thursday"
    FRIDAY = 5, "Friday"
    SATURDAY = 6, "Saturday"
    SUNDAY = 7, "Sunday"


class AccessHours(Timed):
    """When a barn can be attended on a weekday. A barn without rows is always open."""

    barn = models.ForeignKey(
        Barn, on_delete=models.CASCADE, related_name="access_hours"
    )
    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens")), name="access_closes_after_opening"
            ),
            models.CheckConstraint(
                condition=Q(weekday__range=(1, 7)), name="access_iso_weekday"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}–{self.closes:%H:%M}"


class BarnContact(Timed):
    """A user who sees the visits to a barn, not health or money."""

    barn = models.ForeignKey(Barn, on_delete=models.CASCADE, related_name="contacts")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="barn_duties")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["barn", "user"], name="barn_contact_once")
        ]

    def __str__(self) -> str:
        return f"{self.user} at {self.barn}"
