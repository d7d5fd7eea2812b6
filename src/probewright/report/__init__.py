"""Views as plain text for a person at the bench."""
