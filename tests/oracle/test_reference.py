#!/usr/bin/python3
"""Small circuits with answers found by hand; each test carries its derivation.

The reference must give them before anything else is held against it. All units are invented.
"""
import os
import sys
import unittest

import yaml

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from reference import evaluate

LIMITING = """
layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]
circuits: {line: {passages: [case.line, body.line]}, supply: {passages: [body.sup]}, react: {under: supply, passages: [case.react]},
           sig: {passages: [case.sig]}}
joints: {J1: [case.line, body.line]}
holes:
  H11: {joins: [body.sup, case.react], diameter: 0.9, orifice: true}
  H12: {joins: [body.sup, case.sig], diameter: 1, orifice: true}
valves:
  lim: {kind: limiting, supply: body.line, outlet: body.sup, reaction: case.react, limit: 115}
solenoids: {s1: {kind: bleed, normally: open, joins: [case.sig, sump], diameter: 2}}
actuators: {fwd: {kind: clutch, apply: case.sig}}
feeds: {line: {into: case.line, capacity: 30}, supply: {from: body.sup}}
gears: {neutral: [], first: [fwd]}
states: {low: {line: 90, s1: on, gear: first}, high: {line: 150, s1: on, gear: first}}
"""

SHUTTLE = """
layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]
circuits: {all: {passages: [case.a, case.b, case.pa, case.pb, body.pocket]}}
holes:
  HA: {joins: [case.a, body.pocket], diameter: 4}
  HB: {joins: [case.b, body.pocket], diameter: 4}
  HPA: {joins: [case.pa, sump], diameter: 1, orifice: true}
joints: {JA: {joins: [case.pa, case.a], diameter: 5}, JB: {joins: [case.pb, case.b], diameter: 5}}
check_balls: {B2: {seats_on: [HA, HB], lies_in: body.pocket}}
solenoids: {da: {kind: bleed, normally: closed, joins: [case.a, sump]}, db: {kind: bleed, normally: closed, joins: [case.b, sump]}}
feeds: {fa: {into: case.pa, capacity: 5}, fb: {into: case.pb, capacity: 5}}
states:
  only_a: {fa: 100, fb: off, db: on}
  near: {fa: 100, fb: 95}
  apart: {fa: 100, fb: 85}
"""


def spools(valves, passages, more="", states="s: {line: 90}"):
    """Line at body.in; the passages are body.*; exhaust at sump."""
    return """
layers: [{id: body, kind: casting}, {id: plate, kind: plate}]
circuits: {all: {passages: [body.in, %s]}}
feeds: {line: {into: body.in, capacity: 10}}
valves: {%s}
states: {%s}
%s""" % (passages, valves, states, more)


def own_end(name, passage):
    """At rest it feeds its own end, stroked it drains it."""
    return ("%s: {kind: spool, ports: {in: body.in, out: %s, x: sump}, rest: [[in, out]], stroked: [[out, x]], "
            "ends: [{port: out, pushes: stroke}]}" % (name, passage))


def ask(text, fault=None, state=None):
    states = evaluate(yaml.load(text, Loader=yaml.BaseLoader), fault)["states"]
    return states[state or next(iter(states))]


