"""How it runs: the address, the worker, mail, jobs, backups and what the nightly looks said."""

from datetime import timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _

from keyctl.audit.models import Event
from keyctl.jobs.models import Job
from keyctl.lib.days import day
from keyctl.lib.numbers import as_number
from keyctl.notices.models import Notice
from keyctl.operations.backup.drilling import DRILLED
from keyctl.operations.backup.folder import age_of_newest
from keyctl.operations.models import EstateCheck
from keyctl.operations.posture.finding import Finding, act, good, look
from keyctl.operations.readiness import probes

LATELY = timedelta(days=7)
BACKUP_WITHIN = timedelta(hours=36)
DRILL_WITHIN = timedelta(days=100)
CHECK_WITHIN = timedelta(hours=36)
LOOPBACK = {"127.0.0.1", "localhost", "::1"}


def address() -> Finding:
    if settings.BASE_URL.startswith("https://"):
        return good(
            _("{base_url}: cookies go by TLS only, and browsers are told to stay with it.").format(
                base_url=settings.BASE_URL
            )
        )
    if urlsplit(settings.BASE_URL).hostname in LOOPBACK:
        return look(_("{base_url}: this machine only, without TLS.").format(base_url=settings.BASE_URL))
    return act(
        _("{base_url}: passwords and sessions go over the network in the open.").format(
            base_url=settings.BASE_URL
        )
    )


def debug() -> Finding:
    if settings.DEBUG:
        return act(_("Debug pages are on: an error shows settings and values to whoever meets it."))
    return good(_("Off."))


def work() -> Finding:
    wrong = [probe for probe in probes() if not probe.is_good and probe.name != "vault"]
    if any(probe.is_needed for probe in wrong):
        return act(" ".join(gettext(probe.remedy) for probe in wrong))
    return (
        look(" ".join(gettext(probe.remedy) for probe in wrong))
        if wrong
        else good(_("A worker lives, no routine is late."))
    )


def jobs() -> Finding:
    failed = Job.objects.filter(state=Job.State.FAILED, ended_at__gt=timezone.now() - LATELY).count()
    return (
        look(_("Jobs that failed within a week: {failed}.").format(failed=failed))
        if failed
        else good(_("None failed within a week."))
    )


def mail() -> Finding:
    """Reminders, decisions and findings reach nobody where mail does not go out."""
    if not settings.EMAIL_HOST:
        return look(_("No mail server is named: messages are kept, not sent."))
    failed = Notice.objects.filter(state=Notice.State.FAILED, written_at__gt=timezone.now() - LATELY).count()
    return (
        look(_("Messages that could not be sent within a week: {failed}.").format(failed=failed))
        if failed
        else good(_("Goes out."))
    )


def backup() -> Finding:
    age = age_of_newest(timezone.now())
    if age is None:
        return look(_("No folder for backups is named (KEYCTL_BACKUP_DIR)."))
    if age == float("inf"):
        return act(_("There is no backup in {backup_dir}.").format(backup_dir=settings.BACKUP_DIR))
    words = _("The newest backup is {number} hours old.").format(number=as_number(round(age / 3600)))
    return act(words) if age > BACKUP_WITHIN.total_seconds() else good(words)


def drill() -> Finding:
    last = Event.objects.filter(verb=DRILLED).order_by("-at").first()
    if last is None:
        return look(_("No backup was ever brought back as a drill."))
    words = _("A backup was last brought back as a drill on {when}.").format(
        when=day(timezone.localdate(last.at))
    )
    return look(words) if timezone.now() - last.at > DRILL_WITHIN else good(words)


def estate() -> Finding:
    last = EstateCheck.objects.first()
    if last is None:
        return look(_("The data was never held against the laws."))
    if not last.is_clean:
        return act(_("Breaches that the last look at all data found: {number}.").format(number=last.number))
    age = timezone.now() - last.at
    words = _("All data was held against {laws} laws {number} hours ago: no breach.").format(
        laws=last.laws, number=as_number(round(age.total_seconds() / 3600))
    )
    return look(words) if age > CHECK_WITHIN else good(words)


def contact() -> Finding:
    if settings.SECURITY_CONTACT:
        return good(
            _("Whoever finds a weakness is told to write to {security_contact}.").format(
                security_contact=settings.SECURITY_CONTACT
            )
        )
    return look(_("Nobody is named to whom a weakness is told."))
