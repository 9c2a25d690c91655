"""Who decides about what at a site, and who stands in for whom."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.lib.language import in_sentence
from keyctl.lib.records import Record
from keyctl.places.models import Building, Site

MOST_SILENT_HOURS = 720


class Deciders(models.TextChoices):
    """Whose decision a step is."""

    BUILDING = "building", gettext_lazy("The building’s people")
    OFFICER = "officer", gettext_lazy("A security officer")
    NAMED = "named", gettext_lazy("Named people")


class ApprovalRuleQuerySet(models.QuerySet["ApprovalRule"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)


class ApprovalRule(Record):
    """When a request of a site needs a decision, and whose. The first step, which chooses the keys, is
    always the building's people's; a rule that holds always for them only says after how long it speaks up.
    """

    class When(models.TextChoices):
        ALWAYS = "always", gettext_lazy("Always")
        MASTER = "master", gettext_lazy("One of the keys is a master key")
        TOP = "top", gettext_lazy("One of the keys is a top key")
        LEVEL = "level", gettext_lazy("One of the keys is a master key at a level or above it")
        DOOR_CLASS = "door-class", gettext_lazy("The keys open a door of a class")
        EXTRA = "extra", gettext_lazy("The keys open many doors that nobody asked for")

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="approval_rules")
    ordinal = models.PositiveSmallIntegerField()
    when = models.CharField(max_length=12, choices=When)
    # 0 is a top key; a rule for level 1 holds for levels 0 and 1.
    level = models.PositiveSmallIntegerField(null=True)
    # A rule for restricted doors holds for critical ones too.
    door_class = models.CharField(max_length=12, blank=True)
    extra = models.PositiveSmallIntegerField(null=True)
    who = models.CharField(max_length=10, choices=Deciders)
    people = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="+")
    # By somebody who decided no other step of the request that wants the same.
    is_apart = models.BooleanField(default=False)
    silent_hours = models.PositiveSmallIntegerField(default=48)

    objects = ApprovalRuleQuerySet.as_manager()

    class Meta:
        ordering = ["site__code", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["site", "ordinal"], name="approval_rule_has_its_place_at_a_site"),
            models.CheckConstraint(
                condition=Q(when="level", level__isnull=False, door_class="", extra__isnull=True)
                | Q(
                    when="door-class",
                    level__isnull=True,
                    door_class__in=["restricted", "critical"],
                    extra__isnull=True,
                )
                | Q(when="extra", level__isnull=True, door_class="", extra__gt=0)
                | Q(
                    when__in=["always", "master", "top"],
                    level__isnull=True,
                    door_class="",
                    extra__isnull=True,
                ),
                name="approval_rule_says_when_it_holds",
            ),
            models.CheckConstraint(
                condition=Q(silent_hours__gte=1, silent_hours__lte=MOST_SILENT_HOURS),
                name="approval_rule_waits_at_least_an_hour",
            ),
        ]

    def __str__(self) -> str:
        return _("{condition}: {who}").format(
            condition=self.condition, who=in_sentence(self.get_who_display())
        )

    @property
    def condition(self) -> str:
        if self.when == self.When.LEVEL:
            return _("One of the keys is a master key at level {level} or above").format(level=self.level)
        if self.when == self.When.EXTRA:
            return ngettext(
                "The keys open {count} or more doors that nobody asked for",
                "The keys open {count} or more doors that nobody asked for",
                self.extra or 1,
            ).format(count=self.extra)
        if self.when == self.When.DOOR_CLASS:
            if self.door_class == "critical":
                return _("The keys open a critical door")
            return _("The keys open a restricted or critical door")
        return self.get_when_display()


class SubstituteQuerySet(models.QuerySet["Substitute"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def in_force(self) -> Self:
        today = timezone.localdate()
        return self.filter(since__lte=today, until__gte=today, ended_at__isnull=True)

    def not_over(self) -> Self:
        return self.filter(until__gte=timezone.localdate(), ended_at__isnull=True)


class Substitute(Record):
    """Who decides in somebody's place, from one day until another; without a building, in all of theirs."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="substitutes")
    building = models.ForeignKey(Building, on_delete=models.CASCADE, null=True, related_name="substitutes")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="substitutes")
    stands_in = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="stands_in_for"
    )
    since = models.DateField()
    until = models.DateField()
    named_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    objects = SubstituteQuerySet.as_manager()

    class Meta:
        ordering = ["since", "until"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(person=F("stands_in")), name="nobody_is_their_own_substitute"
            ),
            models.CheckConstraint(
                condition=Q(until__gte=F("since")), name="substitution_ends_after_it_began"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True)
                | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="substitution_that_was_ended_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stands_in} for {self.person}"

    @property
    def is_in_force(self) -> bool:
        return self.ended_at is None and self.since <= timezone.localdate() <= self.until
