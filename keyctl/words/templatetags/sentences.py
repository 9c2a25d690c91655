"""Labels in the midst of a sentence: ``{{ step.label|in_sentence }}``."""

from django import template

from keyctl.lib.language import in_sentence

register = template.Library()
register.filter(in_sentence)
