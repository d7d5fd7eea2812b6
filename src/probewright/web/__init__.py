"""The bench page: a job with hands busy, in a browser on this computer."""
