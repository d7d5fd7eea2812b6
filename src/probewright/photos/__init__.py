"""Photographs and scanned sheets: what may come in, what is kept of it, and the folder it is kept in.

Nothing that came in is kept as it came: a picture is taken apart into its dots and written anew, so
that neither the place where it was taken nor anything hidden behind it goes along. The image library
is loaded when the first picture comes.
"""

from probewright.photos.accepting import Photo, accept
from probewright.photos.shelf import PhotoShelf

__all__ = ["Photo", "PhotoShelf", "accept"]
