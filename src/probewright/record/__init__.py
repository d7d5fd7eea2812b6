"""The lasting record of a bench: every job a list of events that is only ever added to.

Opened without any physics; the database library is loaded when a book is opened, not before.
"""

from probewright.record.book import Book, open_book
from probewright.record.events import Event, NoSuchJob, NotPlain, stamp
from probewright.record.index import Hit
from probewright.record.unwritten import Unwritten

__all__ = ["Book", "Event", "Hit", "NoSuchJob", "NotPlain", "Unwritten", "open_book", "stamp"]
