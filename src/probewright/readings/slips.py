"""Typing slips in the few words that name a pin, a side or a way of measuring: `rigth leg`, `bse`, `colector`.

Only a word that means nothing else is mended, only towards a word one slip away that begins alike,
and only where there is one such word. The echo shows the mended word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

from probewright.readings.tokens import Token, single_words, tokens

MENDED = ("pin", "pin word", "side", "channel", "ground", "kind", "beep", "numbered")  # uses of the word table
SHORTEST = 4  # letters of a word that a slip is mended towards, chosen: shorter ones are one slip from anything


def mended(text: str, known: Callable[[Sequence[Token], int], object | None]) -> tuple[Token, ...]:
    """The tokens of a line with its slips mended; known: finds a name at a token, which is left alone."""
    found = tokens(text)
    return tuple(
        replace(token, text=word, low=word) if (word := _meant(token)) and not known(found, n) else token
        for n, token in enumerate(found)
    )


def _meant(token: Token) -> str:
    """The word that was meant; "" where the word stands as it is."""
    low = token.low
    if not low.isalpha() or len(low) < SHORTEST - 1 or low in single_words(()):
        return ""
    near = {
        word for word in single_words(MENDED) if len(word) >= SHORTEST and word[0] == low[0] and _one_slip(low, word)
    }
    return near.pop() if len(near) == 1 else ""


@cache
def _one_slip(typed: str, word: str) -> bool:
    """One letter missing, too many, wrong, or two neighbours exchanged."""
    if abs(len(typed) - len(word)) > 1 or typed == word:
        return False
    at = next(
        (n for n, pair in enumerate(zip(typed, word, strict=False)) if pair[0] != pair[1]), min(len(typed), len(word))
    )
    a, b = typed[at:], word[at:]
    return a[1:] == b[1:] or a[1:] == b or a == b[1:] or (a[:2] == b[1::-1] and len(b) > 1 and a[2:] == b[2:])
