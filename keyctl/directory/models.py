"""What the directory knows of people beyond who they are to keys; lists of people; sign-ins that it ended."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Person
from keyctl.lib.language import in_sentence
from keyctl.lib.records import Record
from keyctl.vault.fields import SealedField


class DirectoryEntry(Record):
    """Where a person is known from, and the facts that go back to an identity provider as it gave them."""

    class Source(models.TextChoices):
        SCIM = "scim", gettext_lazy("Identity provider")
        TABLE = "table", gettext_lazy("List of people")
        HAND = "by-hand", gettext_lazy("Written here")

    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="entry")
    source = models.CharField(max_length=8, choices=Source)
    given_name = models.CharField(max_length=120, blank=True)
    family_name = models.CharField(max_length=120, blank=True)
    employee_number = models.CharField(max_length=60, blank=True)
    # What an identity provider gave and gets back as it gave it: displayName, formatted, userType, emails.
    provided = models.JSONField(default=dict, blank=True)
    # Deleted by the identity provider, which finds it no more; the person and the history of keys stay.
    removed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(source__in=["scim", "table", "by-hand"]), name="directory_source_is_known"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} ({in_sentence(self.get_source_display())})"


class EndedSignIn(Record):
    """A sign-in that ended because its person left, so that coming back opens that one and no other."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="ended_sign_ins")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(default=timezone.now)
    begun_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-ended_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["user"], condition=Q(begun_at=None), name="sign_in_ended_once_until_it_begins"
            )
        ]

    def __str__(self) -> str:
        return f"Sign-in of {self.user}"


class PeopleList(Record):
    """An uploaded list of people: its columns, what the dry run found, and what became of it.

    The file is sealed and deleted as soon as the list is applied or given up.
    """

    class State(models.TextChoices):
        UPLOADED = "uploaded", gettext_lazy("Columns to choose")
        CHECKED = "checked", gettext_lazy("Checked, not applied")
        APPLYING = "applying", gettext_lazy("Being applied")
        APPLIED = "applied", gettext_lazy("Applied")
        LEFT = "left", gettext_lazy("Given up")

    OPEN = (State.UPLOADED, State.CHECKED, State.APPLYING)

    name = models.CharField(max_length=120)
    digest = models.CharField(max_length=64)
    content = SealedField(null=True)
    # Whoever came by a list before and is missing from a full one is proposed as leaving.
    is_full = models.BooleanField(default=False)
    state = models.CharField(max_length=8, choices=State, default=State.UPLOADED)
    version = models.PositiveIntegerField(default=1)
    columns = models.JSONField(default=dict)
    # What the columns were called, by what they say; the next list's are guessed by it.
    headings = models.JSONField(default=dict)
    has_header = models.BooleanField(default=True)
    findings = SealedField(null=True)
    # Of the dry run: whether what is applied is what was shown.
    plan_digest = models.CharField(max_length=64, blank=True)
    counts = models.JSONField(default=dict)
    uploaded_at = models.DateTimeField(default=timezone.now)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-uploaded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    state__in=["uploaded", "checked", "applying"], content__isnull=False, ended_at=None
                )
                | Q(
                    state__in=["applied", "left"],
                    content__isnull=True,
                    findings__isnull=True,
                    ended_at__isnull=False,
                ),
                name="people_list_is_deleted_when_it_ends",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN


class MissingPerson(Record):
    """Somebody whom a full list no longer names: proposed as leaving, until somebody decides."""

    class State(models.TextChoices):
        PROPOSED = "proposed", gettext_lazy("Proposed as leaving")
        LEFT = "left", gettext_lazy("Has left")
        STAYS = "stays", gettext_lazy("Stays")

    people_list = models.ForeignKey(PeopleList, on_delete=models.PROTECT, related_name="missing")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=8, choices=State, default=State.PROPOSED)
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["person__display_name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["people_list", "person"], name="person_is_missing_from_a_list_once"
            ),
            models.CheckConstraint(
                condition=Q(state="proposed", decided_at=None, decided_by=None)
                | Q(state__in=["left", "stays"], decided_at__isnull=False, decided_by__isnull=False),
                name="missing_person_decision_says_who",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {in_sentence(self.get_state_display())}"
