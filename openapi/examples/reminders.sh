#!/usr/bin/env bash
# Sends due messages: claims some under a lease, sends each, reports what became
# of it, and waits when nothing is due. Several of these may run at once: each
# message is claimed by one of them only.
#
#   export ETUI=http://127.0.0.1:8417 TOKEN=$(cat etui-data/owner-token)
#   openapi/examples/reminders.sh          until it is interrupted
#   openapi/examples/reminders.sh once     until nothing is due
#
# "Sending" is printing here: put your message service into `send`.
set -euo pipefail

base=${ETUI:-http://127.0.0.1:8417}
stop=
trap 'stop=yes' INT TERM

# send CLIENT_REF TEXT: 0 if it was sent.
send() {
    printf 'to %s: %s\n' "$1" "$2"
}

# post PATH BODY: the answer. The key makes a repeated attempt harmless.
post() {
    curl --silent --show-error --fail-with-body --retry 4 --retry-connrefused --max-time 60 \
        "$base$1" --header "Authorization: Bearer ${TOKEN:?the token of the studio}" \
        --header 'Content-Type: application/json' \
        --header "Idempotency-Key: \"$(cat /proc/sys/kernel/random/uuid)\"" --data "$2"
}

while [ -z "$stop" ]; do
    claim=$(post /v1/reminder-claims '{"limit": 20, "lease_seconds": 600}')
    while [ -z "$stop" ] && read -r reminder; do
        client=$(jq -r .client_ref <<<"$reminder")
        if send "$client" "$(jq -r .text <<<"$reminder")"; then
            outcome='{"outcome": "delivered"}'
        else
            outcome='{"outcome": "failed", "reason": "unreachable", "retry_after_seconds": 900}'
        fi
        post "/v1/reminders/$(jq -r .id <<<"$reminder")/outcomes" \
            "$(jq -c --argjson claim "$claim" '. + {claim_id: $claim.claim_id}' <<<"$outcome")" >/dev/null
    done < <(jq -c '.reminders[]' <<<"$claim")
    if [ "$(jq .more <<<"$claim")" = false ]; then
        [ "${1:-}" != once ] || break
        # A wait that a signal ends at once.
        sleep "${IDLE:-60}" &
        wait $! || true
    fi
done
