"""Validates every recorded request and answer with the Python `jsonschema`
package, once against the OpenAPI document and once against the published
schemas: a second reader of the same schemas, written by other people.

    python answers.py openapi openapi/openapi.json
"""

import json
import pathlib
import sys

from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

folder = pathlib.Path(sys.argv[1])
document = json.loads(pathlib.Path(sys.argv[2]).read_text())
examples = json.loads((folder / "examples.json").read_text())

registry = Registry().with_resource(
    "urn:etui", Resource(contents=document, specification=DRAFT202012)
)


def name_of(content):
    return content.get("schema", {}).get("$ref", "").rsplit("/", 1)[-1]


def faults(name, value):
    for schema in (
        {"$ref": f"urn:etui#/components/schemas/{name}"},
        json.loads((folder / "schemas" / f"{name}.json").read_text()),
    ):
        Draft202012Validator.check_schema(schema)
        validator = Draft202012Validator(
            schema, registry=registry, format_checker=Draft202012Validator.FORMAT_CHECKER
        )
        for error in validator.iter_errors(value):
            yield f"{error.json_path}: {error.message[:200]}"


checked, wrong = 0, []
for path, item in document["paths"].items():
    for method, operation in item.items():
        example = examples.get(operation["operationId"])
        if example is None:
            wrong.append(f"{operation['operationId']}: no example is recorded")
            continue
        pairs = []
        if "request" in example:
            # JSON, or a merge patch, which is JSON too.
            media = next(iter(operation["requestBody"]["content"].values()))
            pairs.append((media, example["request"]))
        content = operation["responses"][str(example["status"])].get("content", {})
        if "answer" in example and "application/json" in content:
            pairs.append((content["application/json"], example["answer"]))
        for media, value in pairs:
            name = name_of(media)
            if name:
                checked += 1
                wrong += [f"{method.upper()} {path}: {name}: {fault}" for fault in faults(name, value)]

print("\n".join(wrong))
print(f"{checked} bodies validated, {len(wrong)} faults")
sys.exit(1 if wrong or not checked else 0)
