#!/usr/bin/env python3
"""Holds the reading of GS1 element strings against an independent parser.

Optional; no part of the test suite. It generates element strings, sound and
broken, asks a running service and the PyPI package `biip` (developed against
5.2.0) and compares keys, values and expiry dates. A sound string that the two
read differently fails. What each makes of broken ones is counted and printed
with the reason, which stands in `ON_PURPOSE`; it does not fail.

    python3 -m venv target/judges/labels && target/judges/labels/bin/pip install biip
    cargo run --release -- serve --data target/judges/labels/data --listen 127.0.0.1:8417
    target/judges/labels/bin/python tests/conformance/labels.py http://127.0.0.1:8417 target/judges/labels/data/owner-token
"""

import collections
import json
import random
import string
import sys
import urllib.request

from biip import ParseError
from biip.gs1_messages import GS1Message

STRINGS = 600
AS_OF = "2026-11-25"
SEPARATOR = "\x1d"
# GS1 General Specifications, figure 7.11-1: the 82 characters of most text values.
CSET_82 = string.ascii_letters + string.digits + "!\"%&'()*+,-./:;<=>?_"

ON_PURPOSE = {
    "wrong check digit": "the service refuses the GTIN; biip keeps the element and leaves its GTIN empty",
    "separator after a fixed length": "superfluous but harmless; both take it",
    "doubled separator": "the standard body's own test strings refuse it, and so does the service; biip passes over it",
    "day that does not exist": "both refuse",
}


def check_digit(digits: str) -> str:
    """GS1 General Specifications, 7.9.1."""
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return str(-total % 10)


def gtin(chance: random.Random) -> str:
    digits = "0952" + "".join(chance.choice(string.digits) for _ in range(9))
    return digits + check_digit(digits)


def text(chance: random.Random, longest: int = 20) -> str:
    return "".join(chance.choice(CSET_82) for _ in range(chance.randint(1, longest)))


def date(chance: random.Random) -> str:
    return f"{chance.randint(20, 39):02}{chance.randint(1, 12):02}{chance.randint(0, 28):02}"


def elements(chance: random.Random) -> list:
    """A GTIN first, then some of what a packet carries, in any order."""
    rest = [("17", date(chance)), ("11", date(chance)), ("10", text(chance)), ("21", text(chance)),
            ("240", text(chance, 30)), ("30", str(chance.randint(1, 99_999_999)))]
    chance.shuffle(rest)
    rest = rest[: chance.randint(0, len(rest))]
    return [("01", gtin(chance)), *rest]


def joined(parts: list) -> str:
    out = ""
    for at, (key, value) in enumerate(parts):
        out += key + value
        if at + 1 < len(parts) and key in ("10", "21", "240", "30"):
            out += SEPARATOR
    return out


def broken(chance: random.Random) -> tuple:
    """One string with one fault, and the name of its kind."""
    parts = elements(chance)
    kind = chance.choice(sorted(ON_PURPOSE))
    if kind == "wrong check digit":
        number = parts[0][1]
        parts[0] = ("01", number[:-1] + str((int(number[-1]) + 1) % 10))
        return kind, joined(parts)
    if kind == "separator after a fixed length":
        return kind, joined([("01", gtin(chance))]) + SEPARATOR + "17270831"
    if kind == "doubled separator":
        return kind, joined([("01", gtin(chance)), ("10", text(chance))]) + SEPARATOR * 2 + "17270831"
    return kind, joined([("01", gtin(chance)), ("17", "270231")])


def theirs(message: str):
    try:
        parsed = GS1Message.parse(message)
    except ParseError:
        return None
    return [(e.ai.ai, e.value.lstrip("0") if e.ai.ai == "01" else e.value) for e in parsed.element_strings]


def ours(reading: dict):
    symbol = reading["symbol"]
    if symbol.get("faults"):
        return None
    return [
        (e["key"], e["value"].lstrip("0") if e["key"] == "01" else e["value"]) for e in symbol["elements"]
    ]


def their_expiry(message: str):
    for element in GS1Message.parse(message).element_strings:
        if element.ai.ai == "17" and element.date:
            return element.date.isoformat()
    return None


def read(base: str, token: str, messages: list) -> list:
    body = {"as_of": AS_OF, "labels": [{"symbol": "]d2" + message} for message in messages]}
    request = urllib.request.Request(
        f"{base}/v1/label-readings",
        data=json.dumps(body).encode(),
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)["readings"]


def main(base: str, token_file: str) -> int:
    with open(token_file, encoding="ascii") as file:
        token = file.read().strip()
    chance = random.Random(82)
    sound = [joined(elements(chance)) for _ in range(STRINGS)]
    wrong = 0
    for message, reading in zip(sound, read(base, token, sound)):
        same = ours(reading) == theirs(message)
        expiry = reading.get("packet", {}).get("expires_on", {}).get("value")
        if not same or expiry != their_expiry(message):
            wrong += 1
            print(f"{message!r}: {ours(reading)} {expiry}, biip {theirs(message)} {their_expiry(message)}, {reading['symbol'].get('faults')}")
    print(f"{STRINGS} sound strings: {wrong} disagree")
    kinds = collections.Counter()
    faulty = [broken(chance) for _ in range(STRINGS // 2)]
    for (kind, message), reading in zip(faulty, read(base, token, [m for _, m in faulty])):
        kinds[kind, ours(reading) is not None, theirs(message) is not None] += 1
    for (kind, here, there), count in sorted(kinds.items()):
        says = {True: "takes it", False: "refuses it"}
        print(f"{count:4} {kind}: etui {says[here]}, biip {says[there]} ({ON_PURPOSE[kind]})")
    return int(0 < wrong)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
