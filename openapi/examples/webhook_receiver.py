"""Receives events and believes only those that are signed (Standard Webhooks
1.0). Python's standard library is all it needs.

    python webhook_receiver.py 127.0.0.1:8500 whsec_…
    python webhook_receiver.py --self-test

The secret is shown once, when the subscription is made. While secrets are
rotated, name both: an event is believed if one of them signed it.
"""

import base64
import collections
import hashlib
import hmac
import http.server
import json
import sys
import time

TOLERANCE_S = 5 * 60  # Standard Webhooks: how old, or how early, an event may be
LARGEST = 256 * 1024  # bytes of an event
REMEMBERED = 10_000  # ids kept, so that what comes again is not done again


class Refused(Exception):
    """Why an event is not believed."""


def key_of(secret):
    """The key behind `whsec_` and base64."""
    return base64.b64decode(secret.removeprefix("whsec_"), validate=True)


def verify(secrets, headers, body, now):
    """The event's id, if one of the secrets signed it lately."""
    event_id = headers.get("webhook-id", "")
    sent_at = headers.get("webhook-timestamp", "")
    if not event_id or not sent_at.isascii() or not sent_at.isdigit():
        raise Refused("no id or no timestamp")
    if TOLERANCE_S < abs(now - int(sent_at)):
        raise Refused("too old or too early")
    signed = f"{event_id}.{sent_at}.".encode() + body
    wanted = [hmac.digest(key_of(secret), signed, hashlib.sha256) for secret in secrets]
    for entry in headers.get("webhook-signature", "").split():
        version, _, signature = entry.partition(",")
        if version != "v1":
            continue
        try:
            given = base64.b64decode(signature, validate=True)
        except ValueError:
            continue
        # Compared in constant time, so that a guess learns nothing.
        if any([hmac.compare_digest(given, one) for one in wanted]):
            return event_id
    raise Refused("no signature of ours")


class Receiver(http.server.BaseHTTPRequestHandler):
    secrets = []
    seen = collections.OrderedDict()

    def do_POST(self):
        length = int(self.headers.get("Content-Length") or 0)
        if not 0 < length <= LARGEST:
            return self.answer(413)
        body = self.rfile.read(length)
        try:
            event_id = verify(self.secrets, self.headers, body, time.time())
        except Refused as why:
            print("refused:", why, file=sys.stderr, flush=True)
            return self.answer(401)
        if event_id not in self.seen:
            event = json.loads(body)
            print(event["type"], event.get("subject", ""), event_id, flush=True)
            self.seen[event_id] = True
            if REMEMBERED < len(self.seen):
                self.seen.popitem(last=False)
        # 2xx: done. What takes long is put into a queue first.
        self.answer(204)

    def answer(self, status):
        self.send_response(status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        pass


def self_test():
    secret = "whsec_" + base64.b64encode(bytes(range(32))).decode()
    other = "whsec_" + base64.b64encode(bytes(32)).decode()
    body, now = b'{"type": "check.completed"}', 1_800_000_000

    def headers(event_id="msg_1", at=now, signer=secret, over=body):
        mac = hmac.digest(key_of(signer), f"{event_id}.{at}.".encode() + over, hashlib.sha256)
        return {
            "webhook-id": event_id,
            "webhook-timestamp": str(at),
            "webhook-signature": "v2,other v1,AAAA v1," + base64.b64encode(mac).decode(),
        }

    def believed(sent, got=body, secrets=(secret,)):
        try:
            return verify(secrets, sent, got, now) == sent["webhook-id"]
        except Refused:
            return False

    assert believed(headers())
    assert believed(headers(signer=other), secrets=(secret, other)), "while secrets are rotated"
    assert believed(headers(at=now - TOLERANCE_S))
    assert not believed(headers(at=now - TOLERANCE_S - 1)), "replayed later"
    assert not believed(headers(at=now + TOLERANCE_S + 1))
    assert not believed(headers(), got=body + b" "), "tampered with"
    assert not believed(headers(signer=other)), "signed by another"
    assert not believed({**headers(), "webhook-id": "msg_2"}), "under another id"
    assert not believed({**headers(), "webhook-signature": ""})
    assert not believed({**headers(), "webhook-timestamp": "soon"})
    print("the receiver believes what it should, and nothing else")


if __name__ == "__main__":
    if sys.argv[1:] == ["--self-test"]:
        self_test()
    else:
        host, _, port = sys.argv[1].rpartition(":")
        Receiver.secrets = sys.argv[2:] or sys.exit("at least one secret is wanted")
        http.server.ThreadingHTTPServer((host, int(port)), Receiver).serve_forever()
