"""What is said of the blocks of a typed chain: supplies, what hangs to ground, what all channels share."""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.machine.chain_bits import Bit, Draft, key, written
from probewright.machine.chain_blocks import part_in_series
from probewright.machine.chains import Hanging, Supply
from probewright.machine.saying import nearest

SWITCHES = ("switch", "relay", "mute", "key", "contact", "jack")
OUTSIDE = ("adaptor", "adapter", "psu", "mains", "wall", "battery", "batteries", "wart")
RAIL_WORDS = re.compile(r"(?i)\b(?:rails?|supply|supplies|volts?|line)\b")


def take_fact(line: Bit, draft: Draft) -> None:
    """Supplies, what hangs to ground, what is shared."""
    if found := re.fullmatch(r"(?i)shared(?:\s+by\s+(?:all|both))?\s*:\s*(.+)", line.text):
        draft.shared += line.cut(*found.span(1)).split(r",|\band\b")
    elif found := re.fullmatch(r"(?i)(.+?)\s+to\s+(?:ground|gnd|earth|chassis)\s*[:=]?\s*(.*)", line.text):
        _hang(line.cut(*found.span(1)), line.cut(*found.span(2)), draft)
    elif found := re.fullmatch(r"(?i)(.+?)\s+(?:(?:is|are|runs?)\s+)?on\s+(?:the\s+)?(.+)", line.text):
        blocks = line.cut(*found.span(1))
        everything = re.fullmatch(r"(?i)all|all blocks|everything", blocks.text)
        draft.supplies.append((None if everything else blocks.split(r",|\band\b|\+"), line.cut(*found.span(2)), "on"))
    else:
        mend = "write blocks with > between, `left, right:`, `preamp on 12V`, `driver to ground: mute switch`"
        draft.wrong(line, f"{line.text!r} is not understood", mend)


def known_block(bit: Bit, draft: Draft) -> str | None:
    """The block meant, whatever its capitals; None, with a complaint, when there is none."""
    lower = {name.lower(): name for name in draft.blocks}
    found = lower.get(key(bit.text).lower())
    if found is None:
        draft.wrong(bit, f"no block of the chain is called {bit.text!r}", nearest(bit.text, draft.blocks))
    return found


def _hang(where: Bit, what: Bit, draft: Draft) -> None:
    """`driver to ground: mute switch`, `volume to ground: 100n`."""
    after = known_block(where, draft)
    if after is None:
        return
    if draft.blocks[after].kind == "load":
        draft.wrong(where, f"{where.text!r} is the end of the chain already", "name the block that drives it")
        return
    value = part_in_series(what, after, draft) if what.text else None
    count = len(draft.hanging) + 1
    name = key(what.text) if what.text and value is None else f"{value.name[0] if value else 'X'}{count}00"
    words = {*re.split(r"\W+", what.text.lower())}
    if value is not None:
        part = f"{value.kind} {value.value}"
    elif words & set(SWITCHES):
        part = "switch open"
    elif not what.text or what.text == "?":
        draft.wrong(where, "what hangs there is not said", f"write `{where.text} to ground: mute switch`, or a value")
        return
    else:
        part = "resistor ?"
    if name in draft.blocks or any(one.name == name for one in draft.hanging):
        draft.wrong(what, f"{what.text!r} is the name of something else already", "call it otherwise")
    draft.hanging.append(Hanging(name, after, part))


def share(draft: Draft) -> None:
    """Blocks that all channels share, and with them everything behind a shared block but the source."""
    for bit in draft.shared:
        if RAIL_WORDS.search(bit.text):
            owner = RAIL_WORDS.sub("", bit.text).strip()
            whose = [Bit(owner, bit.line, bit.column)] if owner else None
            draft.supplies.append((whose, replace(bit, text="?"), bit.text))
        elif name := known_block(bit, draft):
            draft.blocks[name] = replace(draft.blocks[name], shared=True)
    for name, block in draft.blocks.items():
        before = draft.blocks.get(block.after)
        if before is not None and before.shared and before.after:
            draft.blocks[name] = replace(block, shared=True)


def supplies_of(draft: Draft) -> tuple[Supply, ...]:
    """Supplies with the blocks on them; a block has one."""
    found: dict[str, Supply] = {}
    taken: dict[str, str] = {}
    for whom, what, _ in draft.supplies:
        names = [name for bit in whom if (name := known_block(bit, draft))] if whom is not None else _powered(draft)
        one = _supply(what, names, draft)
        if one is None:
            continue
        for name in [name for name in names if whom is not None and draft.blocks[name].kind not in ("block", "source")]:
            draft.wrong(what, f"{name} takes no supply", "name blocks")
        twice = next((name for name in names if name in taken and taken[name] != one.name), None)
        if twice and whom is not None:
            draft.wrong(what, f"{twice} is on {taken[twice]} already", "a block has one supply here: keep one line")
        names = [name for name in names if name not in taken]
        taken |= dict.fromkeys(names, one.name)
        feeds = (*(found[one.name].feeds if one.name in found else ()), *names)
        found[one.name] = replace(one, feeds=tuple(dict.fromkeys(feeds)))
    return tuple(found.values())


def _powered(draft: Draft) -> list[str]:
    """Blocks that `all on 12V` means: not the source, not the parts."""
    return [block.name for block in draft.blocks.values() if block.kind == "block"]


def _supply(what: Bit, names: list[str], draft: Draft) -> Supply | None:
    """A rail: `12V`, `+12`, `-9V rail`, `?`, `regulator board`."""
    words = " ".join(RAIL_WORDS.sub(" ", what.text).split())
    outside = bool({*re.split(r"\W+", what.text.lower())} & set(OUTSIDE))
    volts = re.search(
        r"(?<!\S)(?:±|\+\s*/\s*-|\+-)?\s*([-+−]?\d+(?:[.,]\d+)?)\s*V?(?=\s|$)|(?<!\S)[-+−]?\d+V\d+(?=\s|$)", words
    )
    if volts:
        text = re.sub(r"[±/\s]|\+", "", volts[0]).replace("−", "-").replace(",", ".")
        text = text.lstrip("-") if volts[0].lstrip()[:1] in ("±", "+") else text
        value = written(what, text if "V" in text else f"{text}V", "V", draft)
        other = (words[: volts.start()] + words[volts.end() :]).strip()
        return Supply(key(f"{other} {value}"), value, (), outside)
    if words in ("?", "unknown", ""):
        return Supply("-".join(names[:1]) or "all", "", (), outside)
    if re.fullmatch(r"[\w ./-]+", words) and not re.match(r"\d", words):
        return Supply(key(words), "", (), outside)
    draft.wrong(what, f"{what.text!r} is no supply", "write `12V`, `-9V rail`, a name, or ? when nobody knows")
    return None
