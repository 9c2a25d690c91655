"""Filters for days and moments, at hand in every template: they follow the person's choice."""

from django import template

from keyctl.lib import days

register = template.Library()

for _filter in (days.day, days.weekday, days.short_day, days.moment, days.short_moment, days.exact_moment):
    register.filter(_filter.__name__, _filter, expects_localtime=True)
