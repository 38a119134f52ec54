"""What a booking program asks before it confirms an appointment, through the
client that openapi-python-client generates from the document:

    pip install openapi-python-client==0.29.1
    curl -s $ETUI/openapi.json -o openapi.json
    openapi-python-client generate --path openapi.json --meta none --output-path etui_python
    python check.py booking-2041 2027-04-06T08:00:00Z

ETUI is the address of the service, TOKEN a token with the scope checks:write.
"""

import datetime
import os
import sys
from urllib.parse import quote

from etui_python import AuthenticatedClient
from etui_python.api.checks import create_appointment_check, get_appointment_check
from etui_python.models import AppointmentCheckRequest, Problem

client = AuthenticatedClient(
    base_url=os.environ.get("ETUI", "http://127.0.0.1:8417"), token=os.environ["TOKEN"]
)


def in_three_weeks():
    day = datetime.datetime.now(datetime.timezone.utc) + datetime.timedelta(days=21)
    return day.strftime("%Y-%m-%dT10:00:00Z")


booking = sys.argv[1] if len(sys.argv) > 1 else "booking-2041"
starts_at = sys.argv[2] if len(sys.argv) > 2 else in_three_weeks()
request = AppointmentCheckRequest.from_dict(
    {
        "booking_ref": booking,
        "treatment": "brows",
        "effect": "hair_strokes",
        "starts_at": starts_at,
        "born_on": "1984-05-02",
        "answers": {"pregnant": False, "warfarin": False},
        "candidates": ["0.20 1RL", "0.30 3RL", "0.30 9M1"],
    }
)
# The booking is the key: however often this runs, the check is made once a day.
key = quote(f"python-{booking}-{starts_at}", safe="")
check = create_appointment_check.sync(client=client, body=request, idempotency_key=f'"{key}"')
if isinstance(check, Problem):
    for fault in check.errors or []:
        print(fault.pointer, fault.code, fault.message, file=sys.stderr)
    sys.exit(f"{check.status} {check.code}: {check.detail}")
print(f"{check.verdict}: {check.summary}")
for todo in check.todo:
    print("-", todo.text)

kept = get_appointment_check.sync(client=client, id=check.id)
print("kept as", kept.id)
