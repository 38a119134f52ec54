"""A word that the generated Python client does not know, in each open list of each recorded answer: it
is read all the same, and written as it came. One member more in each object too.

    PYTHONPATH=folder-of-the-client python newer.py openapi openapi/openapi.json
"""

import copy
import json
import pathlib
import sys

import etui_python.models as models

folder = pathlib.Path(sys.argv[1])
document = json.loads(pathlib.Path(sys.argv[2]).read_text())
recorded = json.loads((folder / "examples.json").read_text())
schemas = document["components"]["schemas"]


def places(schema, value, at=(), name=""):
    """Where words of open lists stand, with the name of their list."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[-1]
        yield from places(schemas[name], value, at, name)
    elif isinstance(value, str) and {"type": "string"} in schema.get("anyOf", []):
        yield at, name
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from places(schema.get("properties", {}).get(key, {}), inner, (*at, key), name)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from places(schema.get("items", {}), inner, (*at, index), name)


seen, wrong, answers = set(), [], 0
for item in document["paths"].values():
    for operation in item.values():
        example = recorded.get(operation["operationId"], {})
        media = operation["responses"].get(str(example.get("status")), {}).get("content", {}).get("application/json", {})
        name = media.get("schema", {}).get("$ref", "").rsplit("/", 1)[-1]
        model = getattr(models, name, None)
        if "answer" not in example or model is None or not hasattr(model, "from_dict"):
            continue
        answers += 1
        for at, words in {words: at for at, words in places(media["schema"], example["answer"])}.items():
            newer = copy.deepcopy(example["answer"])
            target = newer
            for step in words[:-1]:
                target = target[step]
            target[words[-1]] = "never_heard_of"
            newer["one_member_more"] = {"a": 1}
            try:
                back = model.from_dict(copy.deepcopy(newer)).to_dict()
                for step in words:
                    back = back[step]
                assert back == "never_heard_of", back
                seen.add(at)
            except Exception as error:  # noqa: BLE001
                wrong.append(f"{operation['operationId']} {'/'.join(map(str, words))} ({at}): {error!r}")
print("\n".join(wrong))
print(f"{answers} answers, {len(seen)} open lists survive a word that is new, {len(wrong)} do not")
sys.exit(1 if wrong or len(seen) < 40 else 0)
