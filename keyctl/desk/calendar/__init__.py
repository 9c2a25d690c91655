"""Due days as calendars (RFC 5545)."""

from keyctl.desk.calendar.feeding import calendar_of, may_have, sites_with

__all__ = ["calendar_of", "may_have", "sites_with"]
