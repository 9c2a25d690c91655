"""What a site's key desk asks for: the terms people sign, how long keys stay out, deposits, stamping."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet
from keyctl.keys.models.people import PersonKind
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class Terms(AppendOnly, Record):
    """One version of the text that a person signs. What was signed is not reworded: a change is the next."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="terms")
    number = models.PositiveIntegerField()
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = AppendOnlyQuerySet["Terms"].as_manager()

    class Meta:
        ordering = ["site__code", "-number"]
        verbose_name_plural = "terms"
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="terms_number_is_unique_at_its_site"),
            models.CheckConstraint(condition=~models.Q(text=""), name="terms_have_a_text"),
        ]

    def __str__(self) -> str:
        return _("Terms {number} of {site}").format(number=self.number, site=self.site)


class DeskSettings(Record):
    """One row a site. ``last_number`` is that of the site's latest act at the desk."""

    class Stamping(models.TextChoices):
        SERIAL = "serial", gettext_lazy("The serial only")
        FREE = "free", gettext_lazy("A text of ours that names no key and no door")
        ANY = "any", gettext_lazy("Any text")

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="desk_settings")
    terms = models.ForeignKey(Terms, on_delete=models.PROTECT, null=True, related_name="+")
    # How long a key stays out where nobody says a day; none: until somebody asks for it.
    staff_days = models.PositiveSmallIntegerField(null=True, blank=True)
    student_days = models.PositiveSmallIntegerField(null=True, blank=True)
    contractor_hours = models.PositiveSmallIntegerField(null=True, blank=True)
    other_days = models.PositiveSmallIntegerField(null=True, blank=True)
    # In the smallest unit of the currency, for one key of the level.
    change_deposit = models.PositiveIntegerField(default=0)
    master_deposit = models.PositiveIntegerField(default=0)
    top_deposit = models.PositiveIntegerField(default=0)
    control_deposit = models.PositiveIntegerField(default=0)
    currency = models.CharField(max_length=3, default="USD")
    stamping = models.CharField(max_length=8, choices=Stamping, default=Stamping.SERIAL)
    last_number = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "desk settings"
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(currency=""),
                name="desk_settings_name_a_currency",
            )
        ]

    def __str__(self) -> str:
        return f"Key desk of {self.site}"

    def loan_hours(self, kind: str) -> int | None:
        if kind == PersonKind.CONTRACTOR:
            return self.contractor_hours
        days = {PersonKind.STAFF: self.staff_days, PersonKind.STUDENT: self.student_days}
        found = days.get(PersonKind(kind), self.other_days)
        return None if found is None else found * 24

    def deposit_for(self, symbol: KeySymbol) -> int:
        if symbol.is_control:
            return self.control_deposit
        if not symbol.is_master:
            return self.change_deposit
        return self.top_deposit if symbol.level == 0 else self.master_deposit
