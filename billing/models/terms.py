"""What was agreed with one client, and for one barn."""

from django.db import models
from django.db.models import F, Q

from billing.models.rules import SplitMode
from practice.models import Barn, Client, Timed


class ClientTerms(Timed):
    """How a client is billed."""

    class Treatment(models.TextChoices):
        USUAL = "", "as everyone"
        EXEMPT = "exempt", "exempt, with a certificate"
        REVERSE = "reverse_charge", "reverse charge: a business that accounts for it"

    client = models.OneToOneField(Client, on_delete=models.CASCADE, related_name="+")
    reference = models.CharField(
        max_length=60, blank=True, help_text="BT-10: what the client wants to read"
    )
    is_business = models.BooleanField(default=False)
    treatment = models.CharField(
        max_length=14, choices=Treatment.choices, default=Treatment.USUAL, blank=True
    )
    exempt_number = models.CharField(max_length=60, blank=True)
    exempt_until = models.DateField(
        null=True, blank=True, help_text="last day on which the certificate holds"
    )
    discount_percent = models.DecimalField(
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    discount_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(treatment="exempt")
                | (~Q(exempt_number="") & Q(exempt_until__isnull=False)),
                name="exempt_client_has_certificate",
            ),
            models.CheckConstraint(
                condition=Q(discount_percent__isnull=True)
                | (
                    Q(discount_percent__gt=0, discount_percent__lte=100)
                    & ~Q(discount_reason="")
                ),
                name="standing_discount_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"terms of {self.client}"


class BarnTerms(Timed):
    """How visits at a barn are billed: one payer for all horses on request, another
    way to split, another distance."""

    barn = models.OneToOneField(Barn, on_delete=models.CASCADE, related_name="+")
    payer = models.ForeignKey(
        Client, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    payer_from = models.DateField(null=True, blank=True)
    payer_to = models.DateField(null=True, blank=True, help_text="last day, or open")
    split_mode = models.CharField(max_length=8, choices=SplitMode.choices, blank=True)
    travel_metres = models.PositiveIntegerField(
        null=True, blank=True, help_text="charged distance, whatever the road says"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(payer_from__isnull=True)
                | Q(payer_to__isnull=True)
                | Q(payer_to__gte=F("payer_from")),
                name="barn_payer_ends_after_start",
            )
        ]

    def __str__(self) -> str:
        return f"terms at {self.barn}"
