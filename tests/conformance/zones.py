"""Compares our placing of local times with Python's zoneinfo.

    tests/conformance/run zones
    zones.py [number of cases]       with the package `tzdata` of PyPI

The rule compared is RFC 5545 section 3.3.5, which PEP 495 calls fold=0: a local
time that does not exist is read with the offset before the gap, one that comes
twice is the first. Half of the cases lie within two hours of a change of the
clocks, where an error would show; the rest are spread over 1972 to 2037 and all
zones. Month arithmetic is compared as well: four months on, clamped to the last
day of the month. The two time zone databases may differ in version; ours is the
one compiled into the build.
"""

import calendar
import datetime
import json
import pathlib
import random
import subprocess
import sys
import zoneinfo

import tzdata

ROOT = pathlib.Path(__file__).resolve().parents[2]
UTC = datetime.timezone.utc
FIRST = datetime.datetime(1972, 1, 1, tzinfo=UTC)
SPAN_SECONDS = 66 * 365 * 86_400
zoneinfo.reset_tzpath([])  # the tzdata package and nothing of the machine


def change_near(zone, chance):
    """An instant close to a change of offset, or None if the year has none."""
    start = FIRST + datetime.timedelta(seconds=chance.randrange(SPAN_SECONDS))
    low, high = start, start + datetime.timedelta(days=200)
    offset = lambda at: at.astimezone(zone).utcoffset()
    if offset(low) == offset(high):
        return None
    while high - low > datetime.timedelta(minutes=1):
        middle = low + (high - low) / 2
        low, high = (middle, high) if offset(middle) == offset(low) else (low, middle)
    return high + datetime.timedelta(minutes=chance.randrange(-120, 120))


def cases(count):
    chance = random.Random(20270318)
    names = sorted(name for name in zoneinfo.available_timezones() if not name.startswith(("Etc/", "posix", "right")))
    while count:
        name = chance.choice(names)
        zone = zoneinfo.ZoneInfo(name)
        at = change_near(zone, chance) if count % 2 else FIRST + datetime.timedelta(seconds=chance.randrange(SPAN_SECONDS))
        if at is None:
            continue
        # A naive local time around the instant: gaps are reached by going on
        # from before them without asking the zone.
        offset = (at - datetime.timedelta(hours=3)).astimezone(zone).utcoffset()
        yield name, (at + offset).replace(tzinfo=None, microsecond=0, second=0)
        count -= 1


def expected(name, local):
    zone = zoneinfo.ZoneInfo(name)
    first = local.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = local.replace(tzinfo=zone, fold=1).astimezone(UTC)
    shifts = [] if first == second else ["doubled"] if first < second else ["gap"]
    year, month = divmod(local.year * 12 + local.month - 1 + 4, 12)
    day = min(local.day, calendar.monthrange(year, month + 1)[1])
    return {
        "instant": first.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "local": first.astimezone(zone).replace(tzinfo=None).isoformat(),
        "shifts": shifts,
        "four_months_on": datetime.date(year, month + 1, day).isoformat(),
    }


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    asked = list(cases(count))
    command = ["cargo", "run", "--quiet", "-p", "etui-craft", "--example", "local_times"]
    lines = "".join(f"{name},{local.isoformat()}\n" for name, local in asked)
    run = subprocess.run(command, input=lines, capture_output=True, text=True, cwd=ROOT, check=True)
    answers = [json.loads(line) for line in run.stdout.splitlines()]
    assert len(answers) == count, f"{len(answers)} answers to {count} cases"
    differing = [
        (case, got, want)
        for case, got in zip(asked, answers)
        if got != (want := expected(*case))
    ]
    for case, got, want in differing[:20]:
        print(case, got, want, sep="\n  ")
    shifted = sum(1 for answer in answers if answer["shifts"])
    zones = len({name for name, _ in asked})
    print(f"{count} cases over {zones} zones, {shifted} in a gap or doubled hour; "
          f"tzdata {tzdata.IANA_VERSION}; {len(differing)} differ")
    sys.exit(bool(differing))


if __name__ == "__main__":
    main()
