"""The visit: one attendance of one farrier at one barn on one day, with its records.

Keys are UUIDv7 made by the maker (a phone in a barn), so that sending twice is harmless.
"""

from datetime import date
from decimal import Decimal
from typing import TypeAlias

from django.contrib.auth.models import AnonymousUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q

from horses.models.horse import Horse, Ownership
from horses.models.work import Work
from practice.keys import uuid7
from practice.models import Barn, Timed, User

MaybeDecimal: TypeAlias = (
    "models.DecimalField[str | float | Decimal | None, Decimal | None]"
)


class VisitQuerySet(models.QuerySet["Visit"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "VisitQuerySet":
        """Staff see every visit, a barn contact those at the own barns. An owner
        reads records (``VisitRecord.visible_to``), not whole visits.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.BARN_CONTACT:
            return self.filter(barn__contacts__user=viewer).distinct()
        return self.none()

    def open(self) -> "VisitQuerySet":
        return self.filter(state=Visit.State.OPEN)


class Visit(Timed):
    """One attendance. It keeps what billing will want: the road to it."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        CLOSED = "closed", "closed"

    class Kind(models.TextChoices):
        ATTENDED = "attended", "attended"
        NO_SHOW = "no_show", "no-show"
        LATE_CALL_OFF = "late_call_off", "late call-off"
        BROUGHT_IN = "brought_in", "from an imported sheet"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    barn = models.ForeignKey(
        Barn, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    farrier = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    day = models.DateField()
    kind = models.CharField(max_length=13, choices=Kind.choices, default=Kind.ATTENDED)
    state = models.CharField(max_length=6, choices=State.choices, default=State.OPEN)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    travel_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    travel_metres = models.PositiveIntegerField(null=True, blank=True)
    round_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="of driving in the day's whole round"
    )
    round_metres = models.PositiveIntegerField(null=True, blank=True)
    round_stops = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="how many barns shared that driving"
    )
    start_time = models.TimeField(
        null=True, blank=True, help_text="of day, in the practice's zone, where known"
    )
    notice_minutes = models.PositiveIntegerField(
        null=True, blank=True, help_text="how long before it was called off"
    )
    note = models.TextField(blank=True)

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["barn", "day"], name="visit_at_barn")]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="open", closed_at__isnull=True)
                | Q(state="closed", closed_at__isnull=False),
                name="visit_closed_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.barn} {self.day}"

    @property
    def is_closed(self) -> bool:
        return self.state == self.State.CLOSED


class VisitRecordQuerySet(models.QuerySet["VisitRecord"]):
    def visible_to(
        self, viewer: User | AnonymousUser, *, day: date | None = None
    ) -> "VisitRecordQuerySet":
        """Staff see all. Once the ownership has begun, an owner sees records of own
        horses up to its last day, the earlier history included, of closed visits.

        Args:
            day: the practice's day; today if left out.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            mine = Ownership.objects.begun_of(viewer.client_id, day=day).filter(
                Q(ends__isnull=True) | Q(ends__gte=OuterRef("visit__day")),
                horse=OuterRef("horse"),
            )
            return self.filter(Exists(mine), visit__state=Visit.State.CLOSED)
        return self.none()


class VisitRecord(Timed):
    """What was found and done for one horse at a visit."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="records")
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="records")
    work = models.ForeignKey(
        Work, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    way_of_going = models.TextField(blank=True)
    note = models.TextField(blank=True)
    advice = models.TextField(blank=True, help_text="said to the owner, on the report")
    vet_advised = models.BooleanField(default=False)
    is_recorded = models.BooleanField(
        default=False, help_text="false until someone has saved it"
    )
    revision = models.PositiveIntegerField(default=0)
    body_sha256 = models.CharField(max_length=64, blank=True)

    objects = VisitRecordQuerySet.as_manager()

    class Meta:
        ordering = ["visit", "horse__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "horse"], name="one_record_a_horse_and_visit"
            )
        ]

    def __str__(self) -> str:
        return f"{self.horse} at {self.visit}"


class Foot(models.TextChoices):
    """The four feet, in this order."""

    LF = "LF", "left fore"
    RF = "RF", "right fore"
    LH = "LH", "left hind"
    RH = "RH", "right hind"


def _length(help_text: str = "") -> MaybeDecimal:
    return models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text=help_text,
        validators=[MinValueValidator(1), MaxValueValidator(400)],
    )


def _angle(help_text: str = "") -> MaybeDecimal:
    return models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text=help_text,
        validators=[MinValueValidator(1), MaxValueValidator(89)],
    )


