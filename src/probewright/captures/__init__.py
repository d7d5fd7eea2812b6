"""Waveforms that an oscilloscope wrote to a file: read, measured, thinned for a picture.

A file of text with figures in columns becomes a frozen `Capture`, or one complaint that says where and how to mend it.
"""

from probewright.captures.capture import Capture
from probewright.captures.measuring import Figure, Measured, measure
from probewright.captures.reading import read_capture
from probewright.captures.thinning import thinned
from probewright.captures.video import Video, video_of

__all__ = ["Capture", "Figure", "Measured", "Video", "measure", "read_capture", "thinned", "video_of"]
