"""The lines a chain is typed in, messy as they come; what cannot be understood is complained about, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from probewright.machine.chain_bits import Bit, Draft, key
from probewright.machine.chain_blocks import block_of
from probewright.machine.chain_facts import share, supplies_of, take_fact
from probewright.machine.chains import Chain
from probewright.machine.model import GROUND
from probewright.machine.saying import Notes, nearest

ARROW = re.compile(r"\s*(?:[-=]*>|→|⇒)+\s*")
CHANNEL_WORDS = r"channels?|voices?|sides?|tracks?|lanes?"
MOST_CHANNELS = 64  # chosen: more is a slip


def understand(text: str, name: str) -> Chain:
    """The chain in these lines. BadInput with every complaint."""
    draft = Draft(Notes(""))
    lines = list(_lines(text))
    rest = [kept for line in lines if (kept := _channels(line, draft)) is not None]
    later = [line for line in rest if not _path(line, draft)]
    for line in later:
        take_fact(line, draft)
    if not draft.blocks and not draft.notes.complaints:
        first = lines[0] if lines else Bit("", 1, 1)
        draft.wrong(first, "no chain is written", "write `head > preamp > volume > phones`")
    share(draft)
    supplies = supplies_of(draft)
    draft.notes.stop_if_any()
    title = " ".join(re.sub(r"[:#\[\]{}\"'&*!|>%@`]", " ", name).split()) or "chain"
    return Chain(title, draft.blocks, draft.channels, supplies, tuple(draft.hanging))


def _lines(text: str) -> Iterator[Bit]:
    """Lines, and what stands between semicolons, without remarks."""
    for number, raw in enumerate(text.splitlines(), 1):
        for bit in Bit(raw.partition("#")[0], number, 1).split(";"):
            if bit.text:
                yield bit


# Channels ----------------------------------------------------------------------------------------


def _channels(line: Bit, draft: Draft) -> Bit | None:
    """Take channels off the front of a line; None when nothing is left of it."""
    head, colon, _ = line.text.partition(":")
    alone = not colon and not ARROW.search(line.text)
    marks = _marks(head) if colon or alone else {}
    if not marks:
        return line
    if draft.channels and draft.channels != marks:
        draft.wrong(line, f"the channels were {', '.join(draft.channels.values())} before", "name the same ones")
    draft.channels = marks
    rest = line.cut(len(head) + 1) if colon else Bit("", line.line, line.column)
    return rest if rest.text else None


def _marks(words: str) -> dict[str, str]:
    """Mark -> label of "left, right", "L/R", "stereo", "voices 1 to 4", "channels A, B"; empty when it is none."""
    plain = " ".join(words.lower().split())
    if plain in ("stereo", "two channels", "both channels", "l r"):
        return {"L": "left", "R": "right"}
    counted = re.fullmatch(rf"({CHANNEL_WORDS})\s*(\d+)\s*(?:to|-|–|\.\.+)\s*(\d+)", plain)
    if counted:
        first, last, noun = int(counted[2]), int(counted[3]), counted[1].rstrip("s")
        if 0 < last - first < MOST_CHANNELS:
            return {str(n): f"{noun} {n}" for n in range(first, last + 1)}
        return {}
    listed = re.sub(rf"^(?:{CHANNEL_WORDS})\s+|\s+(?:{CHANNEL_WORDS})$", "", plain)
    names = [one for one in re.split(r"\s*(?:,|/|&|\band\b|\+)\s*", listed) if one]
    if len(names) < 2 or len(set(names)) < len(names) or not all(re.fullmatch(r"[\w-]+", one) for one in names):
        return {}
    names = [{"l": "left", "r": "right"}.get(one, one) for one in names]
    first_letters = {one[0].upper() for one in names}
    short = len(first_letters) == len(names)
    return {(one[0].upper() if short else one): one for one in names}


# Paths -------------------------------------------------------------------------------------------


def _path(line: Bit, draft: Draft) -> bool:
    """Take a line of blocks; False when it is none."""
    if not ARROW.search(line.text):
        return False
    bits = line.split(ARROW)
    blank = next((bit for bit in bits if not bit.text), None)
    if blank is not None:
        draft.wrong(blank, "an arrow with nothing on one side of it", "write a block on both sides: `preamp > volume`")
        return True
    first, *others = bits
    before = key(first.text)
    if not draft.blocks:
        _add(first, "", draft, last=False)
    elif before not in draft.blocks:
        known = nearest(first.text, draft.blocks)
        draft.wrong(first, f"a branch begins at a block of the chain, and {first.text!r} is none", known)
        return True
    for number, bit in enumerate(others):
        before = _add(bit, before, draft, last=number == len(others) - 1)
    return True


def _add(bit: Bit, before: str, draft: Draft, last: bool) -> str:
    """A new block behind another; its name."""
    block = block_of(bit, before, draft, last)
    if block.name in draft.blocks:
        seen = draft.said[block.name]
        draft.wrong(
            bit,
            f"{bit.text!r} stands in line {seen.line} already, and a block has one place in the chain",
            f"call this one `{bit.text} 2`, or begin the branch at it",
        )
    elif not block.name or block.name == GROUND:
        draft.wrong(bit, f"{bit.text!r} has no name", "write what it is called: `preamp`")
    else:
        draft.blocks[block.name], draft.said[block.name] = block, bit
    return block.name
