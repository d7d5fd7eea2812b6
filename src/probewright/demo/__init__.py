"""Invented machines with recorded readings, to see the tool at work."""
