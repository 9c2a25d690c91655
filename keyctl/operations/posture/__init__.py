"""How this installation is guarded now: one list of named checks, each with what to do about it.

`/security/` shows it, and `manage.py check_security` prints it for whatever watches the machine.
"""
