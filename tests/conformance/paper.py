"""Prints the sheets of a service with a browser and reads the paper: every word
of a page stands on it, whole and within the sheet.

    ETUI=… TOKEN=… python paper.py browser folder
"""

import html.parser
import json
import os
import pathlib
import re
import subprocess
import sys
import urllib.request
import xml.etree.ElementTree as xml
from datetime import datetime, timedelta, timezone

base, token = os.environ["ETUI"], os.environ["TOKEN"]
browser, folder = sys.argv[1], pathlib.Path(sys.argv[2])
folder.mkdir(parents=True, exist_ok=True)


def call(path, body=None, language="en", method=None):
    headers = {"Authorization": f"Bearer {token}", "Accept-Language": language}
    data = None
    if body is not None:
        headers["Content-Type"] = "application/json"
        data = json.dumps(body).encode()
    request = urllib.request.Request(base + path, data=data, headers=headers, method=method)
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.read().decode()


class Words(html.parser.HTMLParser):
    """The words of a page's body, pictures aside."""

    def __init__(self):
        super().__init__()
        self.out, self.words = 0, []

    def handle_starttag(self, tag, attrs):
        self.out += tag in ("head", "style", "svg")

    def handle_endtag(self, tag):
        self.out -= tag in ("head", "style", "svg")

    def handle_data(self, data):
        if not self.out:
            self.words += data.split()


def letters(words):
    return re.sub(r"\W", "", "".join(words))


now = datetime.now(timezone.utc)
starts_at = (now + timedelta(days=21)).strftime("%Y-%m-%dT10:00:00Z")
call("/v1/lots", {"text": "0.25 5RS LOT A EXP 2035-02-28 STERILE EO", "packs": 9, "maker": "m"})
pages = {}
for language in ("en", "de"):
    answers = {"cold_sore_history": True, "warfarin": True, "diabetes_out_of_range": True,
               "medicines": ["antibiotics", "steroids"], "long_term_conditions": ["diabetes"]}
    check = json.loads(call("/v1/appointment-checks", {
        "booking_ref": f"paper-{language}", "treatment": "lips", "effect": "soft_shading", "born_on": "1950-04-02",
        "starts_at": starts_at, "zone": "Europe/Berlin", "answers": answers, "candidates": "usual"}, language))
    call(f"/v1/clients/paper-{language}", {"born_on": "1984-05-02", "language": language}, method="PUT")
    lot = json.loads(call("/v1/lots?state=usable"))["items"][0]["id"]
    treatment = json.loads(call("/v1/treatments", {
        "client_ref": f"paper-{language}", "artist_ref": "juna", "treatment": "lips", "effect": "soft_shading",
        "performed_at": now.strftime("%Y-%m-%dT%H:%M:%SZ"), "zone": "Europe/Berlin",
        "packs": [{"lot_id": lot, "intact": True}]}, language))
    of = f"/v1/appointment-checks/{check['id']}/sheet"
    for name, path in {
        "before": of,
        "studio": f"{of}?for=studio",
        "day": f"/v1/day-sheets/{check['on']}",
        "aftercare": f"/v1/treatments/{treatment['id']}/aftercare-sheet",
    }.items():
        pages[f"{name}-{language}"] = call(path, None, language)

faults = []
for name, page in pages.items():
    file, paper, boxes = (folder / f"{name}.{kind}" for kind in ("html", "pdf", "xml"))
    file.write_text(page)
    subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/browser",
         "--no-pdf-header-footer", f"--print-to-pdf={paper}", file.absolute().as_uri()],
        check=True, capture_output=True, timeout=90)
    subprocess.run(["pdftotext", "-bbox", paper, boxes], check=True)
    space = "{http://www.w3.org/1999/xhtml}"
    sheets = list(xml.parse(boxes).iter(f"{space}page"))
    printed = []
    for at, sheet in enumerate(sheets, 1):
        wide, high = float(sheet.get("width")), float(sheet.get("height"))
        for word in sheet.iter(f"{space}word"):
            left, top, right, bottom = (float(word.get(side)) for side in ("xMin", "yMin", "xMax", "yMax"))
            printed.append(word.text)
            if left < 0 or top < 0 or wide < right or high < bottom:
                faults.append(f"{name}: `{word.text}` runs out of sheet {at}")
    parser = Words()
    parser.feed(page)
    text, on_paper = letters(parser.words), letters(printed)
    missing = [word for word in parser.words if letters([word]) not in on_paper]
    if missing:
        faults.append(f"{name}: not on the paper: {missing[:8]}")
    print(f"{name}: {len(sheets)} sheets, {len(parser.words)} words, {len(text)} letters of {len(on_paper)}")
print("\n".join(faults))
sys.exit(1 if faults else 0)
