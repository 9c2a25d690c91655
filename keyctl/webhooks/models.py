"""Other programs that are told of events: where they listen, their secrets, every delivery and its tries."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.webhooks.kinds import FAMILIES


class AllowedHost(Record):
    """A host that a site's administrators let keyctl speak to. Without any, nothing goes out."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="allowed_hosts")
    name = models.CharField(max_length=253)
    port = models.PositiveIntegerField(default=443)
    # Where it lies inside a network of the house, which is asked at no other name.
    network = models.CharField(max_length=50, blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["site__code", "name", "port"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name", "port"], name="host_is_allowed_once_at_a_site"),
            models.CheckConstraint(
                condition=Q(port__gte=1, port__lte=65535), name="allowed_host_has_a_port_that_exists"
            ),
        ]

    def __str__(self) -> str:
        return self.name if self.port == 443 else f"{self.name}:{self.port}"


class Endpoint(Record):
    """An address of another program, told of some families of events at some sites."""

    class State(models.TextChoices):
        ON = "on", "On"
        OFF = "off", gettext_lazy("Turned off")
        RESTING = "resting", gettext_lazy("At rest after failures")

    name = models.CharField(max_length=80)
    url = models.CharField(max_length=500)
    sites = models.ManyToManyField(Site, related_name="webhook_endpoints")
    # Names of families, parted by one blank.
    families = models.CharField(max_length=200)
    state = models.CharField(max_length=8, choices=State, default=State.ON)
    # Events up to this entry of history are none of its business.
    told_from = models.BigIntegerField(default=0)
    # Since when no delivery has succeeded; null while the last one did.
    failing_since = models.DateTimeField(null=True)
    rested_at = models.DateTimeField(null=True)
    # How often in a row nobody was reached, and until when nobody tries again.
    misses = models.PositiveSmallIntegerField(default=0)
    not_before = models.DateTimeField(null=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(families=""), name="endpoint_is_told_of_something"),
            models.CheckConstraint(
                condition=Q(state="resting", rested_at__isnull=False)
                | Q(state__in=["on", "off"], rested_at__isnull=True),
                name="endpoint_at_rest_says_since_when",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def family_labels(self) -> list[str]:
        return [str(FAMILIES[name][0]) for name in self.families.split() if name in FAMILIES]

    @property
    def is_on(self) -> bool:
        return self.state == self.State.ON


class Secret(Record):
    """What an endpoint knows our messages by. While one is changed for another two are in force."""

    endpoint = models.ForeignKey(Endpoint, on_delete=models.CASCADE, related_name="secrets")
    # By a key made from the web server's secret, so that messages go out while the vault is sealed.
    sealed = models.CharField(max_length=300)
    made_at = models.DateTimeField(default=timezone.now)
    ends_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["endpoint"], condition=Q(ends_at__isnull=True), name="endpoint_has_one_lasting_secret"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__isnull=True) | Q(ends_at__gt=F("made_at")),
                name="webhook_secret_ends_after_it_was_made",
            ),
        ]

    def __str__(self) -> str:
        return f"secret of {self.endpoint}"


class DeliveryQuerySet(models.QuerySet["Delivery"]):
    def waiting(self) -> Self:
        return self.filter(state=Delivery.State.WAITING)


class Delivery(Record):
    """One message to one endpoint. By its identifier, which never changes, a receiver tells a repeat."""

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("Waiting")
        DELIVERED = "delivered", gettext_lazy("Delivered")
        FAILED = "failed", gettext_lazy("Given up")

    endpoint = models.ForeignKey(Endpoint, on_delete=models.CASCADE, related_name="deliveries")
    # The entry of history; none for a test.
    number = models.BigIntegerField(null=True)
    type = models.CharField(max_length=60)
    # As it is signed and sent, byte for byte.
    body = models.TextField()
    state = models.CharField(max_length=9, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    written_at = models.DateTimeField(default=timezone.now)
    # Not before this moment; whoever moves it by compare-and-swap sends the message.
    next_at = models.DateTimeField(default=timezone.now)
    delivered_at = models.DateTimeField(null=True)

    objects = DeliveryQuerySet.as_manager()

    class Meta:
        ordering = ["-written_at", "-pk"]
        verbose_name_plural = "deliveries"
        indexes = [
            models.Index(fields=["endpoint", "-written_at"], name="delivery_by_endpoint"),
            models.Index(
                fields=["endpoint", "next_at"], condition=Q(state="waiting"), name="delivery_that_waits"
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["endpoint", "number"],
                condition=Q(number__isnull=False),
                name="endpoint_is_told_of_an_event_once",
            ),
            models.CheckConstraint(
                condition=Q(state="delivered", delivered_at__isnull=False)
                | Q(state__in=["waiting", "failed"], delivered_at__isnull=True),
                name="delivery_that_arrived_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.type} to {self.endpoint}"

    @property
    def message_id(self) -> str:
        return f"msg_{self.pk.hex}"


class Try(models.Model):
    """One try to deliver: the log."""

    LONGEST_WORDS = 200

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="tries")
    at = models.DateTimeField(default=timezone.now)
    # The code of the answer; none where none came.
    status = models.PositiveSmallIntegerField(null=True)
    milliseconds = models.PositiveIntegerField()
    # Why it failed, or the first signs of what the other program said.
    words = models.CharField(max_length=LONGEST_WORDS, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "tries"
        constraints = [
            models.CheckConstraint(
                condition=Q(status__isnull=False) | ~Q(words=""), name="delivery_try_says_what_came_of_it"
            )
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.status or self.words}"


class Told(models.Model):
    """In one row: up to which entry of history messages have been written."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    number = models.BigIntegerField(default=0)

    class Meta:
        verbose_name_plural = "told"
        constraints = [models.CheckConstraint(condition=Q(id=1), name="webhooks_have_one_place_in_history")]

    def __str__(self) -> str:
        return f"up to entry {self.number}"
