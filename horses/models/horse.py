"""The horse, who owns it and over which days, who pays, when it is due."""

from datetime import date
from decimal import Decimal

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from horses.models.work import Work
from practice.models import Barn, Client, Timed, User


class HorseQuerySet(models.QuerySet["Horse"]):
    def visible_to(
        self, viewer: User | AnonymousUser, *, day: date | None = None
    ) -> "HorseQuerySet":
        """Staff see every horse; an owner those owned now or before (what of them is
        told ends with the ownership: ``VisitRecord.objects.visible_to``), not those
        to be owned from a coming day; nobody else any.

        Args:
            day: the practice's day; today if left out.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            mine = Ownership.objects.begun_of(viewer.client_id, day=day)
            return self.filter(pk__in=mine.values("horse"))
        return self.none()

    def active(self) -> "HorseQuerySet":
        return self.filter(status=Horse.Status.ACTIVE)

    def at_barn(self, barn: Barn) -> "HorseQuerySet":
        return self.filter(barn=barn)

    def due_by(self, day: date) -> "HorseQuerySet":
        """Active horses whose target day is on or before ``day``."""
        return self.active().filter(due_window__target__lte=day)


class Horse(Timed):
    """A horse (pony, donkey, mule) that the practice treats."""

    class Sex(models.TextChoices):
        MARE = "mare", "mare"
        GELDING = "gelding", "gelding"
        STALLION = "stallion", "stallion"

    class Use(models.TextChoices):
        HACKING = "hacking", "hacking"
        SCHOOL = "school", "riding school"
        DRESSAGE = "dressage", "dressage"
        JUMPING = "jumping", "jumping"
        EVENTING = "eventing", "eventing"
        HUNTING = "hunting", "hunting"
        ENDURANCE = "endurance", "endurance"
        RACING = "racing", "racing"
        POLO = "polo", "polo"
        WESTERN = "western", "western"
        DRIVING = "driving", "driving"
        DRAUGHT = "draught", "draught"
        SHOWING = "showing", "showing"
        BREEDING = "breeding", "breeding"
        YOUNGSTOCK = "youngstock", "youngstock"
        COMPANION = "companion", "companion"
        RETIRED = "retired", "retired"

    class Status(models.TextChoices):
        ACTIVE = "active", "active"
        RESTING = "resting", "resting: not due until brought back"
        MOVED = "moved", "left the practice"
        SOLD = "sold", "sold away"
        DEAD = "dead", "dead"

    name = models.CharField(max_length=120)
    barn = models.ForeignKey(
        Barn, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    breed = models.CharField(max_length=80, blank=True)
    foaled_year = models.PositiveSmallIntegerField(null=True, blank=True)
    foaled_on = models.DateField(null=True, blank=True, help_text="where known")
    sex = models.CharField(max_length=8, choices=Sex.choices, blank=True)
    colour = models.CharField(max_length=60, blank=True)
    height_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    mass_kg = models.PositiveSmallIntegerField(null=True, blank=True)
    use = models.CharField(max_length=12, choices=Use.choices, blank=True)
    use_note = models.CharField(max_length=120, blank=True)
    ueln = models.CharField("UELN", max_length=15, blank=True)
    microchip = models.CharField(max_length=15, blank=True)
    cautions = models.TextField(blank=True, help_text="handling: kicks, needle-shy …")
    conformation = models.TextField(blank=True)
    interval_weeks = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="without it the practice's usual interval"
    )
    usual_work = models.ForeignKey(
        Work, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    usual_work_note = models.CharField(max_length=200, blank=True)
    agreed_price = models.DecimalField(
        max_digits=9,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="for the usual work, in the practice's currency and price mode",
    )
    status = models.CharField(
        max_length=7, choices=Status.choices, default=Status.ACTIVE
    )
    notes = models.TextField(blank=True)

    objects = HorseQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["barn", "status"], name="horse_at_barn")]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="horse_has_name"),
            models.CheckConstraint(
                condition=Q(interval_weeks__isnull=True)
                | Q(interval_weeks__range=(1, 52)),
                name="horse_interval_1_52",
            ),
            models.CheckConstraint(
                condition=Q(agreed_price__isnull=True) | Q(agreed_price__gte=0),
                name="horse_price_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class OwnershipQuerySet(models.QuerySet["Ownership"]):
    def on(self, day: date) -> "OwnershipQuerySet":
        """Ownerships that hold on ``day``: from its start to its last day, both in."""
        return self.filter(Q(ends__isnull=True) | Q(ends__gte=day), starts__lte=day)

    def begun_of(self, client: int, *, day: date | None = None) -> "OwnershipQuerySet":
        """A client's ownerships, also ended ones, that have begun by ``day`` (the
        practice's today if left out): what is not yet one's own is not seen.
        """
        begun = Q(starts__lte=day or timezone.localdate())
        return self.filter(begun, client_id=client)


class Ownership(Timed):
    """A client's share in a horse over a period.

    Shares of one horse add up to exactly 100 on each day from the first start;
    ``horses.services.ownership`` is the only writer and holds that.
    """

    horse = models.ForeignKey(
        Horse, on_delete=models.CASCADE, related_name="ownerships"
    )
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    share = models.DecimalField(
        max_digits=7, decimal_places=4, default=Decimal(100), help_text="percent"
    )
    starts = models.DateField()
    ends = models.DateField(null=True, blank=True, help_text="last day, or open")

    objects = OwnershipQuerySet.as_manager()

    class Meta:
        ordering = ["starts", "-share", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(share__gt=0, share__lte=100), name="share_0_100"
            ),
            models.CheckConstraint(
                condition=Q(ends__isnull=True) | Q(ends__gte=F("starts")),
                name="ownership_ends_after_start",
            ),
            models.UniqueConstraint(
                fields=["horse", "client", "starts"], name="ownership_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.client} {self.share.normalize():f} %"


class PayerQuerySet(models.QuerySet["Payer"]):
    def on(self, day: date) -> "PayerQuerySet":
        return self.filter(Q(ends__isnull=True) | Q(ends__gte=day), starts__lte=day)


class Payer(Timed):
    """Who is billed for a horse over a period instead of its owners."""

    horse = models.ForeignKey(Horse, on_delete=models.CASCADE, related_name="payers")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    starts = models.DateField()
    ends = models.DateField(null=True, blank=True)

    objects = PayerQuerySet.as_manager()

    class Meta:
        ordering = ["starts", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends__isnull=True) | Q(ends__gte=F("starts")),
                name="payer_ends_after_start",
            ),
            models.UniqueConstraint(fields=["horse", "starts"], name="payer_once"),
        ]

    def __str__(self) -> str:
        return f"{self.client} pays for {self.horse}"


class DueWindow(Timed):
    """When a horse's next visit is due: written in the transaction that changes its
    inputs, by ``horses.services.horses.refresh_due_window`` alone.
    """

    class Basis(models.TextChoices):
        SET_INTERVAL = "set_interval", "last visit and the horse's interval"
        USUAL_INTERVAL = "usual_interval", "last visit and the practice's interval"
        GROWTH = "growth", "last visit and the horse's own growth"
        USE = "use", "last visit, and what its use and age let expect"
        VET = "vet", "last visit and the weeks that a vet asks for"
        NO_VISIT = "no_visit", "no visit yet: due today"

    horse = models.OneToOneField(
        Horse, on_delete=models.CASCADE, related_name="due_window"
    )
    earliest = models.DateField()
    target = models.DateField(db_index=True)
    latest = models.DateField()
    basis = models.CharField(max_length=14, choices=Basis.choices)
    last_visit_day = models.DateField(null=True, blank=True)
    weeks = models.PositiveSmallIntegerField(null=True, blank=True)
    ready_by = models.DateField(
        null=True, blank=True, help_text="the fast end's day: could be ready by then"
    )
    why = models.CharField(max_length=400, blank=True, help_text="one sentence")
    guide_foot = models.CharField(max_length=2, blank=True, help_text="LF, RF, LH, RH")
    questionable = models.PositiveSmallIntegerField(
        default=0, help_text="readings that look like slips of the keys"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(earliest__lte=F("target"), target__lte=F("latest")),
                name="due_window_in_order",
            )
        ]

    def __str__(self) -> str:
        return f"{self.horse}: {self.target}"
