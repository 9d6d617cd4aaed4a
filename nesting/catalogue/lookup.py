"""Finding a model or a size by what an order calls it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Protocol

from nesting.model import Size
from nesting.reading.units import MM_PER_UNIT

__all__ = ["collisions", "fold", "named", "sized"]

SIZE_TOLERANCE = 0.5
"""How far a size in whole mm may be from the true one: 1372 x 1905 finds 54 x 75 in (1371.6 x 1905)."""

_DIMENSIONS = re.compile(
    r"\s*(?P<width>[0-9]+(?:[.,][0-9]+)?)\s*[x×*]\s*(?P<length>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>mm|cm|in|ft|m)?\s*",
    re.IGNORECASE,
)


class Named(Protocol):
    """Anything with a key and a name."""

    @property
    def key(self) -> str: ...
    @property
    def name(self) -> str: ...


def fold(text: str) -> str:
    """Text without case, spaces, hyphens and underscores, which orders and range files differ in."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return "".join(
        letter
        for letter in plain
        if not letter.isspace() and letter != "_" and unicodedata.category(letter) != "Pd"
    )


def named(text: str, items: Mapping[str, Named]) -> tuple[str, ...]:
    """Keys of the items that `text` names: the one whose key it is, otherwise all whose name it is."""
    wanted = fold(text)
    by_key = tuple(key for key in items if fold(key) == wanted)
    return by_key or tuple(key for key, item in items.items() if fold(item.name) == wanted)


def sized(text: str, sizes: Iterable[Size]) -> tuple[str, ...]:
    """Keys of the sizes that text such as ``"1400x2000"`` means: width x length, mm unless it says else."""
    found = _DIMENSIONS.fullmatch(text)
    if found is None:
        return ()
    factor = MM_PER_UNIT[(found["unit"] or "mm").lower()]
    width, length = (float(found[side].replace(",", ".")) * factor for side in ("width", "length"))
    return tuple(
        size.key
        for size in sizes
        if abs(size.width - width) <= SIZE_TOLERANCE and abs(size.length - length) <= SIZE_TOLERANCE
    )


def collisions(items: Mapping[str, Named]) -> list[tuple[str, str]]:
    """Pairs of keys that orders could not tell apart: alike keys, or a key that is another's name.

    Two items may share a name; an order then has to write the key.
    """
    by_key: dict[str, str] = {}
    pairs = []
    for key in items:
        first = by_key.setdefault(fold(key), key)
        if first != key:
            pairs.append((first, key))
    for key, item in items.items():
        other = by_key.get(fold(item.name), key)
        if other != key and fold(other) != fold(key):
            pairs.append((other, key))
    return pairs
