#!/usr/bin/env bash
# What a booking program asks before it confirms an appointment, with nothing
# but curl and jq.
#
#   export ETUI=http://127.0.0.1:8417 TOKEN=$(cat etui-data/owner-token)
#   openapi/examples/check.sh booking-2041 2027-04-06T08:00:00Z
#
# Exits with 0 if the appointment may be confirmed (conditions may have to be
# met first), with 1 if not, with 2 if there was no answer.
set -euo pipefail

base=${ETUI:-http://127.0.0.1:8417}
booking=${1:-booking-2041}
starts_at=${2:-$(date -u -d '+21 days' +%Y-%m-%dT10:00:00Z)}
answer=$(mktemp)
trap 'rm -f "$answer"' EXIT

# The booking is the key: however often this runs, the check is made once a day.
# What a key cannot hold is written as in an address, so that a wrong name is told as one.
key=$(jq -rn --arg key "$booking-$starts_at" '$key | @uri')
body=$(jq -n --arg booking "$booking" --arg starts_at "$starts_at" '{
    booking_ref: $booking, treatment: "lips", effect: "soft_shading", starts_at: $starts_at,
    born_on: "1991-04-02", answers: {pregnant: false, warfarin: false}, candidates: "usual"}')
# curl waits as long as `Retry-After` says before it tries again.
status=$(curl --silent --show-error --retry 4 --retry-connrefused --max-time 60 \
    --output "$answer" --write-out '%{http_code}' "$base/v1/appointment-checks" \
    --header "Authorization: Bearer ${TOKEN:?the token of the studio}" \
    --header 'Content-Type: application/json' \
    --header "Idempotency-Key: \"$key\"" --data "$body") || exit 2

if [ "$status" -ge 400 ]; then
    jq -r '"\(.status) \(.code): \(.detail)", (.errors[]? | "  \(.pointer) \(.code): \(.message)")' "$answer" >&2
    exit 2
fi
jq -r '"\(.verdict): \(.summary)", (.todo[] | "- \(.text)")' "$answer"
case $(jq -r .verdict "$answer") in
proceed | proceed_with_conditions) ;;
*) exit 1 ;;
esac
