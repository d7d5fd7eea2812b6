"""Bench shorthand spelled out before a line is understood: lists of pins, words for figures, one unit for two channels.

Each rule says the same thing in longer words; none of them guesses. What would have to be guessed is asked.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from probewright.readings.doubts import Unsure

NUMBER = r"[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
FIGURE = rf"{NUMBER}\s?(?:[mkµu]?V(?:pp)?|[kM])?"
GAP = r"(?:\s*[/,;]\s*|\s+)"
CHANNEL = r"(?:l|r|left|right)"
SAME_UNIT = re.compile(rf"(?i)\b({CHANNEL})\s+({NUMBER})\s+({CHANNEL})\s+({NUMBER})\s*(m?V(?:pp|rms)?|vpp|vrms)\b")
PLACE_LAST = re.compile(
    rf"(?i)^(\s*{CHANNEL}\s+\S+(?:\s?m?Vpp)?\s+{CHANNEL}\s+\S+(?:\s?m?Vpp)?)\s+"
    r"(?!at\b|on\b|after\b|before\b|same\b|shape\b|of\b|and\b)(?=[a-z]{2})"
)
PINS = re.compile(
    rf"(?i)\b([a-z]+\d+)\s+pins?\s+((?:\d+(?:\s*,\s*|\s+)){{1,}}\d+)\s*[:=]\s*((?:{FIGURE}{GAP})+{FIGURE})\s*$"
)
LEGS = re.compile(rf"(?i)\b([a-z]+\d+)\s+([cbe](?:/?[cbe]){{1,2}})\s+((?:{FIGURE}{GAP})+{FIGURE})\s*$")
OF_A_RAIL = re.compile(
    rf"(?i)^\s*(?:the\s+)?({NUMBER}\s?v)\s+(?:is|reads|measures|shows|sits at)\s+(?={NUMBER}\s?V?(?:\s?dc)?[ .!]*$)"
)
LEAD = r"(?:\s+(?:lead|probe))?\s+(?:on|at|to)\s+(?:the\s+)?"
ON_DIODE = r"(?:(?:on|in)\s+)?(?:the\s+)?diode(?:\s+range)?"
ANSWER = rf"(?:{FIGURE}|\d+[kMR]\d+|OL|(?:no\s+)?beeps?)(?:\s?(?:dc|ohms?|{ON_DIODE}))?"
BY_COLOUR = re.compile(
    rf"(?i)^\s*(red|black){LEAD}(.+?)[,;]?\s+(?:and\s+)?(?!\1)(?:red|black){LEAD}(.+?)(?=[,:;]?\s+(?:diode\s+)?{ANSWER}\s*$)"
)
LEG = re.compile(r"(?i)([a-z]{1,3}\d+[a-z]?)\s+(anode|cathode|[a-z])")  # "D1 a": its anode, and no article
CONTINUITY = re.compile(
    r"(?i)^\s*(?:(?:there(?:'s| is)|got)\s+)?(?P<no>no\s+)?continuity\s+(?:(?:between|from|across)\s+)?"
    r"(?P<one>\S+(?:\s\S+)?)\s+(?:to|and)\s+(?P<other>\S+(?:\s\S+)?)\s*$"
)
OUT = r"(?:desoldered|unsoldered|lifted|taken out)"
READS = r"(?:\s*[:,=]\s*|\s+(?:(?:it\s+)?(?:reads|measures|is)\s+)?)(?=[\d.]|OL\b)"
OUT_FIRST = re.compile(rf"(?i)^\s*(?:i\s+)?{OUT}\s+(?:the\s+)?(?P<part>[a-z]{{1,3}}\d+[a-z]?){READS}")
OUT_BEHIND = re.compile(rf"(?i)^\s*(?P<part>[a-z]{{1,3}}\d+[a-z]?)\s+(?:is\s+)?{OUT}{READS}")
SPELLED = {
    "half": 0.5,
    "one": 1.0,
    "two": 2.0,
    "three": 3.0,
    "four": 4.0,
    "five": 5.0,
    "six": 6.0,
    "nine": 9.0,
    "twelve": 12.0,
}


def _to_black(found: re.Match[str]) -> str:
    """ "black on D1 k, red on D1 a": from red to black, each leg on its part."""
    one, other = (LEG.sub(r"\1.\2", end) if LEG.fullmatch(end) else end for end in found.group(2, 3))
    return f"{one} to {other}" if found[1].casefold() == "red" else f"{other} to {one}"


def _source(found: re.Match[str]) -> str:
    """The source of a field-effect transistor, beside its gate or drain; else whatever feeds the machine."""
    return "s" if re.search(r"(?i)\b(?:gate|drain)\b", found.string) else found[0]


RULES: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (SAME_UNIT, r"\1 \2 \5 \3 \4 \5"),
    (PLACE_LAST, r"\1 at "),
    (re.compile(r"(?i)\bhalf an? volt\b"), "0.5 V"),
    (
        re.compile(r"(?i)\b(one|two|three|four|five|six|nine|twelve) and a half (?=volts?\b)"),
        lambda found: f"{SPELLED[found[1].lower()] + 0.5:g} ",
    ),
    (re.compile(r"(?i)(?<=\d)\s?meg(?:ohms?|s)?\b"), "M ohm"),
    (re.compile(rf"(?<![\w.,])({NUMBER})\s?C\b(?!\s*[=:]?\s*[-+]?[\d.,])"), r"\1 °C"),
    # behind a numbered pin it is a sign; behind a part or a battery it is the name of a pin
    (re.compile(rf"(?i)(\b(?:pin|leg)\s+\d+)\s+minus\s+(?={NUMBER}\s?m?V\b)"), r"\1 -"),
    (re.compile(rf"(?i)(?<=pin \d)\s+plus\s+(?={NUMBER}\s?m?V\b)"), " "),
    (re.compile(r"(?i)\bat (?=[-+]?[\d.,]+\s?(?:m?v(?:olts?)?\b|$|,))"), ""),
    (re.compile(r"(?i)\bwithout power\b"), "power off"),
    (CONTINUITY, lambda found: f"{found['one']} to {found['other']} {'no beep' if found['no'] else 'beeps'}"),
    (OUT_FIRST, r"\g<part> out of circuit "),
    (OUT_BEHIND, r"\g<part> out of circuit "),
    (re.compile(r"(?i)^\s*(?:the\s+)?(?:net|node)\s+(?=[a-z])"), ""),
    (re.compile(r"(?i)\b(?:condensers?|condensators?)\b"), "capacitor"),
    (re.compile(r"(?i)\b(plus|minus|positive|negative) pole\b"), r"\1 end"),
    (re.compile(r"(?i)(?<=\d)(\s+[^,;]*?)\b(?<!fast )(?:forward|fwd|one way)\b"), r"\1"),
    (re.compile(r"(?i)(?<=[\w.]),?\s+(ol|o/l)\s+(?:rev(?:ersed?)?|(?:the\s+)?other)(?:\s+way)?\b"), r", other way \1"),
    (re.compile(r"(?i)(?<=[\w.])\s*,?\s+rev(?:erse)?\s+(?=ol\b|o/l\b|[\d.])"), ", other way "),
    (re.compile(r"(?i)\bmegg?ered\b"), ""),
    # "drop" is what lies across a part, and "the 5V is 4.2V" is said of its rail
    (
        re.compile(
            r"(?i)\b(?:(?:volts?|voltage)\s+)?drop(?:ped)?\s+(?:(?:across|over)\s+(?:the\s+)?|on\s+(?=[a-z]{1,3}\d))"
        ),
        "across ",
    ),
    (OF_A_RAIL, r"\1 rail "),
    (BY_COLOUR, _to_black),
    (re.compile(r"(?i)\b(i've|i have|i) (?:got|get|see|had) (?=[\d.])"), ""),
    (re.compile(r"(?i)\b(ic|u)(\d+)pin\s?(\d+)\b"), r"\1\2 pin \3"),
    (re.compile(r"(?i)(?<=\d)pin\s?(\d+)\b"), r" pin \1"),
    (re.compile(r"(?i)\bpn (?=\d)"), "pin "),
    (re.compile(r"(?i)\b(c\d+)\s?\+\s+(?=gnd\b|ground\b)"), r"\1+ to "),
    (re.compile(r"(?i)^\s*ohms\s+(?=[a-z]+\d)"), ""),
    (re.compile(rf"(?i)(?<=\w)\s+(k?ohms?|volts?|mv)\s+({NUMBER})\s*$"), r" \2 \1"),
    (re.compile(r"(?i)\b(?:swap leads|leads swapped|swapped leads)\b"), "leads other way"),
    (re.compile(r"(?i)\bsource\b(?=\s+[-+]?[\d.])"), _source),
    (re.compile(r"(?i)\bi put the (?:meter|probe)\b"), ""),
)


def spelled_out(text: str) -> str:
    """The line in longer words. Unsure for what only its writer knows."""
    _ask(text)
    for pattern, longer in RULES:
        text = pattern.sub(longer, text)
    text = PINS.sub(lambda found: _paired(found[1], re.findall(r"\d+", found[2]), found, "pin "), text)
    text = LEGS.sub(lambda found: _paired(found[1], re.findall(r"[cbeCBE]", found[2]), found, ""), text)
    if re.match(r"(?i)\s*(?:signal|sig|tone)\b", text):
        text = re.sub(r"(?i)\b(?:nothing|none|nowt)\b", "no signal", text)
    return text


def _paired(part: str, pins: list[str], found: re.Match[str], word: str) -> str:
    """ "IC4 pins 1 2 3: 0.3 0.3 5.1" with every figure behind its pin; as it was where the counts differ."""
    figures = re.findall(FIGURE, found[3])
    if len(figures) != len(pins):
        return found[0]
    return ", ".join(f"{part} {word}{pin} {figure.strip()}" for pin, figure in zip(pins, figures, strict=True))


def _ask(text: str) -> None:
    """What reads smoothly and could be taken wrongly."""
    if so := re.search(r"(?i)\bso\b[^,;]*\b(?:fine|ok|okay|good|alright|works)\s*$", text):
        moving = re.search(r"(?i)\b(?:clock|clk|data|video|sync|audio)\b", text)
        raise Unsure(
            "moving" if moving else "conclusion",
            "direct volts of a moving line say little of it" if moving else f"{so[0].strip()!r} is a conclusion",
            "write what a scope shows, or only the figure" if moving else "write what was seen or read",
            so.start(),
        )
    if bare := re.search(r"(?i)\b((?:q|tr?|u|ic)\d+)\s+(?:is\s+|reads\s+)?(?:the\s+)?same\b", text):
        raise Unsure("place", f"{bare[1]} the same: at which pin?", f"name it: `{bare[1]} c same`", bare.start())
    if other := re.search(r"(?i)(?:[,;]\s*|\s)(?:r|l|right|left)\s+same\s*$", text):
        if len(re.findall(rf"(?:^|\s){NUMBER}(?=\s|,|$)", text[: other.start()])) > 1:
            raise Unsure(
                "unclear", "several figures stand before it: which are the same?", "write them out", other.start()
            )
    if aside := re.search(r"(?i),\s*which\s+(?:is|means|makes)\b", text):
        raise Unsure(
            "unclear",
            "what stands behind `which` is not a reading",
            "leave it out, or put it behind ` #`",
            aside.start(),
        )
