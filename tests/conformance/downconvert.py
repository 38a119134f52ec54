"""From OpenAPI 3.1 to 3.0.3, for generators that know only that.

    python downconvert.py openapi.json openapi30.json

What 3.0 cannot say is left out, never changed: the older document accepts a
little more than the newer one.
"""

import json
import sys

# Of JSON Schema 2020-12, what the schema object of 3.0 does not know.
UNKNOWN = {
    "$schema", "$id", "$defs", "examples", "if", "then", "else", "contains", "propertyNames",
    "patternProperties", "unevaluatedProperties", "dependentRequired", "prefixItems", "const",
    "contentEncoding", "contentMediaType",
}  # fmt: skip


def schema(one):
    if isinstance(one, bool):
        return {}
    if "$ref" in one:  # beside a reference 3.0 reads nothing
        return {"$ref": one["$ref"]}
    any_of = one.get("anyOf", [])
    if {"type": "string"} in any_of and one.get("type") == "string":
        # A list of words that may become more: 3.0's generators take a text.
        one = {key: value for key, value in one.items() if key != "anyOf"}
    made = {key: value for key, value in one.items() if key not in UNKNOWN and not key.startswith("x-")}
    if "const" in one:
        made["enum"] = [one["const"]]
    if "prefixItems" in one and not isinstance(one.get("items"), dict):
        made["items"] = {}
    for bound in ("Minimum", "Maximum"):
        exclusive = f"exclusive{bound}"
        if exclusive in made and not isinstance(made[exclusive], bool):
            made[bound.lower()] = made[exclusive]
            made[exclusive] = True
    if isinstance(made.get("type"), list):
        kinds = [kind for kind in made.pop("type") if kind != "null"]
        if len(kinds) == 1:
            made["type"] = kinds[0]
    for key in ("allOf", "anyOf", "oneOf"):
        if key in made:
            made[key] = [schema(inner) for inner in made[key]]
    for key in ("items", "not", "additionalProperties"):
        if isinstance(made.get(key), dict):
            made[key] = schema(made[key])
    if isinstance(made.get("items"), bool):
        made["items"] = {}
    if "properties" in made:
        made["properties"] = {name: schema(inner) for name, inner in made["properties"].items()}
    return made


def content(one):
    # A generator of 3.0 takes one media type an answer: JSON where there is.
    names = [name for name in one if "json" in name] or list(one)
    media = {key: value for key, value in one[names[0]].items() if key not in ("example", "examples")}
    unknown = {} if "json" in names[0] else {"type": "string", "format": "binary"}
    media["schema"] = schema(media.get("schema", unknown))
    # Nor does it type what is JSON under another name.
    return {"application/json" if "json" in names[0] else names[0]: media}


def operation(one):
    made = {key: value for key, value in one.items() if key not in ("requestBody", "responses")}
    # Scopes beside an `http` scheme are new in 3.1.
    made["security"] = [{name: [] for name in held} for held in one.get("security", [])]
    made["parameters"] = [{**held, "schema": schema(held["schema"])} for held in one.get("parameters", [])]
    if "requestBody" in one:
        made["requestBody"] = {**one["requestBody"], "content": content(one["requestBody"]["content"])}
    made["responses"] = {}
    for status, answer in one["responses"].items():
        held = {"description": answer["description"]}
        if answer.get("content"):
            held["content"] = content(answer["content"])
        # One type for all refusals: the health body of a 503 is not one.
        if status < "400" or "application/problem+json" in answer.get("content", {}):
            made["responses"][status] = held
    return made


with open(sys.argv[1], encoding="utf-8") as file:
    document = json.load(file)
document["openapi"] = "3.0.3"


def whole(one):
    """What stands once for many, in its place."""
    kinds = ("parameters", "responses")
    target = one.get("$ref", "").split("/")
    return document["components"][target[2]][target[3]] if len(target) == 4 and target[2] in kinds else one


for item in document["paths"].values():
    for one in item.values():
        one["parameters"] = [whole(held) for held in one.get("parameters", [])]
        one["responses"] = {status: whole(held) for status, held in one["responses"].items()}
document.pop("webhooks", None)
document["info"]["license"] = {"name": document["info"]["license"]["name"]}
document["paths"] = {
    path: {method: operation(one) for method, one in item.items()}
    for path, item in document["paths"].items()
}
document["components"] = {
    "schemas": {name: schema(one) for name, one in document["components"]["schemas"].items()},
    "securitySchemes": document["components"]["securitySchemes"],
}
with open(sys.argv[2], "w", encoding="utf-8") as file:
    json.dump(document, file)
