"""``manage.py makemessages``: as ever, and what `pinning` says is gathered too, by the names it has there."""

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=said", "--keyword=counted:1,2"]
