"""The charge list and the tax rates by day."""

from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, Q

from horses.models import Work
from practice.models import Barn, Client, Timed, User


class TaxCategory(models.TextChoices):
    """EN 16931's category codes that a farrier's charge list can have."""

    STANDARD = "S", "taxed"
    ZERO = "Z", "zero rated"
    EXEMPT = "E", "exempt"
    OUTSIDE = "O", "outside the scope of tax"
    REVERSE = "AE", "reverse charge"


class TaxClass(models.TextChoices):
    """What a charge is for the tax; the practice's regime names the rate of each."""

    SERVICE = "service", "service"
    GOODS = "goods", "goods"


class TaxRateQuerySet(models.QuerySet["TaxRate"]):
    def on(self, day: date) -> "TaxRateQuerySet":
        """Rates that hold on ``day``: from the start to the last day, both in."""
        return self.filter(Q(ends__isnull=True) | Q(ends__gte=day), starts__lte=day)

    def usable(self) -> "TaxRateQuerySet":
        """Rates with a figure, or of a category that has none."""
        return self.filter(Q(percent__isnull=False) | Q(category=TaxCategory.OUTSIDE))


class TaxRate(Timed):
    """One tax code's rate over a period, as dated data: a new law is a new row."""

    regime = models.CharField(max_length=20)
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=80)
    category = models.CharField(max_length=2, choices=TaxCategory.choices)
    percent = models.DecimalField(
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="empty: none (outside the scope), or not yet entered",
    )
    reason_code = models.CharField(max_length=30, blank=True, help_text="VATEX code")
    reason = models.CharField(max_length=200, blank=True)
    starts = models.DateField()
    ends = models.DateField(null=True, blank=True, help_text="last day, or open")

    objects = TaxRateQuerySet.as_manager()

    class Meta:
        ordering = ["regime", "code", "-starts"]
        constraints = [
            models.UniqueConstraint(
                fields=["regime", "code", "starts"], name="tax_rate_once"
            ),
            models.CheckConstraint(
                condition=Q(ends__isnull=True) | Q(ends__gte=F("starts")),
                name="tax_rate_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(category="S", percent__isnull=True)
                | Q(category="S", percent__gt=0, percent__lte=100)
                | Q(category__in=["Z", "E"], percent=0)
                | Q(category="O", percent__isnull=True),
                name="tax_rate_fits_its_category",
            ),
        ]

    def __str__(self) -> str:
        figure = "" if self.percent is None else f" {self.percent.normalize():f} %"
        return f"{self.name}{figure}"


class ChargeItemQuerySet(models.QuerySet["ChargeItem"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "ChargeItemQuerySet":
        """Those who keep the books; nobody else."""
        if isinstance(viewer, User) and viewer.is_active and viewer.keeps_books:
            return self
        return self.none()

    def active(self) -> "ChargeItemQuerySet":
        return self.filter(is_active=True)


class ChargeItem(Timed):
    """One item of the charge list with its usual price; ``Price`` rows say others for
    a client, a barn, a season or a period.
    """

    class Kind(models.TextChoices):
        WORK = "work", "work on a horse"
        CALL_OUT = "call_out", "call-out"
        EXTRA = "extra", "extra or goods"

    kind = models.CharField(max_length=8, choices=Kind.choices)
    work = models.ForeignKey(
        Work, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    name = models.CharField(max_length=120)
    price = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="in the practice's price mode; empty: not priced yet",
    )
    includes_tax = models.BooleanField(
        null=True, blank=True, help_text="whether its prices do; empty: as the practice"
    )
    unit = models.CharField(max_length=3, default="C62", help_text="UN/ECE Rec 20")
    tax_class = models.CharField(
        max_length=7, choices=TaxClass.choices, default=TaxClass.SERVICE
    )
    tax_code = models.CharField(
        max_length=20, blank=True, help_text="a rate's code; empty: that of its class"
    )
    puts_back = models.BooleanField(
        default=False, help_text="puts back a lost shoe: may be free for some days"
    )
    position = models.PositiveSmallIntegerField(default=0)
    is_active = models.BooleanField(default=True)

    objects = ChargeItemQuerySet.as_manager()

    class Meta:
        ordering = ["position", "name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="charge_item_has_name"),
            models.CheckConstraint(
                condition=Q(price__isnull=True) | Q(price__gte=0),
                name="charge_item_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(kind="work", work__isnull=False)
                | (~Q(kind="work") & Q(work__isnull=True)),
                name="charge_item_of_work_names_it",
            ),
            models.UniqueConstraint(fields=["work"], name="charge_item_once_a_work"),
            models.UniqueConstraint(
                fields=["kind"],
                condition=Q(kind="call_out", is_active=True),
                name="one_active_call_out",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Price(Timed):
    """Another price of an item: for a client, at a barn, in a season, over a period.
    The most specific wins (``billing.pricing.choose``).
    """

    item = models.ForeignKey(
        ChargeItem, on_delete=models.CASCADE, related_name="prices"
    )
    amount = models.DecimalField(max_digits=12, decimal_places=3)
    client = models.ForeignKey(
        Client, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    barn = models.ForeignKey(
        Barn, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    starts = models.DateField(null=True, blank=True)
    ends = models.DateField(null=True, blank=True, help_text="last day, or open")
    season_from = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="month × 100 + day, such as 1101"
    )
    season_to = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="last day; may lie in the next year"
    )

    class Meta:
        ordering = ["item", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gte=0), name="price_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(starts__isnull=True)
                | Q(ends__isnull=True)
                | Q(ends__gte=F("starts")),
                name="price_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(season_from__isnull=True, season_to__isnull=True)
                | Q(season_from__range=(101, 1231), season_to__range=(101, 1231)),
                name="price_season_has_both_ends",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.amount}"