class Limiting(unittest.TestCase):
    def test_healthy(self):
        """Reaction fed by the outlet alone: the outlet's circuit taken out, it is dead, so the valve limits; all oil behind it is past nothing."""
        s = ask(LIMITING, state="high")
        self.assertEqual(s["valves"]["lim"]["structure"], "limiting")
        self.assertEqual(s["passages"]["case.sig"], {"condition": "fed", "feeds": {"supply": "sure"}, "past": {"lim": False}})
        self.assertEqual(s["passages"]["case.line"], {"condition": "fed", "feeds": {"line": "sure"}, "past": {"lim": True}})
        self.assertEqual(s["gear"], {"commanded": "first", "structure": "first"})

    def test_reaction_orifice_blocked(self):
        """Nothing else touches the reaction: trapped, so wide, and everything behind is past the valve."""
        s = ask(LIMITING, "block H11", "high")
        self.assertEqual(s["valves"]["lim"]["structure"], "wide")
        self.assertEqual(s["passages"]["case.react"]["condition"], "trapped")
        self.assertEqual(s["passages"]["case.sig"]["past"], {"lim": True})

    def test_second_feed_stronger(self):
        """150 psi > 115; leak of 3 mm is open, the route from the outlet an orifice: shut. Then the outlet is fed back through H11."""
        s = ask(LIMITING, "leak case.line into case.react at 3 mm", "high")
        self.assertEqual(s["valves"]["lim"]["structure"], "shut")
        self.assertEqual(s["passages"]["body.sup"], {"condition": "fed", "feeds": {"supply": "sure"}, "past": {"lim": True}})
        self.assertEqual(s["passages"]["case.react"]["feeds"], {"line": "sure"})

    def test_second_feed_not_above_the_limit(self):
        """The same at 90 psi: the second feed cannot overcome the spring."""
        s = ask(LIMITING, "leak case.line into case.react at 3 mm", "low")
        self.assertEqual(s["valves"]["lim"]["structure"], "limiting")

    def test_second_feed_weaker_or_equal(self):
        """0.5 mm is a leak, weaker than the orifice H11: limiting. 1 mm is an orifice, equally strong: limiting or shut; both feed the outlet."""
        s = ask(LIMITING, "leak case.line into case.react", "high")
        self.assertEqual(s["valves"]["lim"]["structure"], "limiting")
        s = ask(LIMITING, "leak case.line into case.react at 1 mm", "high")
        self.assertEqual(s["valves"]["lim"]["structure"], "undetermined")
        self.assertEqual(s["passages"]["body.sup"]["condition"], "fed")

    def test_doubtful_reaction(self):
        """A 0.8 mm leak from the reaction to sump fights H11, both orifices: partial, so limiting or wide, and past V only in one of two."""
        s = ask(LIMITING, "leak case.react into sump at 0.8 mm", "high")
        self.assertEqual(s["valves"]["lim"]["structure"], "undetermined")
        self.assertEqual(s["passages"]["case.react"]["condition"], "partial")
        self.assertEqual(s["passages"]["body.sup"]["past"], {"lim": "may"})

    def test_broken(self):
        """No spring: R with its window open is fed, so shut; with the orifice blocked R is trapped, so wide."""
        self.assertEqual(ask(LIMITING, "break lim", "low")["valves"]["lim"]["structure"], "shut")
        self.assertEqual(ask(LIMITING, "break lim + block H11", "low")["valves"]["lim"]["structure"], "wide")

    def test_bleed_solenoid(self):
        """Off, the bleed is open and stronger than the orifice H12: exhausted; stuck on, fed."""
        s = ask(LIMITING, "stick s1 at off", "low")
        self.assertEqual(s["passages"]["case.sig"]["condition"], "exhausted")
        self.assertEqual(s["gear"], {"commanded": "first", "structure": "neutral"})


class Shuttle(unittest.TestCase):
    def test_one_side_dead(self):
        """b drained and no feed: b's seat shuts; a feeds the pocket and b does not get its oil."""
        s = ask(SHUTTLE, state="only_a")
        self.assertEqual(s["passages"]["body.pocket"], {"condition": "fed", "feeds": {"fa": "sure"}, "past": {}})
        self.assertEqual(s["passages"]["case.b"], {"condition": "exhausted", "feeds": {}, "past": {}})

    def test_estimates_apart(self):
        """95 against 100 is within a tenth: both open, both reach the pocket and each other. 85 is not: the lower shuts."""
        s = ask(SHUTTLE, state="near")
        self.assertEqual(s["passages"]["body.pocket"]["feeds"], {"fa": "sure", "fb": "sure"})
        s = ask(SHUTTLE, state="apart")
        self.assertEqual(s["passages"]["body.pocket"]["feeds"], {"fa": "sure"})
        self.assertEqual(s["passages"]["case.b"]["feeds"], {"fb": "sure"})

    def test_lost_and_seated(self):
        """Lost: the feed main-joined at a is spread to b at open, where the bleed at open drains it: b is decided by both, partial, and so is
        the pocket: at the level open feed comes from a, exhaust from sump through b. Seated on HA: the pocket belongs to b, exhausted."""
        s = ask(SHUTTLE, "lose B2", "only_a")
        self.assertEqual([s["passages"][p]["condition"] for p in ("case.a", "body.pocket", "case.b")], ["fed", "partial", "partial"])
        s = ask(SHUTTLE, "seat B2 on HA", "only_a")
        self.assertEqual(s["passages"]["body.pocket"]["condition"], "exhausted")

    def test_unseat(self):
        """The worn seat of b is a 0.5 mm leak out of the pocket; b has its open drain, so the leak decides nothing, but a's oil reaches b's
        passage only if that is live: it is not."""
        s = ask(SHUTTLE, "unseat B2 on HB", "only_a")
        self.assertEqual(s["passages"]["case.b"], {"condition": "exhausted", "feeds": {}, "past": {}})
        s = ask(SHUTTLE, "unseat B2 on HB + stick db at off", "only_a")
        self.assertEqual(s["passages"]["case.b"]["condition"], "fed")      # trapped without the leak


