"""Suspects turned into the numbers a meter would show."""