class FootRecord(Timed):
    """The same for one foot: measurements before the trim, what was done."""

    class Work(models.TextChoices):
        NONE = "none", "left alone"
        TRIM = "trim", "trim"
        RESET = "reset", "reset"
        NEW_SHOE = "new_shoe", "new shoe"
        PULL = "pull", "pull"

    record = models.ForeignKey(
        VisitRecord, on_delete=models.CASCADE, related_name="feet"
    )
    foot = models.CharField(max_length=2, choices=Foot.choices)
    work = models.CharField(max_length=8, choices=Work.choices, blank=True)
    dorsal_length_mm = _length("toe length along the dorsal wall, shoe off")
    dorsal_angle_deg = _angle("dorsal wall against the ground")
    heel_length_mm = _length("along the heel wall")
    heel_length_medial_mm = _length()
    heel_length_lateral_mm = _length()
    heel_angle_deg = _angle("heel tubules against the ground")
    medial_height_mm = _length("wall at the medial quarter")
    lateral_height_mm = _length("wall at the lateral quarter")
    width_mm = _length("at the widest part")
    length_mm = _length("bare foot, toe to heel buttress")
    widest_from_toe_mm = _length("along the midline")
    frog_width_mm = _length("across its base")
    frog_length_mm = _length("from apex to base")
    pastern_angle_deg = _angle("pastern against the ground")
    trimmed_length_mm = _length("dorsal length after the trim")
    trimmed_angle_deg = _angle("dorsal angle after the trim")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["record", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "foot"], name="one_record_a_foot"
            ),
            models.CheckConstraint(
                condition=Q(foot__in=["LF", "RF", "LH", "RH"]), name="one_of_four_feet"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.foot} of {self.record_id}"


class Finding(Timed):
    """Something seen on a foot: kind, place, grade. The words are in ``findings``."""

    foot_record = models.ForeignKey(
        FootRecord, on_delete=models.CASCADE, related_name="findings"
    )
    kind = models.CharField(max_length=40)
    place = models.CharField(max_length=30, blank=True)
    grade = models.CharField(max_length=20, blank=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.kind


class Shoe(Timed):
    """What was fitted to a foot."""

    class Profile(models.TextChoices):
        PLAIN = "plain", "plain"
        FULLERED = "fullered", "fullered"
        CONCAVE = "concave", "concave"
        HALF_ROUND = "half_round", "half-round"

    class Metal(models.TextChoices):
        STEEL = "steel", "steel"
        ALUMINIUM = "aluminium", "aluminium"
        OTHER = "other", "other"

    class Toe(models.TextChoices):
        PLAIN = "plain", "plain"
        ROLLED = "rolled", "rolled toe"
        ROCKER = "rocker", "rocker toe"
        SET_UNDER = "set_under", "set under"

    class ToePlace(models.TextChoices):
        TOE = "toe", "toe"
        MEDIAL = "medial_toe_quarter", "medial toe quarter"
        LATERAL = "lateral_toe_quarter", "lateral toe quarter"

    foot_record = models.OneToOneField(
        FootRecord, on_delete=models.CASCADE, related_name="shoe"
    )
    profile = models.CharField(max_length=10, choices=Profile.choices, blank=True)
    metal = models.CharField(max_length=9, choices=Metal.choices, blank=True)
    section_width_mm = models.DecimalField(
        max_digits=4, decimal_places=1, null=True, blank=True
    )
    section_thickness_mm = models.DecimalField(
        max_digits=4, decimal_places=1, null=True, blank=True
    )
    style = models.CharField(max_length=40, blank=True, help_text="open, bar, …")
    size = models.CharField(max_length=20, blank=True)
    toe_treatment = models.CharField(max_length=9, choices=Toe.choices, blank=True)
    toe_place = models.CharField(max_length=19, choices=ToePlace.choices, blank=True)
    clips = models.CharField(max_length=40, blank=True)
    heels = models.CharField(max_length=80, blank=True)
    traction = models.CharField(max_length=80, blank=True)
    pad = models.CharField(max_length=80, blank=True)
    nails_medial = models.PositiveSmallIntegerField(null=True, blank=True)
    nails_lateral = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(nails_medial__isnull=True) | Q(nails_medial__lte=8))
                & (Q(nails_lateral__isnull=True) | Q(nails_lateral__lte=8)),
                name="at_most_eight_nails_a_branch",
            )
        ]

    def __str__(self) -> str:
        return f"shoe of {self.foot_record_id}"
