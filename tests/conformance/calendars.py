"""Reads our calendars with the Python package `icalendar` and holds them
against RFC 5545; writes them for the second reader (calendars.mjs).

    ETUI=… TOKEN=… python calendars.py folder [instant of the treatments [their zone]]
"""

import json
import os
import pathlib
import sys
import urllib.request

import icalendar

base, token = os.environ["ETUI"], os.environ["TOKEN"]
folder = pathlib.Path(sys.argv[1])
# If not told: from a winter into a summer, so that the clocks change between.
performed_at = sys.argv[2] if len(sys.argv) > 2 else "2026-02-20T10:00:00Z"


only_zone = sys.argv[3] if len(sys.argv) > 3 else None


def call(path, body=None, accept="application/json"):
    headers = {"Authorization": f"Bearer {token}", "Accept": accept}
    data = None
    if body is not None:
        headers["Content-Type"] = "application/json"
        data = json.dumps(body).encode()
    request = urllib.request.Request(base + path, data=data, headers=headers)
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.read()


def made(path, body):
    return json.loads(call(path, body))


lot = made(
    "/v1/lots",
    {
        "text": "0.30 3RL LOT C1 EXP 2030-01-31 STERILE R",
        "packs": 100,
        "confirmed": {
            "configuration": {"diameter_mm": 0.3, "count": 3, "grouping": "round_liner"},
            "lot": "C1",
            "expires_on": "2030-01-31",
        },
    },
)
treatments = [
    made(
        "/v1/treatments",
        {
            "client_ref": f"calendar-{n}",
            "artist_ref": "artist-07",
            "treatment": treatment,
            "performed_at": performed_at,
            "zone": only_zone or zone,
            "packs": [{"lot_id": lot["id"], "intact": True}],
        },
    )
    for n, (treatment, zone) in enumerate(
        [("lips", "Europe/Berlin"), ("brows", "America/New_York"), ("scalp", "Asia/Kathmandu")]
    )
]
paths = [f"/v1/treatments/{one['id']}/aftercare.ics?detail=true" for one in treatments]
for of in (
    {"of": "studio"},
    {"of": "client", "reference": "calendar-0", "detail": True, "language": "de"},
):
    paths.append(made("/v1/calendars", of)["path"])

folder.mkdir(parents=True, exist_ok=True)
wanted = {}
for number, path in enumerate(paths):
    data = call(path, accept="text/calendar")
    (folder / f"{number}.ics").write_bytes(data)
    lines = data.split(b"\r\n")
    # RFC 5545, 3.1: CRLF alone, 75 octets at most, folded between characters.
    assert lines[-1] == b"" and b"\n" not in data.replace(b"\r\n", b""), path
    for line in lines:
        assert len(line) <= 75, (path, line)
        line.decode()
    calendar = icalendar.Calendar.from_ical(data)
    # 3.7.3, 3.7.4
    assert calendar["PRODID"] and calendar["VERSION"] == "2.0", path
    zones = {str(zone["TZID"]) for zone in calendar.walk("VTIMEZONE")}
    events = []
    for event in calendar.walk("VEVENT"):
        # 3.6.1; 3.6.5: every zone that is named is defined.
        assert event["UID"] and event["DTSTAMP"] and event["SUMMARY"], path
        start = event["DTSTART"]
        assert "TZID" not in start.params or start.params["TZID"] in zones, path
        events.append([str(event["UID"]), start.dt.isoformat(), str(event["SUMMARY"])])
    assert events, path
    assert len({uid for uid, *_ in events}) == len(events), f"{path}: a UID stands twice"
    wanted[f"{number}.ics"] = sorted(events)
    # What is read and written again is the same calendar.
    assert icalendar.Calendar.from_ical(calendar.to_ical()) == calendar, path
(folder / "events.json").write_text(json.dumps(wanted))
print(f"{len(paths)} calendars, {sum(map(len, wanted.values()))} events read")
