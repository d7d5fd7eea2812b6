"""Probewright: from an owner's complaint to the part, joint or track that explains it."""

__version__ = "0.7.0"
