"""A sheet being brought in, and what each of its rows said and made."""

from django.contrib.auth.models import AnonymousUser
from django.db import models

from horses.models.horse import Horse
from horses.models.visit import VisitRecord
from practice.keys import uuid7
from practice.models import Barn, Client, Timed, User


class SheetImportQuerySet(models.QuerySet["SheetImport"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "SheetImportQuerySet":
        """Those who keep the books see every import; nobody else any."""
        if isinstance(viewer, User) and viewer.is_active and viewer.keeps_books:
            return self
        return self.none()


class SheetImport(Timed):
    """One sheet, from its upload to its rows being in. The file is dropped then."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting to be confirmed"
        BROUGHT_IN = "brought_in", "brought in"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=200, help_text="the file's name")
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField(help_text="the file, until it is brought in")
    country = models.CharField(max_length=2, help_text="whose customs it is read by")
    mapping = models.JSONField(default=dict, help_text="heading → field or null")
    date_order = models.CharField(max_length=11, blank=True, help_text="as answered")
    answers = models.JSONField(
        default=dict, help_text="by a near match's key: whether the two are the same"
    )
    state = models.CharField(
        max_length=10, choices=State.choices, default=State.WAITING
    )
    counts = models.JSONField(default=dict)
    by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    brought_in_at = models.DateTimeField(null=True, blank=True)

    objects = SheetImportQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


class ReadRow(Timed):
    """What one row of a sheet said when it was last brought in, and what it made.

    By its identity the same row is known when a sheet is brought in again: then only
    what the row says anew is changed, and what people have mended since stays.
    """

    identity = models.CharField(max_length=64, db_index=True)
    said = models.CharField(max_length=64, help_text="digest of the values")
    values = models.JSONField()
    client = models.ForeignKey(
        Client, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    barn = models.ForeignKey(
        Barn, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    horse = models.ForeignKey(
        Horse, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    record = models.ForeignKey(
        VisitRecord, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    sheet = models.ForeignKey(
        SheetImport, on_delete=models.SET_NULL, null=True, related_name="rows"
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"row of {self.sheet_id}"