class Spool(unittest.TestCase):
    SIZED = ("v: {kind: spool, ports: {sig: body.in, in: body.in, out: body.o, x: sump}, rest: [[out, x]], stroked: [[in, out]], "
             "ends: [{port: sig, pushes: stroke, area: 80}], spring: {preload: 18, rate: 2}, travel: 5}")

    def test_force(self):
        """80 mm2 x 90 psi (0.6205 MPa) = 49.6 N > 18 + 2 x 2.5 = 23 N: stroked. At 40 psi 22.1 N: rest."""
        text = spools(self.SIZED, "body.o", states="s: {line: 90}, low: {line: 40}")
        self.assertEqual(ask(text, state="s")["valves"]["v"]["structure"], "stroked")
        self.assertEqual(ask(text, state="low")["passages"]["body.o"]["condition"], "exhausted")
        self.assertEqual(ask(text, "break v", "low")["valves"]["v"]["structure"], "stroked")

    def test_blocked_end(self):
        """A port of no window has none to lose, and its end still feels the passage; a port that is both loses its windows alone."""
        s = ask(spools(self.SIZED, "body.o"), "block v.sig")
        self.assertEqual((s["valves"]["v"]["structure"], s["passages"]["body.o"]["condition"]), ("stroked", "fed"))
        both = self.SIZED.replace("port: sig", "port: in")
        s = ask(spools(both, "body.o"), "block v.in")
        self.assertEqual((s["valves"]["v"]["structure"], s["passages"]["body.o"]["condition"]), ("stroked", "trapped"))

    def test_no_ends(self):
        """Nothing pushes it: its spring holds it at rest; without the spring the net force is neither above nor below 0."""
        text = spools("v: {kind: spool, ports: {in: body.in, out: body.o, x: sump}, rest: [[out, x]], stroked: [[in, out]], "
                      "spring: {preload: 18, rate: 2}, travel: 5}", "body.o")
        self.assertEqual(ask(text)["valves"]["v"]["structure"], "rest")
        s = ask(text, "break v")
        self.assertEqual((s["valves"]["v"]["structure"], s["passages"]["body.o"]["condition"]), ("undetermined", "unsure"))
        self.assertEqual(ask(text, "break v + stick v at stroked")["valves"]["v"]["structure"], "stroked")

    def test_end_that_only_drains(self):
        """p is in a fight, d lies behind the ball of p's hole: its oil can only leave, into p, so it is in that fight, too. No route leads
        from the source to it, so its estimate is 0, and so is what it may push: rest. Without the ball p's 90 psi may reach it."""
        text = (spools(self.SIZED.replace("port: sig", "port: d").replace("sig: body.in", "d: body.d"), "body.o, body.p",
                       "holes: {H: {joins: [body.p, body.d]}}\ncheck_balls: {K: {seats_on: H, lies_in: body.p}}\n"
                       "joints: {A: {joins: [body.in, body.p], diameter: 2}, B: {joins: [body.p, sump], diameter: 2}}\n")
                .replace("body.p]", "body.p, body.d]", 1))
        s = ask(text)
        self.assertEqual((s["passages"]["body.d"]["condition"], s["valves"]["v"]["structure"]), ("partial", "rest"))
        self.assertEqual(ask(text, "lose K")["valves"]["v"]["structure"], "undetermined")

    def test_estimate_of_the_round(self):
        """The limiting valve begins limiting, so in the first round p has 60 of line's 90 psi: 80 mm2 x 30 psi = 16.5 N against 3 + 1 x 4/2 N:
        stroked. Its reaction is trapped, so it goes wide in that same round; but stroked v shuts p off, and nothing pushes it back. At 60 psi
        both ends balance: rest."""
        text = spools("lim: {kind: limiting, supply: body.in, outlet: body.o, reaction: body.r, limit: 60}, "
                      "v: {kind: spool, ports: {sig: body.in, in: body.o, out: body.p}, rest: [[in, out]], "
                      "ends: [{port: sig, pushes: stroke, area: 80}, {port: out, pushes: rest, area: 80}], spring: {preload: 3, rate: 1}, "
                      "travel: 4}", "body.o, body.p, body.r", states="s: {line: 90}, t: {line: 60}")
        words = lambda s: [s["valves"]["lim"]["structure"], s["valves"]["v"]["structure"], s["passages"]["body.p"]["condition"]]
        self.assertEqual(words(ask(text, state="s")), ["wide", "stroked", "trapped"])
        self.assertEqual(words(ask(text, state="t")), ["wide", "rest", "fed"])

    def test_hunting(self):
        """Rest feeds the end, so it strokes; stroked drains it, so it rests; no other spool could go first: hunting. Both windows sets are
        tried: fed in one, exhausted in the other, so unsure, reached perhaps."""
        s = ask(spools(own_end("v", "body.o"), "body.o"))
        self.assertEqual((s["race"], s["hunting"]), ([], ["v"]))
        self.assertEqual(s["valves"]["v"]["structure"], "undetermined")
        self.assertEqual(s["passages"]["body.o"], {"condition": "unsure", "feeds": {"line": "may"}, "past": {}})

    def test_race(self):
        """Each at rest feeds the other's end: both stroke, both drain, both rest. Moved one at a time, v1 strokes, drains v2's end, and v2
        stays: stable, so a race. Four alternatives: each outlet follows its own valve alone."""
        one = ("%s: {kind: spool, ports: {in: body.in, out: %s, sig: %s, x: sump}, rest: [[in, out]], stroked: [[out, x]], "
               "ends: [{port: sig, pushes: stroke}]}")
        s = ask(spools(one % ("v1", "body.a", "body.b") + ", " + one % ("v2", "body.b", "body.a"), "body.a, body.b"))
        self.assertEqual((s["race"], s["hunting"]), (["v1", "v2"], []))
        self.assertEqual(s["passages"]["body.a"]["condition"], "unsure")

    def test_after(self):
        """Stroked, the valve feeds its own end. The bleed holds the end drained in `off`; started from `on` it stays stroked: out is fed at
        open by the window, while the signal orifice is shut off. From rest it stays at rest."""
        valve = ("v: {kind: spool, ports: {in: body.in, out: body.o, x: sump}, rest: [[out, x]], stroked: [[in, out]], "
                 "ends: [{port: out, pushes: stroke}, {port: in2, pushes: stroke}]}").replace("x: sump}", "x: sump, in2: body.sig}")
        more = "solenoids: {s: {kind: three_way, normally: low, supply: body.in, output: body.sig, exhaust: sump}}"
        text = spools(valve, "body.o, body.sig", more, "a: {line: 90, s: on}, b: {line: 90, after: a}, n: {line: 90}")
        self.assertEqual([ask(text, state=s)["valves"]["v"]["structure"] for s in "abn"], ["stroked", "stroked", "rest"])

    def test_beyond_eight(self):
        """Nine hunting spools: more than eight in doubt. The walk from their ends reaches every outlet, not the source, not sump, and not
        the passage that hangs on the source alone."""
        names = ["body.o%d" % i for i in range(9)]
        text = spools(", ".join(own_end("v%d" % i, p) for i, p in enumerate(names)), ", ".join(names + ["body.far"]),
                      "joints: {J: {joins: [body.in, body.far], diameter: 5}}")
        s = ask(text)
        self.assertEqual(len(s["hunting"]), 9)
        self.assertEqual({s["passages"][p]["condition"] for p in names}, {"unsure"})
        self.assertEqual(s["passages"]["body.far"], {"condition": "fed", "feeds": {"line": "sure"}, "past": {}})
        self.assertEqual(s["passages"]["body.o3"]["feeds"], {"line": "may"})


