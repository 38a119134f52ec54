"""Prints practice sheets at 600 dots an inch, and hands the print back to the service: the
frame must be found where it was drawn, within 0.02 mm over the card, and every panel read.
Then a student and her trainer are given something to look at; their tokens are the last line.

    ETUI=… TOKEN=… python practice.py folder
"""

import base64
import json
import os
import pathlib
import subprocess
import sys
import urllib.request

base, owner = os.environ["ETUI"], os.environ["TOKEN"]
folder = pathlib.Path(sys.argv[1])
folder.mkdir(parents=True, exist_ok=True)

# ISO 216, landscape.
PAPERS = {"a6": (148, 105), "a5": (210, 148), "a4": (297, 210)}
WITHIN_MM = 0.02
DPI = 600
# Paper is no lamp: nine tenths of full, as a scan has it (common practice, no source).
PAPER = "#e6e6e6"


def call(path, body=None, method=None, token=owner, accept="application/json"):
    headers = {"Authorization": f"Bearer {token}", "Accept": accept}
    data = None
    if body is not None:
        headers["Content-Type"] = "application/json"
        data = json.dumps(body).encode()
    request = urllib.request.Request(base + path, data=data, headers=headers, method=method)
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    return json.loads(text) if accept == "application/json" else text


faults = []
for paper, (width, _) in PAPERS.items():
    drills = {
        "configuration": {"diameter_mm": 0.3, "count": 3, "grouping": "round_shader"},
        "effect": "soft_shading", "site": "brow", "level": "working", "seed": 5, "paper": paper,
    }
    drawn = folder / f"{paper}.svg"
    sheet = call("/v1/drills", drills, accept="image/svg+xml").decode()
    drawn.write_text(sheet.replace('fill="#fff"', f'fill="{PAPER}"', 1))
    printed = drawn.with_suffix(".png")
    subprocess.run(
        ["rsvg-convert", f"--dpi-x={DPI}", f"--dpi-y={DPI}", "--background-color=white",
         "--output", printed, drawn],
        check=True,
    )
    picture = base64.b64encode(printed.read_bytes()).decode()
    read = call("/v1/sheet-readings", {"drills": drills, "picture": picture})
    quality = read.get("quality")
    if quality is None or read["cannot"]:
        faults.append(f"{paper}: it cannot be read: {read['cannot']}")
        continue
    scale = abs(quality["dpi"] / DPI - 1) * width
    print(f"{paper}: {quality['dpi']:.3f} dpi, {scale:.4f} mm over the sheet, "
          f"marks within {quality['flatness_mm']:.4f} mm, {len(read['panels'])} panels")
    if max(scale, quality["flatness_mm"]) > WITHIN_MM:
        faults.append(f"{paper}: not within {WITHIN_MM} mm")

for artist, body in {
    "anna": {"hand": "light", "standing": "student"},
    "berta": {"hand": "medium", "trainer": True},
}.items():
    call(f"/v1/artists/{artist}", body, "PUT")


def token(artist, scopes):
    plugin = call("/v1/plugins", {"name": artist, "scopes": scopes})["id"]
    return call(f"/v1/plugins/{plugin}/tokens", {"name": artist, "acts_for": artist})["secret"]


student = token("anna", ["practice:read", "practice:write", "compute"])
trainer = token("berta", ["practice:read", "sign-offs", "clients:read"])
drills = {
    "configuration": {"diameter_mm": 0.3, "count": 3, "grouping": "round_shader"},
    "effect": "soft_shading", "site": "brow", "level": "working", "seed": 1,
}
first, _ = [
    call("/v1/practice-sheets", {"artist_ref": "anna", "drills": {**drills, "seed": seed}}, token=student)
    for seed in (1, 2)
]
typed = [
    {"panel": panel["number"],
     "values": [{"quantity": one["quantity"], "got": one["asked"]} for one in panel["targets"]]}
    for panel in first["drills"]["panels"]
]
call(f"/v1/practice-sheets/{first['id']}/attempts", {"panels": typed}, token=student)

for fault in faults:
    print("fault:", fault)
print(f"student={student}&trainer={trainer}&artist=anna")
sys.exit(1 if faults else 0)
