"""Words of the trade: what each means, where it comes from, and how it is shown beside a word on a page."""

from django.apps import AppConfig


class WordsConfig(AppConfig):
    name = "keyctl.words"
