"""How a horse's limbs are built, lasting; and what a farrier made of considerations."""

from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from horses.models.horse import Horse, Ownership
from horses.models.visit import Foot, VisitRecord
from practice.keys import uuid7
from practice.models import Timed, User


class ConformationQuerySet(models.QuerySet["Conformation"]):
    def visible_to(
        self, viewer: User | AnonymousUser, *, day: date | None = None
    ) -> "ConformationQuerySet":
        """Staff see all; an owner, once the ownership has begun, what was seen on own
        horses up to its last day, the earlier history included; nobody else any.

        Args:
            day: the practice's day; today if left out.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            mine = Ownership.objects.begun_of(viewer.client_id, day=day).filter(
                Q(ends__isnull=True) | Q(ends__gte=OuterRef("seen_on")),
                horse=OuterRef("horse"),
            )
            return self.filter(Exists(mine))
        return self.none()

    def on(self, day: date) -> "ConformationQuerySet":
        """What was known on ``day`` and had not ended by then."""
        return self.filter(
            Q(ended_on__isnull=True) | Q(ended_on__gt=day), seen_on__lte=day
        )

    def standing(self) -> "ConformationQuerySet":
        return self.filter(ended_on__isnull=True)


class Conformation(Timed):
    """One lasting trait of one limb. The words are in ``horses.conformation``."""

    class Kind(models.TextChoices):
        ANGULAR = "angular", "angular"
        AXIAL_ROTATION = "axial_rotation", "axial rotation"
        STANCE = "stance", "stance"
        OFFSET = "offset", "offset joint"
        SIDE = "side", "seen from the side"
        OLD_INJURY = "old_injury", "old injury"

    class Grade(models.TextChoices):
        SLIGHT = "slight", "slight"
        MODERATE = "moderate", "moderate"
        MARKED = "marked", "marked"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    horse = models.ForeignKey(
        Horse, on_delete=models.CASCADE, related_name="conformations"
    )
    limb = models.CharField(max_length=2, choices=Foot.choices)
    kind = models.CharField(max_length=14, choices=Kind.choices)
    place = models.CharField(max_length=10)
    direction = models.CharField(max_length=16, blank=True)
    grade = models.CharField(max_length=8, choices=Grade.choices, blank=True)
    note = models.CharField(max_length=300, blank=True)
    seen_on = models.DateField()
    seen_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    ended_on = models.DateField(null=True, blank=True, help_text="no longer so from")
    ended_note = models.CharField(max_length=300, blank=True)

    objects = ConformationQuerySet.as_manager()

    class Meta:
        ordering = ["seen_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(limb__in=["LF", "RF", "LH", "RH"]),
                name="conformation_one_of_four_limbs",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("seen_on")),
                name="conformation_ends_after_seen",
            ),
            models.UniqueConstraint(
                fields=["horse", "limb", "kind", "place", "direction"],
                condition=Q(ended_on__isnull=True) & ~Q(kind="old_injury"),
                name="one_standing_trait_a_limb",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.limb} {self.kind} {self.direction}"


class ConsiderationChoice(Timed):
    """A farrier took up a consideration for a horse at a visit, or set it aside.

    It changes nothing else: no plan and no record is filled in from it. Ignoring one is
    having no row.
    """

    class Answer(models.TextChoices):
        ACCEPTED = "accepted", "accepted"
        SET_ASIDE = "set_aside", "set aside"

    record = models.ForeignKey(
        VisitRecord, on_delete=models.CASCADE, related_name="considered"
    )
    code = models.CharField(max_length=60)
    answer = models.CharField(max_length=9, choices=Answer.choices)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["code", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "code"], name="one_answer_a_record_and_code"
            )
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.answer}"
