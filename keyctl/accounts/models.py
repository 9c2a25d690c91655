"""People who sign in. What they may do is granted per site, in places."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils import timezone

from keyctl.lib.records import Record


class UserManager(BaseUserManager["User"]):
    def create_user(
        self, username: str, *, display_name: str, password: str | None = None, email: str = ""
    ) -> "User":
        user = self.model(username=username, display_name=display_name, email=self.normalize_email(email))
        user.set_password(password)
        user.save()
        return user


class User(Record, AbstractBaseUser):
    username = models.CharField(max_length=60)
    display_name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now)

    objects = UserManager()

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["display_name"]

    class Meta:
        ordering = ["username"]
        constraints = [models.UniqueConstraint(fields=["username"], name="user_name_is_unique")]

    def __str__(self) -> str:
        return self.display_name
