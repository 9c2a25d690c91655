"""How a person wants a list, the views they keep, and acts on many rows with what stood there before."""

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site

# So long an act is undone as one; later each row is changed back by itself.
UNDO_FOR = timedelta(days=7)


class SavedView(Record):
    """What a list is narrowed to, its columns and its order, under a name.

    It holds no row: whoever opens it sees what their own roles show them.
    """

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="saved_views")
    list_name = models.CharField(max_length=20)
    name = models.CharField(max_length=60)
    words = models.JSONField(default=dict)
    columns = models.JSONField(default=list)
    sort = models.CharField(max_length=30, blank=True)
    # Whose staff may open it too; nobody's where there is none.
    shared_with = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, related_name="saved_views")
    kept_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "list_name", "name"], name="saved_view_has_its_own_name"
            ),
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(list_name=""), name="saved_view_says_of_which_list"
            ),
        ]
        indexes = [models.Index(fields=["list_name", "shared_with"], name="saved_view_shared")]

    def __str__(self) -> str:
        return self.name


class ListChoice(Record):
    """The columns that a person wants of a list, in their order, and the view that it opens with."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="list_choices"
    )
    list_name = models.CharField(max_length=20)
    columns = models.JSONField(default=list)
    opens_with = models.ForeignKey(SavedView, on_delete=models.SET_NULL, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "list_name"], name="list_is_chosen_once_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.list_name} as {self.person} wants it"


class BulkAct(Record):
    """One act on many rows of a list: tried, done, and perhaps undone."""

    class State(models.TextChoices):
        CHOSEN = "chosen", gettext_lazy("Rows chosen")
        TRYING = "trying", gettext_lazy("Being tried")
        TRIED = "tried", gettext_lazy("Tried, not done")
        DOING = "doing", gettext_lazy("Being done")
        DONE = "done", gettext_lazy("Done")
        UNDOING = "undoing", gettext_lazy("Being undone")
        UNDONE = "undone", gettext_lazy("Undone")

    # Nothing is changed in these: such an act may be given up, and goes by itself.
    UNWRITTEN = (State.CHOSEN, State.TRYING, State.TRIED)
    AT_WORK = (State.TRYING, State.DOING, State.UNDOING)

    list_name = models.CharField(max_length=20)
    act = models.CharField(max_length=30)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="bulk_acts")
    state = models.CharField(max_length=8, choices=State, default=State.CHOSEN)
    # What the person said of it, as they typed it.
    facts = models.JSONField(default=dict)
    # The address of the list as it was narrowed, to go back to.
    query = models.CharField(max_length=600, blank=True)
    began_at = models.DateTimeField(default=timezone.now)
    done_at = models.DateTimeField(null=True)
    undone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-began_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["chosen", "trying", "tried", "doing"], done_at__isnull=True)
                | Q(state__in=["done", "undoing", "undone"], done_at__isnull=False),
                name="bulk_act_that_is_done_says_when",
            ),
            models.CheckConstraint(
                condition=Q(state="undone", undone_at__isnull=False)
                | (~Q(state="undone") & Q(undone_at__isnull=True)),
                name="bulk_act_that_is_undone_says_when",
            ),
        ]
        indexes = [models.Index(fields=["actor", "-began_at"], name="bulk_act_of_actor")]

    def __str__(self) -> str:
        return f"{self.act} in {self.list_name}"

    @property
    def is_at_work(self) -> bool:
        return self.state in self.AT_WORK

    @property
    def can_be_dropped(self) -> bool:
        return self.state in self.UNWRITTEN

    @property
    def undo_until(self) -> datetime | None:
        return self.done_at + UNDO_FOR if self.done_at else None


class BulkRow(models.Model):
    """One row of an act. ``before`` is what stood in the fields that the act touches.

    ``seen`` is a digest of the whole row as the trial saw it, ``left`` one of what doing it left: where the
    row is another by then, somebody was there in between.
    """

    class State(models.TextChoices):
        CHOSEN = "chosen", gettext_lazy("Chosen")
        WOULD = "would", gettext_lazy("Would change")
        SAME = "same", gettext_lazy("Stays as it is")
        REFUSED = "refused", gettext_lazy("Refused")
        DONE = "done", gettext_lazy("Done")
        LEFT = "left", gettext_lazy("Left alone")
        UNDONE = "undone", gettext_lazy("Undone")
        KEPT = "kept", gettext_lazy("Not undone")

    bulk = models.ForeignKey(BulkAct, on_delete=models.CASCADE, related_name="rows")
    # Its place in the order of work, which is that of locks.
    position = models.PositiveIntegerField()
    row_id = models.UUIDField()
    site_id = models.UUIDField(null=True)
    label = models.CharField(max_length=200)
    state = models.CharField(max_length=8, choices=State, default=State.CHOSEN)
    reason = models.CharField(max_length=400, blank=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    # (from, to) by field, in words.
    words = models.JSONField(default=dict)
    seen = models.CharField(max_length=64, blank=True)
    left = models.CharField(max_length=64, blank=True)
    # The last entry of history that named the row when it was done.
    event = models.BigIntegerField(null=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["bulk", "position"], name="bulk_row_has_its_own_place"),
            models.UniqueConstraint(fields=["bulk", "row_id"], name="bulk_row_is_chosen_once"),
            models.CheckConstraint(
                condition=(Q(state__in=["refused", "left", "kept"]) & ~Q(reason=""))
                | Q(state__in=["chosen", "would", "same", "done", "undone"], reason=""),
                name="bulk_row_that_was_refused_says_why",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["done", "undone", "kept"], event__isnull=False) & ~Q(left="")
                | Q(state__in=["chosen", "would", "same", "refused", "left"], event__isnull=True, left=""),
                name="bulk_row_that_was_done_says_what_it_left",
            ),
        ]
        indexes = [models.Index(fields=["bulk", "state", "position"], name="bulk_row_by_state")]

    def __str__(self) -> str:
        return self.label
