"""Users and clients."""

from typing import Any

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from practice.languages import NAMES, known
from practice.models.base import Timed


class ClientQuerySet(models.QuerySet["Client"]):
    def visible_to(self, viewer: "User | AnonymousUser") -> "ClientQuerySet":
        """Staff see every client; an owner the own row; nobody else any."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            return self.filter(pk=viewer.client_id)
        return self.none()

    def active(self) -> "ClientQuerySet":
        return self.filter(is_active=True)


class Client(Timed):
    """A person or organisation that the practice deals with: owns, pays, runs a barn."""

    class Kind(models.TextChoices):
        PERSON = "person", "person"
        ORGANISATION = "organisation", "organisation"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.PERSON)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    street = models.CharField(max_length=200, blank=True)
    town = models.CharField(max_length=100, blank=True)
    post_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, blank=True)
    tax_number = models.CharField(max_length=40, blank=True)
    payment_days = models.PositiveSmallIntegerField(null=True, blank=True)
    language = models.CharField(max_length=10, blank=True)  # empty: the practice's
    notes = models.TextField(blank=True)
    is_active = models.BooleanField(default=True)

    objects = ClientQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(Lower("email"), name="client_email_folded")]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="client_has_name")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def language_name(self) -> str:
        """The client's own language, in its own word; empty: the practice's."""
        return NAMES[known(self.language)] if self.language else ""


class UserManager(BaseUserManager["User"]):
    def create_user(
        self, email: str, password: str | None = None, **fields: Any
    ) -> "User":
        """A user with a hashed password, or with none (signs in by link only)."""
        user = self.model(email=email.strip().lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email__iexact=username or "")


class UserQuerySet(models.QuerySet["User"]):
    def farriers(self) -> "UserQuerySet":
        return self.filter(role=User.Role.FARRIER, is_active=True)

    def visible_to(self, viewer: "User | AnonymousUser") -> "UserQuerySet":
        """Members of the practice see all users; others only themselves."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        return self if viewer.is_of_practice else self.filter(pk=viewer.pk)


_UserManager = UserManager.from_queryset(UserQuerySet)


class User(AbstractBaseUser, Timed):
    """Someone who signs in. An owner's user points to a client."""

    class Role(models.TextChoices):
        FARRIER = "farrier", "farrier"
        APPRENTICE = "apprentice", "apprentice"
        OFFICE = "office", "office"
        OWNER = "owner", "owner"
        BARN_CONTACT = "barn_contact", "barn contact"

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=12, choices=Role.choices)
    runs_practice = models.BooleanField(
        default=False, help_text="the first farrier: practice settings and users"
    )
    client = models.ForeignKey(
        Client, on_delete=models.CASCADE, null=True, blank=True, related_name="users"
    )
    is_active = models.BooleanField(default=True)

    objects = _UserManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(Lower("email"), name="user_email_folded_once"),
            models.CheckConstraint(
                condition=Q(runs_practice=False) | Q(role="farrier"),
                name="only_a_farrier_runs_the_practice",
            ),
            models.CheckConstraint(
                condition=Q(role="owner", client__isnull=False)
                | (~Q(role="owner") & Q(client__isnull=True)),
                name="an_owner_points_to_a_client",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_of_practice(self) -> bool:
        """Farrier, apprentice or office: works here."""
        return self.role in {self.Role.FARRIER, self.Role.APPRENTICE, self.Role.OFFICE}

    @property
    def is_farrier(self) -> bool:
        return self.role == self.Role.FARRIER

    @property
    def treats(self) -> bool:
        """Farrier or apprentice: records visits."""
        return self.role in {self.Role.FARRIER, self.Role.APPRENTICE}

    @property
    def keeps_books(self) -> bool:
        """Farrier or office: bookings, clients, horses, money."""
        return self.role in {self.Role.FARRIER, self.Role.OFFICE}


class SignInLink(Timed):
    """A one-time link by e-mail: only the token's SHA-256 is kept."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["expires_at"], name="sign_in_link_expiry")]

    def __str__(self) -> str:
        return f"link for {self.user_id}"


class RateSlot(models.Model):
    """How often a thing was tried within one slot of time."""

    key = models.CharField(max_length=100)
    slot = models.BigIntegerField()
    n = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["key", "slot"], name="rate_slot_once")
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.slot}: {self.n}"
