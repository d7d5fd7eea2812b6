"""The words in which the opening of a machine is said. Where nothing else stands: common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Mapping

INCH = 25.4  # mm
LONGEST = 500.0  # mm, chosen: no screw of a thing that stands on a bench is longer
MOST_LETTERS = 400  # chosen: a layer is a line
MOST = 200  # chosen: more of one kind in one layer is a slip
FORMS = (
    "write `4 screws M3x6 bottom`, `tray A`, `2 clips left`, `ribbon J3 pull tab up`, `heatsink of U1 off`, "
    "`earth wire`, `paste`, `caution spring`, `check ...`, `at most 20 s of power`, `no power without it` or `note ...`"
)
ONE_TO_TWELVE = ("a an one single", "two both", *"three four five six seven eight nine ten eleven twelve".split())
NUMBERS: Mapping[str, int] = {word: n for n, words in enumerate(ONE_TO_TWELVE, 1) for word in words.split()}


def form(*pieces: str) -> re.Pattern[str]:
    """A pattern in which capitals make no difference."""
    return re.compile("".join(pieces), re.IGNORECASE)


# Fixings -------------------------------------------------------------------------------------
COUNT = rf"(?P<count>\d{{1,4}}|{'|'.join(NUMBERS)})"
FIXING = r"(?P<noun>screw|bolt|nut|washer|spacer|stand-?off|pillar|stud)(?:e?s)?"
THREAD = r"(?P<thread>m\d(?:\.\d)?)(?:\s*[x×*]\s*(?P<by>\d+(?:[.,]\d+)?)(?:\s*mm)?)?"
LENGTH = r"(?P<length>\d+(?:[.,]\d+)?)\s*(?P<unit>mm|cm|inch(?:es)?|in\b|\")(?:\s+long)?"
FRACTION = r"(?P<over>\d+)/(?P<under>[1-9]\d*)\s*(?:inch(?:es)?|in\b|\")"
LOOKS = (  # what tells one screw from another
    "long|short|big|small|thick|thin|black|silver|brass|plastic|nylon|steel|self[- ]?tapping|tapping|tapered|wood|"
    "machine|countersunk|pan[- ]?head|flat[- ]?head|round[- ]?head|hex|torx|t\\d{1,2}|pozi(?:driv)?|pz\\d|phillips|"
    "ph\\d|cross|slotted|security|shoulder|captive|lock|locking|spring|star|fibre|insulating|coarse|fine"
)
TAKEN_OUT = form(r"^(?:undo|remove|unscrew|take out)\s+(?:the\s+)?")
COUNT_FIRST = form(rf"(?:x\s*)?{COUNT}\s*(?:[x×]\s*|pcs\s+|\b)\s*")
COUNT_LAST = form(
    rf"(?P<what>{FIXING})\s*(?:[x×:]\s*)?(?P<count>\d{{1,4}})(?![.,]?\d)(?!\s*(?:mm|cm|in\b|\"|/))\s*[x×]?\s*"
)
TOLD = form(rf"\s*(?:{FIXING}\b|{THREAD}|{LENGTH}|{FRACTION}|(?P<look>{LOOKS})\b|of\b|each\b)\s*")
ANY_FIXING = form(rf"\b{FIXING}\b")
PUT = form(
    r"(?:(?:in|into|to|on|put (?:them )?(?:in|into))\s+)?(?:the\s+)?(?P<put>(?:tray|bag|cup|pot|box|jar|tin|dish|",
    r"saucer|drawer|magnet|envelope|compartment|pocket|egg ?box)(?:\s+\w{1,12})?|back in (?:their|its) holes?)",
)
WHERE = form(r"^(?:from|at|on|in|of|by|to)\s+(?:the\s+)?(?=\S)")
# Layers --------------------------------------------------------------------------------------
AWAY = r"(?:off|out|away|open|loose|free|lifted|removed|taken off|taken out|up|aside)"
TAKE = (
    r"(?:remove|take off|take out|took off|took out|lift(?: off| out| up)?|lifted|slide(?: off| out)|slid|pull out|"
    r"pull off|unscrew|unscrewed|undo|open|hinge|fold|folded)"
)
COMES_OFF = form(
    rf"{TAKE}\s+(?:the\s+)?(?P<what>.{{1,60}}?)(?:\s+{AWAY})?|",
    rf"(?:the\s+)?(?P<named>.{{1,60}}?)\s+(?:comes\s+|came\s+|is\s+)?{AWAY}",
)
LAYERS = form(  # what comes off in one piece
    r"(?:\w+[ -]){0,2}(?:lids?|covers?|cases?|backs?|fronts?|panels?|boards?|pcbs?|chassis|bezels?|knobs?|",
    r"keyboards?|tops?|bottoms?|bases?|cabinets?|shells?|hatch(?:es)?|frames?|halves|half|modules?|drives?|feet|plates?)",
)
HEAD = re.compile(r"\s*(?P<head>[^:,;]{1,40}):(?:\s+|$)(?P<rest>.*)", re.DOTALL)
# What holds, cools, earths -------------------------------------------------------------------
CABLE = form(
    r"(?:(?:unplug|disconnect|pull|free)\s+)?(?:\S+\s+){0,3}?\b(?P<noun>ribbons?|flat cables?|flex(?:es)?|fpcs?|ffcs?|",
    r"plugs?|connectors?|cables?|leads?|harness(?:es)?|wires?|aerials?|antennas?)\b",
)
UNPLUGGED = form(r"(?:unplug|disconnect|pull)\s+(?:the\s+)?[A-Z]{1,4}-?\d.*")
DESIGNATOR = form(r"\b[A-Z]{1,4}-?\d{1,4}[A-Z]?\b")
DESIGNATORS = form(rf"{DESIGNATOR.pattern}(?:\s+(?:and|&|\+)\s+{DESIGNATOR.pattern})*")
FAR_END = form(r"\b(?:to|from|into|of|on)\b")
CLIPS = form(
    rf"(?:{COUNT}\s+)?(?:x\s+)?(?:(?:hidden|plastic|side)\s+)*(?:clips?|catch(?:es)?|lugs?|hooks?|tabs?|",
    r"(?P<with_count>latch(?:es)?|knobs?))\b\s*",
    r"(?P<where>.*)",
)
THINGS = tuple(  # what a number is said of, for slips of the finger
    f"{one}{more}"
    for one in "screw bolt nut washer spacer standoff pillar stud clip catch latch lug hook tab knob".split()
    for more in ("", "es" if one.endswith("ch") else "s")
)
SLIP = 0.75  # chosen, of difflib: "skrews" and "wahsers" are slips, "people", "turns" and "thingies" are none
HEATSINK = form(
    r"(?:the\s+)?(?:heat ?sinks?|sinks?)(?:\s+(?:of|from|on)\s+(?P<of>\S+))?(?:\s+(?:is\s+|comes\s+)?",
    r"(?:off|out|away|loose))?|(?P<whose>\S+?)(?:'s|’s)?\s+heat ?sink(?:\s+(?:off|out|loose))?",
)
SCREEN = form(
    r"(?:the\s+)?(?:screen|shield)(?:ing)?(?:\s+(?:can|plate|box))?(?:\s+(?:of|from|on|over)\s+(?P<of>.+?))?",
    r"(?:\s+(?:is\s+|comes\s+)?(?:off|out|away|loose))?",
)
EARTH = form(
    r".*\b(?:earth(?:ing)?|ground(?:ing)?|chassis)\b",
    r"(?=.*\b(?:wire|lead|tag|strap|braid|screw|spring|finger|off|loose|lost)\b).*|",
    r"(?:loses?|no)\s+(?:its\s+)?(?:earth|ground).*|(?:the\s+)?earth",
)
BETWEEN = form(
    r".*\b(?:paste|compound|mica|silicone|thermal pad|(?:insulat\w+|heat) (?:pad|sheet|washer|bush)\w*|",
    r"insulating bush\w*)\b.*",
)
# What is said besides ------------------------------------------------------------------------
CARE = form(
    r"(?:cautions?|careful|care|mind|beware(?: of)?|watch(?: out)?(?: for)?|warning|attention)\b[:!]?\s*(?P<what>.+)"
)
CHECK = form(r"(?:then\s+)?(?:re-?)?(?:check|test|measure)\b:?\s+(?P<what>.+)")
IS_NOTE = r"(?:note|remark|n\.?b\.?)\b:?\s+"
NOTE = form(IS_NOTE, r"(?P<what>.+)")
NUMBERED = form(rf"(?:\d|(?:both|{'|'.join(one for one, n in NUMBERS.items() if n > 1)})\b).*")
NO_POWER = form(r"(?:no|never) power (?:without|till|until|before)\b.*|not (?:to be )?powered without\b.*")
SOME_POWER = form(
    r"(?:at most|no more than|max(?:imum)?|under)\s+(?P<time>\d{1,5})\s*(?P<unit>s|sec(?:onds?)?|min(?:utes?)?)\b",
    r"(?:\s+(?:of\s+)?power)?(?:\s+(?:on|without).*)?",
)
# Between pieces ------------------------------------------------------------------------------
OWN_WORDS = (CARE, CHECK, NOTE)  # forms whose words are a person's own
APART = re.compile(r"[;()\n]|,(?!\d)|(?<!\d),")  # a comma between digits is a decimal comma
AND = form(r"\s+(?:and|plus|\+|&)\s+")
BEHIND = form(rf"\s+(?:(?:with|by|on)\s+)?(?={COUNT}\s*[x×]?\s*(?:\S+\s+){{0,3}}?{FIXING}\b)")
