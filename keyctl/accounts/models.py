"""People who sign in. What they may do is granted per site, in places."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.days import ISO, MONTH_FIRST
from keyctl.lib.language import ENGLISH
from keyctl.lib.records import Record


class UserManager(BaseUserManager["User"]):
    def create_user(
        self, username: str, *, display_name: str, password: str | None = None, email: str = ""
    ) -> "User":
        user = self.model(username=username, display_name=display_name, email=self.normalize_email(email))
        user.set_password(password)
        user.save()
        return user


class Language(models.TextChoices):
    """Each is called what its speakers call it, in every language."""

    __empty__ = gettext_lazy("As the browser asks")
    ENGLISH = ENGLISH, "English"
    GERMAN = "de", "Deutsch"


class Dates(models.TextChoices):
    __empty__ = gettext_lazy("As the language has it: 27 Nov 2026")
    ISO = ISO, "2026-11-27"
    MONTH_FIRST = MONTH_FIRST, "Nov 27, 2026"


class Units(models.TextChoices):
    __empty__ = gettext_lazy("As each core format is measured")
    INCH = "inch", gettext_lazy("Inches")
    MILLIMETRE = "mm", gettext_lazy("Millimetres")


class User(Record, AbstractBaseUser):
    username = models.CharField(max_length=60)
    display_name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now)

    # How pages speak to them. Empty: as their browser asks, and as each construction is measured.
    language = models.CharField(max_length=10, blank=True, choices=Language)
    dates = models.CharField(max_length=5, blank=True, choices=Dates)
    units = models.CharField(max_length=4, blank=True, choices=Units)

    objects = UserManager()

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["display_name"]

    class Meta:
        ordering = ["username"]
        constraints = [models.UniqueConstraint(fields=["username"], name="user_name_is_unique")]

    def __str__(self) -> str:
        return self.display_name


class Session(AbstractBaseSession):
    """A browser that is signed in, or about to be. Its row is found by a digest of what the browser sends,
    so that a copy of the database lets nobody in."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, null=True, related_name="sessions")
    address = models.GenericIPAddressField(null=True)
    browser = models.CharField(max_length=60, blank=True)
    signed_in_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-seen_at"]

    @classmethod
    def get_session_store_class(cls) -> type:
        from keyctl.accounts.sessions import SessionStore

        return SessionStore


class Tally(models.Model):
    """What all processes count together: tries of signing in, codes that were used."""

    key = models.CharField(max_length=64, primary_key=True)
    value = models.JSONField()
    expires_at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return self.key


class WayBack(Record):
    """Lets a person who lost all factors in once more, with a new password. Made at the machine itself."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="ways_back")
    digest = models.CharField(max_length=64)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["digest"], name="way_back_is_unique")]
