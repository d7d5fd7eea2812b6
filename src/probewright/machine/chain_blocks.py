"""One thing between two arrows of a typed chain: a block with its figures, a part in series, a lead, an end."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from probewright.machine.chain_bits import GAIN, Bit, Draft, key, written
from probewright.machine.chains import Block
from probewright.units import read_value

# What the last block may be, with the ohms it loads with. Chosen, from memory of usual makes.
ENDS: Mapping[str, str] = {
    "phones": "16R..600R", "headphones": "16R..600R", "earphones": "16R..600R", "earpiece": "16R..600R",
    "loudspeaker": "2R..16R", "loudspeakers": "2R..16R", "speaker": "2R..16R", "speakers": "2R..16R",
    "horn": "4R..16R", "monitor": "75R 20%", "display": "75R 20%", "screen": "75R 20%", "tv": "75R 20%",
    "line out": "10k..100k", "line output": "10k..100k", "out": "10k..100k", "output": "10k..100k",
    "outputs": "10k..100k", "meter": "1k..100k", "recorder": "10k..100k",
}  # fmt: skip
# fmt: skip
LEADS = ("lead", "cable", "cord")
FARADS = re.compile(r"\d*[.,]?\d*\s?[pnuµμ]\d*F?|\d+[.,]?\d*\s?[pnuµμm]?F", re.I)
OHMS = re.compile(r"\d+[kKMR]\d*|[kKMR]\d+|\d+[.,]\d+[kKMR]|\d+[.,]?\d*\s?[kM]?\s?(?:Ω|ohms?)", re.I)
LEAST_ELECTROLYTIC = 1e-6  # chosen, F: from here on a coupling capacitor is taken to be an electrolytic


def block_of(bit: Bit, before: str, draft: Draft, last: bool) -> Block:
    """What one piece between arrows stands for."""
    found = part_in_series(bit, before, draft)
    if found is not None:
        return found
    plain = " ".join(re.sub(r"\(.*?\)", " ", GAIN.sub(" ", bit.text)).lower().split())
    name = key(bit.text) if plain != "?" else ""
    block = Block(name or f"stage-{len(draft.blocks) + 1}", after=before)
    if not before:
        block = replace(block, kind="source")
    elif last and _ending(plain):
        block = replace(block, kind="load", value=ENDS[_ending(plain)])
    elif plain.split()[-1:] and plain.split()[-1] in LEADS:
        return replace(block, kind="lead")
    return _figures(bit, block, draft)


def _ending(plain: str) -> str:
    """The word of ENDS that a name ends in; "" for none."""
    return next((word for word in sorted(ENDS, key=len, reverse=True) if re.search(rf"(?:^|\s){word}$", plain)), "")


def part_in_series(bit: Bit, before: str, draft: Draft) -> Block | None:
    """A part in series: `4u7`, `10k`, `cap 4u7`, `coupling cap ?`; None for a block."""
    label = re.match(r"([CR]\d+)\s+(?=\S)", bit.text)
    if label:
        part = part_in_series(bit.cut(label.end()), before, draft)
        return part and replace(part, name=label[1])
    words = re.sub(
        r"(?i)\b(?:coupling|series|electrolytic|film|tantalum|ceramic|paper|caps?|capacitors?|resistors?)\b",
        " ",
        bit.text,
    ).strip()
    named = words != bit.text.strip()
    cap_word = re.search(r"(?i)\b(?:cap|capacitor)s?\b", bit.text)
    for kind, shape, unit in (("capacitor", FARADS, "F"), ("resistor", OHMS, "ohm")):
        typed = words.replace(" ", "")
        if shape.fullmatch(words) or (named and words in ("?", "") and (kind == "capacitor") == bool(cap_word)):
            value = written(bit, typed or "?", unit, draft)
            count = 1 + sum(block.kind == kind for block in draft.blocks.values())
            return Block(f"{kind[0].upper()}{count}", kind, before, _classed(kind, value, bit.text))
    if re.fullmatch(r"[\d.,]+", bit.text):
        draft.wrong(bit, f"{bit.text!r} could be a value or a name", f"write `{bit.text}R`, `{bit.text}n`, or a name")
    return None


def _classed(kind: str, value: str, typed: str) -> str:
    """The value with the class typed, or else the one it is taken for."""
    if kind != "capacitor":
        return value
    said = next(
        (word for word in ("electrolytic", "film", "tantalum", "ceramic", "paper") if word in typed.lower()), ""
    )
    large = value == "?" or read_value(value.split()[0], "F").si >= LEAST_ELECTROLYTIC
    return f"{value} {said or ('electrolytic' if large else 'film')}"


def _figures(bit: Bit, block: Block, draft: Draft) -> Block:
    """Gain, input and output written in or beside the name."""
    brackets = re.search(r"\((.*?)\)?\s*$", bit.text) if "(" in bit.text else None
    outside = GAIN.search(bit.text[: brackets.start()] if brackets else bit.text)
    if outside:
        block = replace(block, gain=_gain(outside))
    for item in bit.cut(brackets.start(1), brackets.end(1)).split(r",\s+|,(?!\d)|;") if brackets else []:
        block = _figure(item, block, draft)
    if (block.kind != "block" and block.gain != "?") or (block.kind == "source" and block.into != "?"):
        draft.wrong(bit, f"{key(bit.text)!r} is an end of the chain and has no such figure", "leave it out")
    return block


def _figure(item: Bit, block: Block, draft: Draft) -> Block:
    """One figure between brackets."""
    text = item.text
    if not text or text == "?":
        return block
    if found := GAIN.fullmatch(text):
        return replace(block, gain=_gain(found))
    named = re.fullmatch(r"(?i)(in|input|out|output|gain|load)\s*(?:of\s+|=\s*)?(\S+(?:\s?(?:ohms?|Ω))?)", text)
    word = named[1].lower() if named else ""
    if word == "gain" and named and re.fullmatch(r"\?|-?\d+(?:[.,]\d+)?", named[2]):
        return replace(block, gain=named[2].replace(",", "."))
    if named and word != "gain":
        value = written(item, named[2].replace(" ", ""), "ohm", draft)
        if block.kind == "load":
            return replace(block, value=value)
        return replace(block, into=value) if word.startswith("in") else replace(block, out=value)
    if block.kind == "load":
        return replace(block, value=written(item, text.replace(" ", ""), "ohm", draft))
    draft.wrong(item, f"{text!r} is no figure of a block", "write `(x11, in 47k, out 100)`, or leave it out")
    return block


def _gain(found: re.Match[str]) -> str:
    """The factor of `x11`, `11x` or `20dB`."""
    if found[4]:
        return f"{10.0 ** (float(found[3].replace(',', '.')) / 20.0):.4g}"
    return (found[1] or found[2]).replace(",", ".")
