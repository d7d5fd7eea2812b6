"""How a job can end, in the words that its record keeps."""

from __future__ import annotations

REPAIRED, OUTSIDE, SOUND = "repaired", "outside", "nothing wrong"
RETURNED, SCRAPPED, PARKED = "returned", "scrapped", "parked"
WAYS_TO_END = (REPAIRED, OUTSIDE, SOUND, RETURNED, SCRAPPED, PARKED)
HANDED_BACK = (REPAIRED, OUTSIDE, SOUND, RETURNED)  # after these the owner has it again
