"""Access tokens of integrations, how much each asks, and the answers kept for whoever asks again.

A token's secret is shown once and stored only as a digest.
"""

import uuid
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.api.networks import Network, read_networks
from keyctl.lib.records import Record


class Scope(models.TextChoices):
    """What a token may do at its sites. No list and no other answer holds a bitting or a pin."""

    ESTATE_READ = "estate:read", gettext_lazy("Read the estate: places, cores and who opens what")
    ESTATE_WRITE = "estate:write", gettext_lazy("Change places, housings and what is kept of cores")
    KEYS_READ = "keys:read", gettext_lazy("Read key symbols, key copies and which doors a key opens")
    KEYS_WRITE = "keys:write", gettext_lazy("Register, issue and take back key copies")
    HOLDERS_READ = "holders:read", gettext_lazy("Read who holds keys, and which doors they open with them")
    HOLDERS_WRITE = "holders:write", gettext_lazy("Keep holders")
    REQUESTS_READ = "requests:read", gettext_lazy("Read requests for keys")
    REQUESTS_WRITE = "requests:write", gettext_lazy("Ask for keys, and take requests back")
    ORDERS_READ = "orders:read", gettext_lazy("Read work orders")
    ORDERS_WRITE = "orders:write", gettext_lazy("Open work orders")
    EVENTS_READ = "events:read", gettext_lazy("Read history")
    PINNING_READ = (
        "pinning:read",
        gettext_lazy("Read how a core is pinned, one by one, by the rules of the vault"),
    )
    PEOPLE = "people", gettext_lazy("Tell who comes and who goes (SCIM), for the whole estate")


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
    # As words too, in the form `ip_network` writes; from anywhere where there is none.
    networks = models.CharField(max_length=1000, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)
    # When somebody was last turned away who sent it from elsewhere.
    turned_away_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-created_at", "prefix"]
        constraints = [
            models.UniqueConstraint(fields=["prefix"], name="token_prefix_is_unique"),
            models.CheckConstraint(condition=~Q(scopes=""), name="token_has_a_scope"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")), name="token_expires_after_it_was_made"
            ),
            models.CheckConstraint(
                condition=~Q(scopes__contains=Scope.PINNING_READ.value)
                | (Q(scopes=Scope.PINNING_READ.value) & ~Q(networks="")),
                name="token_for_pins_does_only_that_and_is_bound",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def scope_labels(self) -> list[str]:
        return [str(Scope(word).label) for word in self.scopes.split()]

    @property
    def last_day(self) -> date:
        return timezone.localdate(self.expires_at - timedelta(microseconds=1))

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None

    @property
    def is_expired(self) -> bool:
        return self.expires_at <= timezone.now()

    @property
    def network_list(self) -> list[Network]:
        return read_networks(self.networks)

    def carries(self, scope: Scope) -> bool:
        return scope.value in self.scopes.split()

    def was_used_since(self, moment: datetime) -> bool:
        return self.last_used_at is not None and self.last_used_at >= moment


class PinningWindow(Record):
    """For how long a token for pins may read them: opened by a second person, with a fresh sign-in of theirs.

    A program has no sign-in. Outside of a window its token reads no pin.
    """

    token = models.ForeignKey(Token, on_delete=models.PROTECT, related_name="windows")
    # Copied from the token, so that the database itself can forbid opening it for oneself.
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    until = models.DateTimeField()
    reason = models.CharField(max_length=300)
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(opened_by=F("made_by")), name="nobody_opens_pins_to_a_token_they_made"
            ),
            models.CheckConstraint(condition=Q(until__gt=F("opened_at")), name="window_on_pins_ends"),
            models.CheckConstraint(condition=~Q(reason=""), name="window_on_pins_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.token} until {self.until:%Y-%m-%d %H:%M}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None and self.until > timezone.now()


class KeptAnswer(Record):
    """The answer to a request that carried a key, for who sends it again; written with what the request did.

    Without a status the request is still at work. ``claim`` is anew for each try: whoever was given up for
    dead and comes to an end after all finds another claim, and undoes its work.
    """

    token = models.ForeignKey(Token, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=64)
    request = models.CharField(max_length=64)
    claim = models.UUIDField(default=uuid.uuid4)
    claimed_at = models.DateTimeField()
    status = models.PositiveSmallIntegerField(null=True)
    headers = models.JSONField(default=dict)
    body = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["token", "key"], name="kept_answer_is_one_for_each_key")
        ]

    def __str__(self) -> str:
        return self.key


class Usage(models.Model):
    """How much a token asked for within the minute, over all processes."""

    class Kind(models.TextChoices):
        READS = "reads", "Reads"
        WRITES = "writes", "Writes"

    token = models.ForeignKey(Token, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    minute = models.DateTimeField()
    count = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["token", "kind"], name="usage_is_counted_once")]

    def __str__(self) -> str:
        return f"{self.kind} {self.minute:%H:%M} {self.count}"
