"""keyctl: key control for places with many doors, several sites and interchangeable cores."""

__version__ = "1.0.0"
