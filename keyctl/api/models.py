"""Access tokens of integrations. A token's secret is shown once and stored only as a digest."""

from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from keyctl.lib.records import Record


class Scope(models.TextChoices):
    """What a token may do at its sites. There is no scope for bittings or pins: no answer holds them."""

    ESTATE_READ = "estate:read", "Read the estate: places, cores and who opens what"
    ORDERS_READ = "orders:read", "Read work orders"
    ORDERS_WRITE = "orders:write", "Open work orders"
    PEOPLE = "people", "Tell who comes and who goes (SCIM), for the whole estate"


class Token(Record):
    """One integration's way in.

    ``user`` is a service account without a password; its memberships (role integration) say which sites
    the token reaches, so that every selector works for it as for a person.
    """

    name = models.CharField(max_length=60)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="tokens")
    prefix = models.CharField(max_length=8)
    digest = models.CharField(max_length=64)
    # Words separated by one blank, as OAuth writes them (RFC 6749, 3.3).
    scopes = models.CharField(max_length=200)
    created_at = models.DateTimeField(default=timezone.now)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-created_at", "prefix"]
        constraints = [
            models.UniqueConstraint(fields=["prefix"], name="token_prefix_is_unique"),
            models.CheckConstraint(condition=~Q(scopes=""), name="token_has_a_scope"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")), name="token_expires_after_it_was_made"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def scope_labels(self) -> list[str]:
        return [Scope(word).label for word in self.scopes.split()]

    @property
    def last_day(self) -> date:
        return timezone.localdate(self.expires_at - timedelta(microseconds=1))

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None

    @property
    def is_expired(self) -> bool:
        return self.expires_at <= timezone.now()

    def carries(self, scope: Scope) -> bool:
        return scope.value in self.scopes.split()

    def was_used_since(self, moment: datetime) -> bool:
        return self.last_used_at is not None and self.last_used_at >= moment
