"""A receiver of events: the reference library of Standard Webhooks checks what the service signs."""

import http.server
import json
import os
import queue
import threading
import urllib.request

from standardwebhooks.webhooks import Webhook, WebhookVerificationError

heard: queue.Queue = queue.Queue()


class Receiver(http.server.BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        heard.put(({name.lower(): value for name, value in self.headers.items()}, body))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


def call(method: str, path: str, body: dict) -> dict:
    request = urllib.request.Request(
        os.environ["ETUI_BASE"] + path,
        json.dumps(body).encode(),
        {"Authorization": f"Bearer {os.environ['ETUI_TOKEN']}", "Content-Type": "application/json"},
        method=method,
    )
    with urllib.request.urlopen(request) as answer:
        return json.load(answer)


receiver = http.server.HTTPServer(("127.0.0.1", 0), Receiver)
threading.Thread(target=receiver.serve_forever, daemon=True).start()
url = f"http://127.0.0.1:{receiver.server_port}/hooks"
subscription = call("POST", "/v1/subscriptions", {"url": url, "types": ["client.changed"]})
call("PUT", f"/v1/clients/hook-{os.getpid()}", {"answers": {}})
headers, body = heard.get(timeout=30)

checker = Webhook(subscription["secret"])
event = checker.verify(body, headers)
assert event["specversion"] == "1.0" and event["type"] == "client.changed", event
assert event["id"] == headers["webhook-id"], (event, headers)
assert headers["content-type"].startswith("application/cloudevents+json"), headers
try:
    checker.verify(body.replace(b"client.changed", b"client.changes"), headers)
    raise SystemExit("a body that was tampered with is believed")
except WebhookVerificationError:
    pass
print("signature, time and event are good; a tampered body is refused")
