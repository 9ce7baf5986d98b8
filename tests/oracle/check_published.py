#!/usr/bin/python3
"""Holds the reference's level-by-level rule against the switch-level cases (switch_level.yaml names their source)."""
import itertools
import os
import sys
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import circuit as c
import reference

WORDS = {"1": "fed", "0": "exhausted", "X": "partial", "Z": "trapped", "U": "unsure"}
CASES = c.load(os.path.join(os.path.dirname(os.path.abspath(__file__)), "switch_level.yaml"))["switch_level"]


def conditions_of(case):
    """{node: condition}, unsure where the alternatives of `maybe` differ."""
    elements = case["elements"]
    nodes = sorted({n for a, b, _ in elements for n in (a, b)} | {"S", "T"})
    maybe = [int(i) for i in case.get("maybe", [])]
    answers = []
    for conducts in itertools.product((True, False), repeat=len(maybe)):
        arcs = []
        for i, (a, b, strength) in enumerate(elements):
            if i in maybe and not conducts[maybe.index(i)]:
                continue
            strength = c.STRENGTHS[strength]
            if str(i) not in case.get("one_way_reversed", []):
                arcs.append((a, b, strength))
            if str(i) not in case.get("one_way", []):
                arcs.append((b, a, strength))
        answers.append(reference.conditions(nodes, arcs, {"S"}, "T")[0])
    return {n: reference.merge((one[n] for one in answers), "unsure") for n in nodes}


class SwitchLevel(unittest.TestCase):
    def test_all_cases(self):
        self.assertEqual(len(CASES), 19)
        for case in CASES:
            with self.subTest(case["id"]):
                found = conditions_of(case)
                self.assertEqual({n: found[n] for n in case["expect"]}, {n: WORDS[v] for n, v in case["expect"].items()})


if __name__ == "__main__":
    unittest.main()
