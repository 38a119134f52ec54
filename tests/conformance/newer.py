"""What a service that is newer than a generated Python client says: a word that it does not know in each
open list that an answer leads to is read all the same and written as it came, one member more in each
answer is passed over. The answers as they are recorded are read whole, and so are the requests.

    PYTHONPATH=folder-of-the-client python newer.py etui_python.models openapi openapi/openapi.json

The models are those of openapi-python-client or of datamodel-code-generator (pydantic). With `bodies`
for them it writes what there is to be read, a line each, for readers in other languages.
"""

import copy
import importlib
import json
import pathlib
import re
import sys

folder = pathlib.Path(sys.argv[2])
document = json.loads(pathlib.Path(sys.argv[3]).read_text())
recorded = json.loads((folder / "examples.json").read_text())
schemas = document["components"]["schemas"]


def target(schema):
    """The name of the type that a schema refers to."""
    return schema.get("$ref", "").rsplit("/", 1)[-1]


def is_open(schema):
    """Whether it is a list of words that may become more."""
    return {"type": "string"} in schema.get("anyOf", [])


def least(schema):
    """A value with as little in it as there may be."""
    if "$ref" in schema:
        return least(schemas[target(schema)])
    for word, first in (("const", lambda it: it), ("enum", lambda it: it[0]), ("examples", lambda it: it[0])):
        if word in schema:
            return first(schema[word])
    for one in ("oneOf", "anyOf"):
        if one in schema:
            return least(schema[one][0])
    kind = schema.get("type")
    kind = kind[0] if isinstance(kind, list) else kind
    if kind == "object":
        return {key: least(schema["properties"][key]) for key in schema.get("required", [])}
    if kind == "array":
        return [least(schema["items"]) for _ in range(schema.get("minItems", 0))]
    if kind == "string":
        return FORMATS.get(schema.get("format"), "text")
    return schema.get("minimum", {"integer": 0, "number": 0, "boolean": False}.get(kind))


FORMATS = {
    "date": "2027-03-16",
    "date-time": "2027-03-16T08:00:00Z",
    "uuid": "0198c6a2-7d5e-7000-8000-000000000001",
    "iana-time-zone": "UTC",
}


def lists_below(schema, name="", seen=()):
    """The open lists that a value may hold words of, each with a way to it."""
    if "$ref" in schema:
        name = target(schema)
        if name not in seen:
            yield from lists_below(schemas[name], name, (*seen, name))
        return
    if is_open(schema):
        yield name, ()
        return
    for of in ("oneOf", "anyOf", "allOf"):
        for alternative in schema.get(of, []):
            for found, way in lists_below(alternative, name, seen):
                yield found, (("one", alternative), *way)
    for key, inner in schema.get("properties", {}).items():
        for found, way in lists_below(inner, name, seen):
            yield found, (("member", key, schema), *way)
    more = schema.get("additionalProperties")
    for step, inner in ((("item",), schema.get("items")), (("member", "a", {"type": "object"}), more)):
        for found, way in lists_below(inner, name, seen) if isinstance(inner, dict) else ():
            yield found, (step, *way)


def put(way, there):
    """What is there with a new word at the end of a way, and as little more as leads to it."""
    if not way:
        return "never_heard_of"
    (kind, *step), rest = way[0], way[1:]
    if kind == "one":
        # What stands there may be another of the alternatives.
        return put(rest, least(step[0]))
    if kind == "item":
        return [put(rest, there[0] if isinstance(there, list) and there else None)]
    key, schema = step
    whole = dict(there) if isinstance(there, dict) else least(schema) or {}
    whole[key] = put(rest, whole.get(key))
    return whole


def word_at(way, value):
    """The word at the end of a way."""
    for kind, *step in way:
        value = value if kind == "one" else value[0] if kind == "item" else value[step[0]]
    return value


def bodies():
    """Each recorded body, and each answer with a word that is new: the operation, the type, the body, and
    the list and the way to its word."""
    for item in document["paths"].values():
        for operation in item.values():
            called = operation["operationId"]
            example = recorded.get(called, {})
            answers = operation["responses"].get(str(example.get("status")), {}).get("content", {})
            for what, content in (
                ("request", operation.get("requestBody", {}).get("content", {})),
                ("answer", {kind: media for kind, media in answers.items() if kind == "application/json"}),
            ):
                schema = next(iter(content.values()), {}).get("schema", {})
                if what not in example or "$ref" not in schema:
                    continue
                whole = example[what]
                yield called, target(schema), whole, None, ()
                for name, way in dict(lists_below(schema)).items() if what == "answer" else ():
                    yield called, target(schema), put(way, whole) | {"one_member_more": {"a": 1}}, name, way


def through(model, value):
    """Read into the model and written again."""
    if hasattr(model, "model_validate"):
        # As a program reads a body; what was not told is not told.
        read = model.model_validate_json(json.dumps(value))
        return read.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return model.from_dict(copy.deepcopy(value)).to_dict()


def same(value):
    """Without what two spellings of one instant differ by."""
    if isinstance(value, dict):
        return {key: same(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [same(inner) for inner in value]
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\dT[\d:.]+(Z|\+00:00)", value):
        return re.sub(r"(\.\d*?)0*(?=Z)", r"\1", value.replace("+00:00", "Z")).replace(".Z", "Z")
    return value


if sys.argv[1] == "bodies":
    for called, model, body, name, way in bodies():
        # The way as steps into the body.
        way = [0 if kind == "item" else step[0] for kind, *step in way if kind != "one"]
        print(json.dumps([called, model, body, name, way]))
    sys.exit(0)

models = importlib.import_module(sys.argv[1])
seen, wrong, whole = set(), [], 0
for called, model, body, name, way in bodies():
    model = getattr(models, model, None)
    if not hasattr(model, "from_dict") and not hasattr(model, "model_validate"):
        continue
    try:
        back = through(model, body)
        if name is None:
            assert same(back) == same(body), "it is written otherwise"
            whole += 1
        else:
            assert word_at(way, back) == "never_heard_of", back
            seen.add(name)
    except Exception as error:  # noqa: BLE001
        wrong.append(f"{called}: {name or 'as recorded'}: {error!r}")
missed = {name for name, schema in schemas.items() if is_open(schema)} - seen
wrong += [f"{name}: no answer leads to it" for name in sorted(missed)]
print("\n".join(wrong))
print(f"{whole} bodies read whole, {len(seen)} open lists survive a word that is new, {len(wrong)} faults")
sys.exit(1 if wrong else 0)
