"""Runs every command of the README as it is printed there, in its order, from an empty folder, and says
how long each took.

    PROGRAM=/path/to/etui python readme.py README.md

`cargo run --release -- …` is the program that PROGRAM names, so that nothing is compiled again;
`cargo test` is left to the tests. What wants a service that is stopped gets one.
"""

import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time

text = pathlib.Path(sys.argv[1]).read_text()
program = pathlib.Path(os.environ["PROGRAM"]).resolve()
blocks = re.findall(r"```sh\n(.*?)```", text, re.S)

folder = pathlib.Path(tempfile.mkdtemp(prefix="etui-readme-"))
tools = folder / "tools"
tools.mkdir()
shim = tools / "cargo"
shim.write_text(f'#!/bin/sh\n[ "$1" = test ] && exit 0\nwhile [ "$1" != -- ]; do shift; done\nshift\nexec {program} "$@"\n')
shim.chmod(0o755)
etui = tools / "etui"
etui.symlink_to(program)
work = folder / "work"
work.mkdir()
environment = {k: v for k, v in os.environ.items() if not k.startswith("ETUI") and k != "TOKEN"}
environment["LC_ALL"] = "C.UTF-8"
environment["PATH"] = f"{tools}:{environment['PATH']}"
exports = ""
service = None


def start(block):
    """Starts the service and waits for the line that says that it is ready."""
    global service
    log = (folder / "service.log").open("ab")
    service = subprocess.Popen(
        ["bash", "-c", "exec " + block.strip()], cwd=work, env=environment, stdout=subprocess.PIPE, stderr=log
    )
    assert service.stdout.readline(), "the service did not start"


def stop():
    global service
    if service:
        service.send_signal(signal.SIGTERM)
        service.wait(timeout=30)
        service = None


def commands(block):
    """The commands of a block: a line that goes on, or a text for a command, ends with the last of its lines."""
    command = ""
    for line in block.splitlines(keepends=True):
        command += line
        told = subprocess.run(["bash", "-nc", command], capture_output=True, text=True)
        if command.strip() and not command.endswith("\\\n") and not told.stderr:
            yield command
            command = ""
    assert not command.strip(), f"no command: {command}"


def say(seconds, command):
    global count
    count += 1
    took = "  tested" if command.startswith("cargo test") else f"{seconds:6.2f} s"
    print(f"{took}  {command.strip().splitlines()[0][:100]}")


def run(block):
    all_of_it = list(commands(block))
    mark = f'printf "{MARK} %s\\n" "$EPOCHREALTIME" >&2\n'
    script = exports + mark + "".join(command + mark for command in all_of_it)
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", script], cwd=work, env=environment, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, f"{block}\nended with {done.returncode}: {done.stderr}\n{done.stdout}"
    times = [float(at) for at in re.findall(rf"{MARK} ([\d.]+)", done.stderr)]
    assert len(times) == len(all_of_it) + 1, f"{block}\nwas left before its end"
    for command, from_then, until in zip(all_of_it, times, times[1:]):
        say(until - from_then, command)
    return done.stdout


# Stands between two commands.
MARK = "~~~readme~~~"
# A newcomer has ten minutes, and builds in them.
MOST_SECONDS = 120


count, verdicts, serve = 0, [], None
began = time.monotonic()
try:
    for block in blocks:
        if "-- serve" in block:
            serve = block
            before = time.monotonic()
            start(block)
            say(time.monotonic() - before, block)
            continue
        if block.lstrip().startswith("export "):
            exports += block
        stopped = "-- export" in block
        if stopped:
            stop()
        out = run(block)
        if stopped and serve:
            start(serve)
        for line in out.splitlines():
            answer = json.loads(line) if line.startswith("{") else {}
            assert "request_id" not in answer, f"{block}\nwas refused: {line[:2000]}"
            if "verdict" in answer:
                verdicts.append(answer["verdict"])
finally:
    stop()
assert any(verdict != "incomplete" for verdict in verdicts), f"no check with a real verdict: {verdicts}"
took = time.monotonic() - began
assert took < MOST_SECONDS, f"they take {took:.0f} s"
print(f"{count} commands of the README run as printed in {took:.1f} s; verdicts: {', '.join(verdicts)}")
sys.exit(0)
