"""What a format is called, for templates."""

from django import template

from keyctl.formats import naming

register = template.Library()
register.filter(naming.name_of)
