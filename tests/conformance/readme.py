"""Runs every curl command of the README as it is printed there.

    ETUI=… TOKEN=… python readme.py README.md
"""

import json
import pathlib
import re
import subprocess
import sys

text = pathlib.Path(sys.argv[1]).read_text()
blocks = [b for b in re.findall(r"```sh\n(.*?)```", text, re.S) if "curl" in b]
for block in blocks:
    run = subprocess.run(["bash", "-euo", "pipefail", "-c", block], capture_output=True, text=True, timeout=60)
    assert run.returncode == 0, (block, run.stderr)
    answer = json.loads(run.stdout)
    assert "code" not in answer, (block, answer)
print(f"{len(blocks)} commands of the README run as printed")
sys.exit(0 if blocks else 1)
