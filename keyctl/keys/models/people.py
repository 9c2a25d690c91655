"""People, and what they are at a site: a holder of its keys."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site


class PersonKind(models.TextChoices):
    STAFF = "staff", gettext_lazy("Staff")
    STUDENT = "student", gettext_lazy("Student")
    CONTRACTOR = "contractor", gettext_lazy("Contractor")
    OTHER = "other", gettext_lazy("Other")


class Person(Record):
    """Somebody known to the house, of whatever site; directories and identity providers tell of them."""

    user_name = models.CharField(max_length=150, blank=True)
    external_id = models.CharField(max_length=150, blank=True)
    display_name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    department = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=10, choices=PersonKind, default=PersonKind.STAFF)
    is_active = models.BooleanField(default=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="persons"
    )
    created_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["display_name"]
        constraints = [
            models.UniqueConstraint(
                Lower("user_name"), condition=~Q(user_name=""), name="person_user_name_is_unique"
            ),
            models.UniqueConstraint(
                fields=["external_id"], condition=~Q(external_id=""), name="person_external_id_is_unique"
            ),
            models.UniqueConstraint(
                fields=["user"], condition=Q(user__isnull=False), name="person_stands_for_a_user_once"
            ),
        ]

    def __str__(self) -> str:
        return self.display_name


class Holder(Record):
    """Somebody keys of a site are handed to; a holder need not be able to sign in."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="holders")
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="holders"
    )
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    department = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=10, choices=PersonKind, default=PersonKind.STAFF)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="holders"
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "user"],
                condition=Q(user__isnull=False),
                name="holder_stands_for_a_user_once_a_site",
            ),
            models.UniqueConstraint(
                fields=["site", "person"],
                condition=Q(person__isnull=False),
                name="holder_stands_for_a_person_once_a_site",
            ),
        ]

    def __str__(self) -> str:
        return self.name
