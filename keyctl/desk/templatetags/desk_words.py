"""Amounts as people write them."""

from django import template

from keyctl.lib.money import amount_words

register = template.Library()
register.filter("money", amount_words)
