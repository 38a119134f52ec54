"""The receiver that we print as an example, against the reference library of
Standard Webhooks: what that one signs, ours believes; what that one refuses,
ours refuses.

    python webhooks.py openapi/examples
"""

import base64
import datetime
import random
import sys

sys.path.insert(0, sys.argv[1])

import standardwebhooks  # noqa: E402
import webhook_receiver  # noqa: E402

chance = random.Random(2027)
now = datetime.datetime.now(datetime.timezone.utc)


def judged_by_theirs(secret, headers, body):
    try:
        standardwebhooks.Webhook(secret).verify(body, headers)
        return True
    except Exception:
        return False


def judged_by_ours(secret, headers, body):
    try:
        webhook_receiver.verify([secret], headers, body, now.timestamp())
        return True
    except webhook_receiver.Refused:
        return False


seen = {True: 0, False: 0}
for number in range(500):
    secret = "whsec_" + base64.b64encode(chance.randbytes(24)).decode()
    body = b'{"n": %d}' % number
    event_id = f"msg_{number}"
    at = now + datetime.timedelta(seconds=chance.choice([0, 0, 0, -270, -330, 270, 330, -3600]))
    signature = standardwebhooks.Webhook(secret).sign(event_id, at, body.decode())
    if chance.random() < 0.2:
        signature = "v1," + base64.b64encode(chance.randbytes(32)).decode() + " " + signature
    headers = {
        "webhook-id": event_id,
        "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": signature,
    }
    if chance.random() < 0.3:
        broken = chance.choice(["body", "id", "timestamp", "signature"])
        if broken == "body":
            body += b" "
        else:
            headers[f"webhook-{broken}"] = headers[f"webhook-{broken}"][:-1]
    theirs, ours = judged_by_theirs(secret, headers, body), judged_by_ours(secret, headers, body)
    assert ours == theirs, (ours, theirs, headers)
    seen[ours] += 1
print(f"{seen[True]} events believed, {seen[False]} refused, by both alike")
assert seen[True] and seen[False]
