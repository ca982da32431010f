"""Ways to spoil a text, or any bytes; the same seed spoils in the same way."""

from collections.abc import Callable, Iterator

import numpy as np

Mutation = Callable[[bytes, np.random.Generator], bytes]

# Cells and letters that have troubled readers of tables.
_BITS = [
    *("", " ", "\0", "\ufeff", "é", "\u2212", "\u00a0", '"', "'", ",", ";", "\t", "\n", "\r", "|", "-", "+"),
    *("e", "1e999", "-1e999", "NaN", "inf", "nan", "null", "0", "999999999999", "0x1F", "1.2.3", "1,5"),
    *("=1+1", "#", "$", "%", "&", "<", ">", "</", "\\", "{", "}", "[", "]", "(", "../", "\u202e", "😀"),
]


def cut(content: bytes, rng: np.random.Generator) -> bytes:
    """End early."""
    return content[: int(rng.integers(0, len(content)))]


def noise(content: bytes, rng: np.random.Generator) -> bytes:
    """Change some bytes anywhere."""
    changed = bytearray(content)
    for place in rng.integers(0, len(content), int(rng.integers(1, 12))):
        changed[place] = int(rng.integers(256))
    return bytes(changed)


def noise_at_the_ends(content: bytes, rng: np.random.Generator) -> bytes:
    """Change some bytes near the beginning or the end, where directories stand."""
    changed = bytearray(content)
    for reach in rng.integers(0, min(len(content), 600), int(rng.integers(1, 6))):
        changed[reach if rng.random() < 0.6 else len(content) - 1 - reach] = int(rng.integers(256))
    return bytes(changed)


def without_a_part(content: bytes, rng: np.random.Generator) -> bytes:
    """Leave bytes out in the middle."""
    start = int(rng.integers(0, len(content)))
    return content[:start] + content[start + int(rng.integers(1, 400)) :]


def part_twice(content: bytes, rng: np.random.Generator) -> bytes:
    """Write a part twice."""
    start = int(rng.integers(0, len(content)))
    end = start + int(rng.integers(1, 400))
    return content[:end] + content[start:]


def bits(content: bytes, rng: np.random.Generator) -> bytes:
    """Put troublesome bits in place of a letter, or beside it."""
    text = content.decode("utf-8", errors="surrogateescape")
    for _ in range(int(rng.integers(1, 5))):
        place = int(rng.integers(0, len(text) + 1))
        bit = _BITS[int(rng.integers(len(_BITS)))]
        text = text[:place] + bit + text[place + int(rng.integers(0, 2)) :]
    return text.encode("utf-8", errors="surrogateescape")


def words(content: bytes, rng: np.random.Generator) -> bytes:
    """Put a troublesome bit in place of a whole number or word."""
    import re

    text = content.decode("utf-8", errors="surrogateescape")
    found = list(re.finditer(r"[\w.]+", text))
    chosen = found[int(rng.integers(len(found)))]
    bit = _BITS[int(rng.integers(len(_BITS)))]
    return (text[: chosen.start()] + bit + text[chosen.end() :]).encode("utf-8", errors="surrogateescape")


def lines(content: bytes, rng: np.random.Generator) -> bytes:
    """Drop, repeat, shuffle or empty lines."""
    rows = content.splitlines(keepends=True)
    place, kind = int(rng.integers(len(rows))), int(rng.integers(4))
    if kind == 0:
        rows.pop(place)
    elif kind == 1:
        rows.insert(int(rng.integers(len(rows))), rows[place])
    elif kind == 2:
        rows = [rows[index] for index in rng.permutation(len(rows))]
    else:
        rows[place] = b"\n"
    return b"".join(rows)


def recoded(content: bytes, rng: np.random.Generator) -> bytes:
    """Write the text in another encoding, or claim one that it is not in."""
    text = content.decode("utf-8", errors="replace")
    encoding = ("utf-16", "utf-16-le", "utf-32", "latin-1", "cp037")[int(rng.integers(5))]
    return text.encode(encoding, errors="replace")


OF_BYTES: tuple[Mutation, ...] = (cut, noise, noise_at_the_ends, without_a_part, part_twice)
OF_TEXT: tuple[Mutation, ...] = (cut, noise, without_a_part, part_twice, bits, words, lines, recoded)


def spoiled(content: bytes, ways: tuple[Mutation, ...], count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """Yield name and spoiled content, `count` times, each way in turn."""
    for number in range(count):
        way = ways[number % len(ways)]
        yield f"{way.__name__} {number}", way(content, np.random.default_rng([seed, number]))
