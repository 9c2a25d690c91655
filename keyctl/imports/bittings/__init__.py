"""Bitting lists among the imports: tried and written by `inherited`, kept account of and undone here."""
