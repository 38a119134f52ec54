"""The main job through the client that openapi-python-client generates."""

import datetime
import os
import sys

from etui_python import AuthenticatedClient
from etui_python.api.checks import create_appointment_check, get_appointment_check
from etui_python.api.service import get_capabilities
from etui_python.models import AppointmentCheckRequest, Problem

client = AuthenticatedClient(base_url=os.environ["ETUI_BASE"], token=os.environ["ETUI_TOKEN"])
print("etui", get_capabilities.sync(client=client).version)

starts_at = datetime.datetime.now(datetime.timezone.utc) + datetime.timedelta(days=21)
request = AppointmentCheckRequest.from_dict(
    {
        "booking_ref": "python-1",
        "treatment": "brows",
        "effect": "hair_strokes",
        "starts_at": starts_at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "born_on": "1984-05-02",
        "candidates": ["0.20 1RL", "0.30 3RL", "0.30 9M1"],
    }
)
check = create_appointment_check.sync(client=client, body=request)
if isinstance(check, Problem):
    sys.exit(f"refused: {check}")
print(check.verdict, "-", check.summary)
again = get_appointment_check.sync(client=client, id=str(check.id))
assert again.to_dict() == check.to_dict(), "the check is not read as it was given"

request.booking_ref = "two words"
refused = create_appointment_check.sync_detailed(client=client, body=request)
assert refused.status_code == 422, refused
assert refused.parsed.errors[0].pointer == "#/booking_ref", refused.parsed
print("refused as it should be:", refused.parsed.errors[0].message)
