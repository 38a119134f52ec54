#!/usr/bin/env python3
"""Holds skin colours against an independent colour library.

Optional; no part of the test suite. It asks a running service for the typology
angle and the CIEDE2000 difference of random colours and compares them with the
PyPI package `colour-science` (developed against 0.4.7).

    python3 -m venv target/judges/colours && target/judges/colours/bin/pip install colour-science
    cargo run --release -- serve --data target/judges/colours/data --listen 127.0.0.1:8417
    target/judges/colours/bin/python tests/conformance/skin.py http://127.0.0.1:8417 target/judges/colours/data/owner-token
"""

import json
import math
import random
import sys
import urllib.request

import colour
import numpy

PAIRS = 2000
TOLERANCE = 1e-6


def main(base: str, token_file: str) -> int:
    with open(token_file, encoding="ascii") as file:
        token = file.read().strip()
    chance = random.Random(2005)
    worst_angle = worst_difference = 0.0
    for _ in range(PAIRS):
        one, two = any_colour(chance), any_colour(chance)
        answer = ask(base, token, {"lab": named(one), "other": named(two)})
        angle = math.degrees(math.atan((one[0] - 50.0) / one[2]))
        worst_angle = max(worst_angle, abs(answer["ita_degrees"] - angle))
        want = colour.delta_E(numpy.array(one), numpy.array(two), method="CIE 2000")
        worst_difference = max(
            worst_difference, abs(answer["difference"]["delta_e_2000"] - float(want))
        )
    print(f"{PAIRS} pairs: typology angle within {worst_angle:.2e}, CIEDE2000 within {worst_difference:.2e}")
    return int(TOLERANCE < max(worst_angle, worst_difference))


def any_colour(chance: random.Random) -> tuple:
    """A colour of the whole space, but with the b* above 0 that skin has."""
    return chance.uniform(0, 100), chance.uniform(-128, 127), chance.uniform(0.1, 127)


def named(lab: tuple) -> dict:
    return dict(zip("lab", lab))


def ask(base: str, token: str, body: dict) -> dict:
    request = urllib.request.Request(
        f"{base}/v1/skin-colours",
        data=json.dumps(body).encode(),
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=10) as answer:
        return json.load(answer)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