class Rest(unittest.TestCase):
    GEARS = """
layers: [{id: case, kind: casting}, {id: plate, kind: plate}]
circuits: {all: {passages: [case.in, case.a, case.b, case.f, case.g]}}
holes: {HX: {joins: [case.f, sump], diameter: 1, orifice: true}}
joints: {JF: {joins: [case.in, case.f], diameter: 1, strength: orifice}, JG: {joins: [case.f, case.g], diameter: 4}}
solenoids:
  sa: {kind: three_way, normally: low, supply: case.in, output: case.a, exhaust: sump}
  sb: {kind: duty, normally: low, supply: case.in, output: case.b, exhaust: sump}
actuators: {a: {kind: clutch, apply: case.a}, b: {kind: clutch, apply: case.b}, t: {kind: clutch, apply: case.g}}
feeds: {line: {into: case.in, capacity: 10}}
valves:
  reg: {kind: regulating, source: line, sets: {base: 60}}
gears: {neutral: [], first: {on: [a], either: [b]}}
clash: [[a, b]]
states:
  n: {line: regulated, gear: neutral}
  f: {line: 60, sa: on, gear: first}
  tie: {line: 60, sa: on, sb: 100 %, gear: first}
  half: {line: 60, sa: on, sb: 40 %, gear: first}
"""

    def test_gears(self):
        """b applied beside a is the clash; half duty joins b to supply and exhaust by orifices: partial, so b is unsure: first (without b)
        or tie-up. t is partial always, but no chart names it."""
        for state, gear in (("n", {"structure": "neutral"}), ("f", {"structure": "first"}), ("tie", {"structure": "tie-up"}),
                            ("half", {"structure": "unsure", "possible": ["first", "tie-up"]})):
            found = ask(self.GEARS, state=state)["gear"]
            del found["commanded"]
            self.assertEqual(found, gear)

    def test_partial_handed_on(self):
        """f: orifice in and out: partial; g hangs on f at open, reached by both at the level orifice."""
        s = ask(self.GEARS, state="f")
        self.assertEqual((s["passages"]["case.f"]["condition"], s["passages"]["case.g"]["condition"]), ("partial", "partial"))
        self.assertEqual(s["actuators"]["t"]["structure"], "unsure")

    def test_regulator(self):
        """Broken, the line is off and nothing is fed; f, with its orifice to sump, is exhausted, and so is all that it drains: the line itself.
        Stuck open it spills, but a source is a root and stays fed."""
        s = ask(self.GEARS, "break reg", "n")
        self.assertEqual({one["condition"] for one in s["passages"].values()}, {"exhausted"})
        s = ask(self.GEARS, "stick reg at open", "n")
        self.assertEqual(s["passages"]["case.in"]["condition"], "fed")

    def test_locked(self):
        """Healthy, a is drained by its solenoid in n; with that blocked nothing reaches a: trapped, so it cannot release: unsure, and the gear
        is neutral or first."""
        s = ask(self.GEARS, "block sa", "n")
        self.assertEqual(s["passages"]["case.a"]["condition"], "trapped")
        self.assertEqual(s["actuators"]["a"]["structure"], "unsure")
        self.assertEqual(s["gear"], {"commanded": "neutral", "structure": "unsure", "possible": ["neutral", "first"]})

    def test_one_seat_ball_behind_a_fight(self):
        """case.f is partial; oil enters body.p through the ball only, so feed reaches it, exhaust does not, and feed only by way of a partial
        passage: partial too. Worn (3 mm, open) or lost it is plainly reached by both."""
        text = """
layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]
circuits: {all: {passages: [case.in, case.f, body.p]}}
holes: {H1: {joins: [case.f, body.p], diameter: 4}, HX: {joins: [case.f, sump], diameter: 4}}
joints: {J: {joins: [case.in, case.f], diameter: 4, strength: open}}
check_balls: {B: {seats_on: H1, lies_in: body.p}}
feeds: {line: {into: case.in, capacity: 5}}
states: {s: {line: 50}, off: {line: off}}
"""
        self.assertEqual(ask(text)["passages"]["body.p"]["condition"], "partial")
        self.assertEqual(ask(text, "block HX")["passages"]["body.p"]["condition"], "fed")
        self.assertEqual(ask(text, None, "off")["passages"]["body.p"]["condition"], "trapped")
        self.assertEqual(ask(text, "lose B", "off")["passages"]["body.p"]["condition"], "exhausted")
        self.assertEqual(ask(text, "unseat B", "off")["passages"]["body.p"]["condition"], "exhausted")

    def test_manual(self):
        """D feeds d and drains r; misadjusted between D and R both are joined to in and to sump at open: partial. Stuck in R only r is fed."""
        text = """
layers: [{id: body, kind: casting}, {id: plate, kind: plate}]
circuits: {all: {passages: [body.in, body.d, body.r]}}
valves:
  man: {kind: manual, ports: {in: body.in, d: body.d, r: body.r, x: sump}, positions: {D: [[in, d], [r, x]], R: [[in, r], [d, x]]}}
feeds: {line: {into: body.in, capacity: 5}}
states: {s: {line: 50, man: D}}
"""
        words = lambda fault: [ask(text, fault)["passages"][p]["condition"] for p in ("body.d", "body.r")]
        self.assertEqual(words(None), ["fed", "exhausted"])
        self.assertEqual(words("misadjust man between D and R"), ["partial", "partial"])
        self.assertEqual(words("stick man at R"), ["exhausted", "fed"])
        self.assertEqual(words("block man.d"), ["trapped", "exhausted"])
        self.assertEqual(words("block man.d + wear man between in and d"), ["fed", "exhausted"])


if __name__ == "__main__":
    unittest.main()
