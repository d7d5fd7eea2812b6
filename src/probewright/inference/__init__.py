"""Readings taken and what they do to belief: refresh, explanation, surprise, look-alikes."""
