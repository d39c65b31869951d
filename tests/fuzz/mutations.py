"""Files made worse: each change is one that a bad copy, a bad program or a bad person makes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

Mutation = Callable[[Random, bytes, Sequence[bytes]], bytes]
"""Makes another file of one: random numbers, the file, and the others it may borrow from."""

LARGEST = 300_000
"""Bytes. Beyond this a mutation adds nothing that it would not show before."""

NUMBERS = (
    b"0", b"-0", b"-1", b"1", b"1e999", b"-1e999", b"1e308", b"1e-320", b"nan", b"inf", b"-inf",
    b"", b" ", b"0,5", b"1,5", b"1.5.5", b"0x10", b"1_0", b"255", b"256", b"-0.5", b"100", b"65535",
    b"2147483648", b"-2147483649", b"18446744073709551616", b"9" * 400, b"1e5", b"none", b"NaN%",
    "\uff11\uff12".encode(), "\u22121".encode(), b"true",
)  # fmt: skip

TOKENS = (
    b"\0", b"\r", b"\n", b"\r\n", b"\t", b'"', b'""', b"'", b"#", b";", b",", b"<", b">", b"&",
    b"\x1a", b"\xff", b"\xfe", b"\xef\xbb\xbf", b"\xff\xfe", b"\xed\xa0\x80", b"\xc0\x80",
    "\u2028".encode(), "\u202e".encode(), "\ufeff".encode(), "\U0001f4a9".encode(), b"%s%n",
    b"../../outside", b"/etc/passwd", b"C:\\outside", b"<script>alert(1)</script>", b"{{7*7}}",
    b"BEGIN_DATA", b"END_DATA", b"BEGIN_DATA_FORMAT", b"END_DATA_FORMAT", b"NUMBER_OF_SETS",
    b"KEYWORD", b"CGATS.17", b"SPECTRAL_NM400", b"LAB_L", b"RGB_R", b"XYZ_Y", b"CMYK_K",
    b"SAMPLE_ID", b"400 nm", b"<!DOCTYPE x>", b"<!ENTITY x 'y'>", b"&x;", b"<![CDATA[", b"<?x?>",
    b"xmlns='urn:x'", b"OBSERVER", b"ILLUMINANT ", b"M1 ", b"NO UV", b"WEIGHTING_FUNCTION",
    b"null", b"[]", b"{}", b"[[", b"acsp", b"para", b"curv", b"mft2", b"mAB ",
    b"IHDR", b"iCCP", b"eXIf", b"IEND", b"II*\0", b"MM\0*", b"Exif\0\0",
)  # fmt: skip

_WORDS = re.compile(rb"[+-]?\d[\d.,eE+-]*|[A-Za-z_][\w-]*|\S")
_NUMBER = re.compile(rb"(?<![\w.])[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?(?![\w.])")


def mutated(random: Random, seeds: Sequence[bytes], mutations: Sequence[Mutation]) -> bytes:
    """Change a seed one to six times, mostly once or twice."""
    data = random.choice(seeds)
    for _ in range(random.choice((1, 1, 1, 2, 2, 3, 6))):
        data = random.choice(mutations)(random, data, seeds)[:LARGEST]
    return data


def flip_bits(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Turn some bits round."""
    changed = bytearray(data)
    for _bit in range(random.randint(1, 8) if changed else 0):
        changed[random.randrange(len(changed))] ^= 1 << random.randrange(8)
    return bytes(changed)


