#!/usr/bin/python3
"""Holds SARIF (standard input) against the hand-checked minimal schema beside this file, and what no schema says: every
rule index names the rule of its result (OASIS SARIF 2.1.0, 3.27.6), every region lies within its line. usage: validate.py"""
import json
import os
import re
import sys
import urllib.parse

import jsonschema

HERE = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(HERE, "sarif_minimal.schema.json"), encoding="utf-8") as stream:
    schema = json.load(stream)
jsonschema.Draft7Validator.check_schema(schema)
document = json.load(sys.stdin)
wrong = ["%s: %s" % ("/".join(map(str, error.path)), error.message[:200])
         for error in jsonschema.Draft7Validator(schema).iter_errors(document)]
results = document["runs"][0]["results"]
rules = document["runs"][0]["tool"]["driver"]["rules"]
for result in results:
    if rules[result["ruleIndex"]]["id"] != result["ruleId"]:
        wrong.append("rule index %d is not %s" % (result["ruleIndex"], result["ruleId"]))
    for place in result["locations"] + result.get("relatedLocations", []):
        region = place["physicalLocation"].get("region")
        if region:
            path = urllib.parse.unquote(place["physicalLocation"]["artifactLocation"]["uri"])
            with open(path, encoding="utf-8", errors="replace") as stream:
                rows = re.split("\r\n|[\r\n\x85\u2028\u2029]", stream.read())  # as YAML 1.1 has it
            line = rows[region["startLine"] - 1] if region["startLine"] <= len(rows) else ""
            if not region["startColumn"] < region["endColumn"] <= len(line) + 2:
                wrong.append("%s:%d: columns %d to %d" % (path, region["startLine"], region["startColumn"], region["endColumn"]))
for one in wrong:
    print(one)
print("%s: %s" % ("results" if results else "no result", "wrong" if wrong else "as the schema says"))
