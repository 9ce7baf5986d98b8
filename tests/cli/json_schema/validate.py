#!/usr/bin/python3
"""Holds a JSON answer of the program (standard input) against the project's own schema by jsonschema (draft 7).
usage: validate.py DEFINITION    a command's definition in answers.schema.json"""
import json
import os
import sys

import jsonschema

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..")
with open(os.path.join(ROOT, "src", "report", "schemas", "answers.schema.json"), encoding="utf-8") as stream:
    schema = json.load(stream)
jsonschema.Draft7Validator.check_schema(schema)
answers = json.load(sys.stdin)
one = {"$schema": schema["$schema"], "definitions": schema["definitions"], "$ref": "#/definitions/" + sys.argv[1]}
wrong = []
for answer in answers if isinstance(answers, list) else [answers]:
    wrong += jsonschema.Draft7Validator(one).iter_errors(answer)
wrong += jsonschema.Draft7Validator(schema).iter_errors(answers)
for error in wrong:
    print("%s: %s" % ("/".join(str(step) for step in error.path), error.message[:200]))
print("%s: %s" % (sys.argv[1], "wrong" if wrong else "as the schema says"))
