"""Looks at every refusal of a request whose parameters fit their schemas: it names parameters, and for each
a reason that no schema can say. Loaded by schemathesis, whose own check lets these pass with their status.
"""

import ast
import json
import threading

import schemathesis

# Two workers that read source at the same time trip over a counter that Python shares among its threads
# ("AST constructor recursion depth mismatch", known of CPython 3.11): one after the other.
parse, turn = ast.parse, threading.RLock()


def parse_in_turn(*args, **kwargs):
    with turn:
        return parse(*args, **kwargs)


ast.parse = parse_in_turn

# Where a fault of a parameter may be, with its code: the reasons stand in EXCLUSIONS.md.
BEYOND_SCHEMAS = {
    ("query:cursor", "wrong_format"),
    ("query:configuration", "wrong_format"),
    ("query:label", "wrong_format"),
    ("query:effect", "missing"),
    ("query:site", "missing"),
    ("query:to", "contradiction"),
}
# Which parameters of a drawing go with which view, how many needles it shows, and which of them.
DRAWINGS = "/v1/configuration-drawings"
OF_A_VIEW = ("not_allowed", "missing", "wrong_length", "out_of_range")


@schemathesis.check
def refused_parameters_have_reasons(ctx, response, case):
    meta = case.meta
    if meta is None or not meta.generation.mode.is_positive or response.status_code != 400:
        return
    problem = json.loads(response.content)
    faults = [(fault["pointer"], fault["code"]) for fault in problem.get("errors", [])]
    unheard = [
        fault
        for fault in faults
        if fault not in BEYOND_SCHEMAS
        and not (case.operation.path == DRAWINGS and fault[1] in OF_A_VIEW)
    ]
    assert faults and not unheard, f"fits its schema and is refused: {unheard or problem}"
