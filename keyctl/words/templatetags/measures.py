"""Lengths in templates, as the person reads them."""

from django import template

from keyctl.lib import lengths

register = template.Library()

register.filter("as_length", lengths.length)
register.filter("in_mm", lengths.mm_figure)
register.filter("fine", lengths.fine)
register.simple_tag(lengths.shown, name="shown_units")
register.simple_tag(lengths.reads_mm, name="reads_mm")
