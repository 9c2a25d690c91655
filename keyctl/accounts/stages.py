"""Between a right password and a session: the second factor, of whoever has one."""

from allauth.mfa.stages import AuthenticateStage
from django.http import HttpResponseBase
from django.shortcuts import redirect


class SecondFactorStage(AuthenticateStage):
    urlname = "accounts:second-factor"

    def handle(self) -> tuple[HttpResponseBase | None, bool]:
        if not self._should_handle(self.request):
            return None, True
        return redirect(self.urlname), True
