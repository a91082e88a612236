"""People: who signs in, and what each is in an orchard."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import (
    AbstractBaseUser,
    BaseUserManager,
    PermissionsMixin,
)
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import only

ROLES = ("volunteer", "lead", "educator", "office", "coordinator")


class UserManager(BaseUserManager["User"]):
    use_in_migrations = True

    def create_user(
        self, email: str, name: str, password: str | None = None, **fields: Any
    ) -> User:
        """Create a person who can sign in; without a password only by a link."""
        user = self.model(email=email.strip().lower(), name=name.strip(), **fields)
        user.set_password(password)
        user.full_clean(exclude=["password"])
        user.save(using=self._db)
        return user

    def create_superuser(
        self, email: str, name: str, password: str | None = None, **fields: Any
    ) -> User:
        return self.create_user(
            email, name, password, is_staff=True, is_superuser=True, **fields
        )

    def get_by_natural_key(self, email: str | None) -> User:
        return self.get(email=(email or "").strip().lower())


class User(AbstractBaseUser, PermissionsMixin):
    """A person. Deactivated when they leave, never deleted."""

    email = models.EmailField(_("e-mail address"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    # Given by whoever wants to be rung: shown to those who lead in the same orchard.
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    joined_at = models.DateTimeField(default=timezone.now)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(email=Lower("email")), name="user_email_lower_case"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} <{self.email}>"

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class MembershipQuerySet(models.QuerySet["Membership"]):
    def standing(self) -> MembershipQuerySet:
        """Only those who have not left."""
        return self.filter(left_at=None, user__is_active=True)

    def in_orchard(self, orchard: Any) -> MembershipQuerySet:
        return self.filter(orchard=orchard)


class Membership(models.Model):
    """One person's one role in one orchard."""

    class Role(models.TextChoices):
        VOLUNTEER = "volunteer", _("volunteer")
        LEAD = "lead", _("crew lead")
        EDUCATOR = "educator", _("educator")
        OFFICE = "office", _("programme office")
        COORDINATOR = "coordinator", _("coordinator")

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="memberships"
    )
    role = models.CharField(max_length=24, choices=Role.choices)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "orchard"], name="membership_once_per_orchard"
            ),
            only("role", ROLES),
        ]

    def __str__(self) -> str:
        return f"{self.user.name}, {self.get_role_display()}"


class Invitation(models.Model):
    """A link that makes its reader a member, once, until it expires."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="invitations"
    )
    email = models.EmailField()
    role = models.CharField(max_length=24, choices=Membership.Role.choices)
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    invited_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("invited_at")),
                name="invitation_expires_after_sent",
            ),
            only("role", ROLES),
        ]

    def __str__(self) -> str:
        return f"{self.email} to {self.orchard_id}"


class SignInTry(models.Model):
    """One failed try to sign in; a few of them close the door for a while."""

    email_hash = models.CharField(max_length=64)
    address = models.GenericIPAddressField(null=True)
    tried_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["email_hash", "tried_at"]),
            models.Index(fields=["address", "tried_at"]),
        ]

    def __str__(self) -> str:
        return f"try {self.pk} at {self.tried_at:%Y-%m-%d %H:%M}"