def set_bytes(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Write a whole number with an awkward value over some bytes, of either order."""
    width = random.choice((1, 2, 4, 8))
    if len(data) < width:
        return data
    top = 1 << 8 * width
    value = random.choice(
        (0, 1, 2, 3, 7, 255, 256, 65535, top - 1, top // 2, top // 2 - 1, top - 9)
    )
    place = random.randrange(min(len(data), random.choice((64, 512, len(data)))) - width + 1)
    raw = (value % top).to_bytes(width, random.choice(("big", "little")))
    return data[:place] + raw + data[place + width :]


def cut(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Leave the end off."""
    return data[: random.randrange(len(data) + 1)]


def drop(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Leave a part out."""
    start, end = _span(random, data)
    return data[:start] + data[end:]


def double(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put a part in again, up to a hundred times, there or elsewhere."""
    start, end = _span(random, data)
    place = random.choice((end, random.randrange(len(data) + 1)))
    return data[:place] + data[start:end] * random.choice((1, 1, 2, 100)) + data[place:]


def splice(random: Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """Put a part of another file in."""
    other = random.choice(seeds)
    start, end = _span(random, other)
    first, last = _span(random, data)
    return data[:first] + other[start:end] + data[last:]


def add_token(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put something in that means something, somewhere."""
    place = random.randrange(len(data) + 1)
    return data[:place] + random.choice(TOKENS) + data[place:]


def long_run(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put in a very long run of one thing: what takes a step back for each takes for ever."""
    place = random.randrange(len(data) + 1)
    what = random.choice(
        (*TOKENS, b" ", b" ", b"a", b"1", b"1,", b'" ', b"<a>", b"[", b"- ", b"\n ")
    )
    return data[:place] + what * random.choice((300, 5_000, 30_000)) + data[place:]


def change_word(random: Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """Put another word in place of one."""
    place = _somewhere(random, _WORDS, data)
    if place is None:
        return data
    other = _somewhere(random, _WORDS, random.choice(seeds))
    word = random.choice((random.choice(TOKENS), b"x" if other is None else other.group(), b""))
    return data[: place.start()] + word + data[place.end() :]


def change_number(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put another number, or none, in place of one; now and then of all alike."""
    place, number = _somewhere(random, _NUMBER, data), random.choice(NUMBERS)
    if place is None:
        return data
    if random.random() < 0.1:
        return data.replace(place.group(), number)
    return data[: place.start()] + number + data[place.end() :]


def _somewhere(random: Random, pattern: re.Pattern[bytes], data: bytes) -> re.Match[bytes] | None:
    """Give what a pattern finds first from some place on; all of a file would take long."""
    return pattern.search(data, random.randrange(len(data) + 1)) or pattern.search(data)


def change_lines(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Lose, double, exchange or join lines."""
    lines = data.split(b"\n")
    one, two = random.randrange(len(lines)), random.randrange(len(lines))
    kind = random.randrange(4)
    if kind == 0:
        del lines[min(one, two) : max(one, two)]
    elif kind == 1:
        lines[one:one] = [lines[two]] * random.choice((1, 2, 500))
    elif kind == 2:
        lines[one], lines[two] = lines[two], lines[one]
    else:
        lines[one : one + 2] = [b"".join(lines[one : one + 2])]
    return b"\n".join(lines)


def change_columns(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Lose, double or empty one column of a table, or write it with another mark."""
    mark = random.choice((b"\t", b",", b";", b" "))
    rows = [line.split(mark) for line in data.split(b"\n")]
    column = random.randrange(max(map(len, rows)))
    kind = random.randrange(4)
    for row in rows:
        if column < len(row):
            if kind == 0:
                del row[column]
            elif kind == 1:
                row.insert(column, row[column])
            elif kind == 2:
                row[column] = random.choice(NUMBERS)
    other = random.choice((b"\t", b",", b";", b" ", b"  ")) if kind == 3 else mark
    return b"\n".join(other.join(row) for row in rows)


def change_encoding(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Write text in another encoding, with other line ends."""
    text = data.decode("utf-8", "replace")
    text = text.replace("\n", random.choice(("\n", "\r", "\r\n", "\x85", "\u2028")))
    encoding = random.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "utf-7"))
    return text.encode(encoding, "replace")


def change_json(random: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put another value, or none, in some place of a JSON file."""
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        return data
    places = [(document, key) for key in _keys(document)]
    for parent, key in places:
        if len(places) > 20_000:
            break
        places += [(parent[key], inner) for inner in _keys(parent[key])]
    if not places:
        return data
    parent, key = random.choice(places)
    kind = random.randrange(8)
    if kind == 0:
        del parent[key]
    elif kind == 1:
        other, name = random.choice(places)
        parent[key] = json.loads(json.dumps(other[name])) if name in _keys(other) else None
    elif kind == 2 and isinstance(parent[key], list):
        parent[key] = parent[key] * random.choice((0, 2, 100))
    else:
        parent[key] = random.choice(_JSON_VALUES)
    try:
        return json.dumps(document).encode("utf-8", "surrogatepass")
    except (ValueError, RecursionError):
        return data


_JSON_VALUES: tuple[Any, ...] = (
    None, True, False, 0, 1, -1, 0.5, -0.0, 1e308, 10**30, 2**31, 2**63, float("nan"), float("inf"),
    "", " ", "x", "nan", "1", "D50", "M1", "2026-02-30", "9999-12-31T23:59:59+23:59",
    "0001-01-01T00:00:00-23:59", "../../outside", "a\0b", "\ud800", "x" * 5000, "<script>",
    [], {}, [[]], [None], [1], [[1, 2, 3]], [{}], {"a": 1}, {"": None}, [[1], [1, 2]], ["1", "2"],
)  # fmt: skip


def _keys(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value)
    # Of a long list of numbers the ends and the middle tell as much as all of it.
    count = len(value) if isinstance(value, list) else 0
    return list(range(count)) if count < 12 else [0, 1, count // 2, count - 1]


def _span(random: Random, data: bytes) -> tuple[int, int]:
    length = random.choice((1, 4, 16, 200, 5000, max(1, len(data))))
    start = random.randrange(len(data) + 1)
    return start, min(len(data), start + random.randint(1, length))


BYTES: tuple[Mutation, ...] = (flip_bits, set_bytes, cut, drop, double, splice, add_token)
TEXT: tuple[Mutation, ...] = (
    change_word, change_word, change_number, change_number, change_lines, change_columns,
    change_encoding, long_run, add_token, drop, cut, splice, double, flip_bits,
)  # fmt: skip
JSON: tuple[Mutation, ...] = (*[change_json] * 9, change_number, long_run, cut, flip_bits, splice)
BINARY: tuple[Mutation, ...] = (*[set_bytes] * 5, *[flip_bits] * 3, *BYTES, long_run)
REQUESTS: tuple[Mutation, ...] = (*TEXT, *[change_word] * 4, splice, splice, set_bytes)
