"""What the program is made of, and under which licences.

    python3 tests/notices/make.py                writes service/THIRD-PARTY.md
    python3 tests/notices/make.py --texts FILE   the same with every licence text, to lie beside a binary

Reads `cargo metadata`; nothing is fetched that `cargo build` does not fetch.
"""

import json
import pathlib
import subprocess
import sys

root = pathlib.Path(__file__).resolve().parents[2]
metadata = json.loads(
    subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", "x86_64-unknown-linux-gnu"],
        cwd=root, capture_output=True, text=True, check=True,
    ).stdout
)  # fmt: skip
packages = {package["id"]: package for package in metadata["packages"]}
nodes = {node["id"]: node for node in metadata["resolve"]["nodes"]}


def reached(start):
    """What is linked into the program: neither tests nor what only builds it."""
    seen, left = set(), [start]
    while left:
        one = left.pop()
        if one in seen:
            continue
        seen.add(one)
        for other in nodes[one]["deps"]:
            if any(kind["kind"] is None for kind in other["dep_kinds"]):
                left.append(other["pkg"])
    return seen


# Needed to build alone, but what they hold is packed into the program: the files of the page of the interface.
PACKED = {"utoipa-swagger-ui-vendored"}

service = next(package["id"] for package in metadata["packages"] if package["name"] == "etui-service")
used = [packages[one] for one in reached(service) if packages[one]["source"]]
used += [package for package in packages.values() if package["name"] in PACKED]
used.sort(key=lambda package: (package["name"], package["version"]))


def where(package):
    return package.get("repository") or package.get("homepage") or ""


rows = [f"| {p['name']} {p['version']} | {p['license'] or 'see its files'} | {where(p)} |" for p in used]
text = (
    "# What etui is made of\n\n"
    "Every package that is linked into the program, with the licence it names. `tests/notices/make.py` writes this\n"
    "list; with `--texts FILE` it writes the licence texts as well, which a binary that is handed on has to have beside it.\n\n"
    "| package | licence | where |\n|---|---|---|\n" + "\n".join(rows) + "\n"
)
if "--texts" not in sys.argv:
    (root / "service" / "THIRD-PARTY.md").write_text(text)
    print(f"{len(rows)} packages")
    sys.exit(0)
names = ("license", "licence", "copying", "notice", "unlicense", "copyright")
held = {}
for package in used:
    folder = pathlib.Path(package["manifest_path"]).parent
    for file in sorted(folder.iterdir()):
        if file.is_file() and file.name.lower().startswith(names):
            held.setdefault(file.read_text(errors="replace").strip(), []).append(f"{package['name']} {package['version']}")
out = pathlib.Path(sys.argv[sys.argv.index("--texts") + 1])
out.write_text(text + "".join(f"\n\n---\n\nOf {', '.join(names)}:\n\n{words}\n" for words, names in held.items()))
print(f"{len(rows)} packages, {len(held)} licence texts")
