"""Sheets for the bench and the door, of one order or wave."""
