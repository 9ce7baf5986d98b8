#!/usr/bin/python3
"""Holds what `curve` and `limits` print against an independent law, on small invented units of random sizes.

    check_curves.py --program FEEDTRACE [--rounds N] [--seed S] [--keep DIR]

Nothing of the program stands on this side. The laws are written here from their sources: the orifice with a smooth laminar
end and the laminar annular gap after H. E. Merritt, Hydraulic Control Systems (Wiley 1967), ch. 3 and 2 (from memory), the
viscosity by Walther's line (ASTM D341). Roots are found by scipy.optimize.brentq, and where there is a closed form (at high
Reynolds number, where the laminar end does not count) it is held against as well. That a limiting valve opens linearly with
the pressure at its reaction end, and that a device applies at `applies_at` and lets go under half of it, are rules of the
model format. SI throughout.
"""
import argparse
import csv
import io
import math
import os
import random
import sys
import tempfile

from scipy.optimize import brentq

from invented_units import CD, EXACT, LOOSE, PSI, Oil, Tool, Unit


def even(low, high, n):
    return [low + (high - low) * i / (n - 1) for i in range(n)]


def divider(oil, supply, ways_in, ways_out):
    """Pa between holes from the supply and holes to sump, by the whole law."""
    def surplus(p):
        return sum(oil.orifice(d, supply - p) for d in ways_in) - sum(oil.orifice(d, p) for d in ways_out)
    return brentq(surplus, 0, supply, xtol=1e-6, rtol=1e-14)


def divided(supply, ways_in, ways_out):
    """The same at high Reynolds number: supply A1^2 / (A1^2 + A2^2), areas side by side added."""
    a1, a2 = sum(d * d for d in ways_in), sum(d * d for d in ways_out)
    return supply * a1 ** 2 / (a1 ** 2 + a2 ** 2)


def check_divider(tool, rng, i):
    """Two orifices in series, one of them or the supply varied, and a leak beside the second."""
    oil = Oil(rng)
    u = Unit(tool, "divider_%d" % i, oil)
    d1, d2, psi = rng.uniform(0.8e-3, 2.5e-3), rng.uniform(0.8e-3, 2.5e-3), rng.uniform(60, 250)
    u.hole("H1", "case.s", "body.m", d1, ", leaks_to: [body.d]")
    u.hole("H2", "body.m", "sump", d2)
    u.passages.append("body.d")
    u.add("joints", "J1", "[body.d, sump]")
    u.source("case.s")
    u.add("states", "s", "{line: %r psi}", psi)
    u.write()
    supply = psi * PSI
    for vary, at in (("H2 0.5 mm to 3 mm", lambda x: ([d1], [x])), ("H1 0.5 mm to 3 mm", lambda x: ([x], [d2])),
                     ("leak H1 0.2 mm to 2 mm", lambda x: ([d1], [d2, x]))):
        rows = u.curve(vary, ["body.m"])
        found = [p["body.m"] for _, p in rows]
        tool.near("%s, %s, the whole law" % (u.name, vary), found, [divider(oil, supply, *at(x)) for x, _ in rows], EXACT)
        tool.near("%s, %s, closed form" % (u.name, vary), found, [divided(supply, *at(x)) for x, _ in rows], LOOSE)
    rows = u.curve("line 20 psi to 300 psi", ["body.m", "line"])
    tool.near(u.name + ", line, values", [x for x, _ in rows], [x * PSI for x in even(20, 300, 9)], 1e-9)
    tool.near(u.name + ", line, held", [p["line"] for _, p in rows], [x for x, _ in rows], EXACT)
    tool.near(u.name + ", line, the whole law", [p["body.m"] for _, p in rows], [divider(oil, x, [d1], [d2]) for x, _ in rows],
              EXACT)


def check_thick(tool, rng, i):
    """Oil so thick that the laminar end counts: in between by the whole law, at the end p = supply d1^3 / (d1^3 + d2^3)."""
    for thick, name in ((300, "thick"), (1e6, "laminar")):
        oil = Oil(rng, thick)
        u = Unit(tool, "%s_%d" % (name, i), oil)
        d1, d2 = rng.uniform(0.8e-3, 2.5e-3), rng.uniform(0.8e-3, 2.5e-3)
        u.hole("H1", "case.s", "body.m", d1)
        u.hole("H2", "body.m", "sump", d2)
        u.source("case.s")
        u.add("states", "s", "{line: 90 psi}")
        u.write()
        rows = u.curve("line 5 psi to 200 psi", ["body.m"])
        found = [p["body.m"] for _, p in rows]
        tool.near(u.name + ", the whole law", found, [divider(oil, x, [d1], [d2]) for x, _ in rows], EXACT)
        if name == "laminar":
            tool.near(u.name + ", closed form", found, [x * d1 ** 3 / (d1 ** 3 + d2 ** 3) for x, _ in rows], LOOSE)
        else:
            tool.check(abs(found[0] / divided(rows[0][0], [d1], [d2]) - 1) > 100 * EXACT, u.name + ", far from either end")


def size_at(wanted, pressure, low, high):
    """The size in m at which the pressure of it is as wanted."""
    return brentq(lambda d: pressure(d) - wanted, low, high, xtol=1e-12)


def check_device(tool, rng, i):
    """What an applied device may lose: its orifice smaller, its drain larger, a leak; in two states, the weaker first."""
    oil = Oil(rng)
    u = Unit(tool, "device_%d" % i, oil)
    psi, d1 = rng.uniform(80, 200), rng.uniform(1.2e-3, 2e-3)
    d2 = d1 * rng.uniform(0.5, 0.8)
    supply, weaker = psi * PSI, psi * PSI * rng.uniform(0.8, 0.9)
    applies = divider(oil, weaker, [d1], [d2]) * rng.uniform(0.6, 0.9)
    named = i % 2  # with a gear, that is what is lost
    u.hole("H1", "case.s", "body.m", d1, ", leaks_to: [body.d]")
    u.hole("H2", "body.m", "sump", d2)
    u.passages.append("body.d")
    u.add("joints", "J1", "[body.d, sump]")
    u.add("actuators", "c", "{kind: clutch, apply: body.m, applies_at: %r Pa}", applies)
    u.source("case.s")
    if named:
        u.add("gears", "drive", "[c]")
    u.add("states", "s", "{line: %r Pa}", supply)
    u.add("states", "weak", "{line: %r Pa}", weaker)
    u.write()
    what = "gear unsure instead of drive" if named else "c slipping, was applied"
    hole, drain = u.limits("H1", "resize H1 to"), u.limits("H2", "resize H2 to")
    tool.side(u.name + ", orifice", hole["smaller"], size_at(applies, lambda d: divider(oil, weaker, [d], [d2]), d1 / 4, d1), what,
              "weak")
    tool.check(not hole["larger"]["lost"] and abs(hole["larger"]["holds_m"] / d1 / 4 - 1) < 1e-9, u.name + ", orifice: no upper end")
    tool.side(u.name + ", drain", drain["larger"], size_at(applies, lambda d: divider(oil, weaker, [d1], [d]), d2, d2 * 4), what, "weak")
    tool.check(not drain["smaller"]["lost"], u.name + ", drain: no lower end")
    leak = size_at(applies, lambda d: divider(oil, weaker, [d1], [d2, d]), 1e-5, 6e-3)
    tool.side(u.name + ", leak of the hole", u.limits("H1", "leak H1 at")["larger"], leak, what, "weak")
    tool.side(u.name + ", leak of the device", u.limits("c", "leak c at")["larger"], leak, what, "weak")
    out = size_at(applies / 2, lambda d: divider(oil, weaker, [d1], [d2, d]), 1e-5, 20e-3)
    slips, goes = ("gear unsure", "gear none") if named else ("c slipping, was applied", "c released, was slipping")
    u.events(u.name + ", where it slips and lets go", "leak c 0.1 mm to %r m" % (2 * out), [(leak, slips), (out, goes)], "weak")
    u.events(u.name + ", and back", "leak c %r m to 0.1 mm" % (2 * out), [(out, "c slipping, was released"), (leak, "c applied, was slipping")],
             "weak")
    line = size_at(applies, lambda p: divider(oil, p, [d1], [d2]), applies, 4 * supply)
    half = size_at(applies / 2, lambda p: divider(oil, p, [d1], [d2]), applies / 2, 4 * supply)
    u.events(u.name + ", as line rises", "line %r Pa to %r Pa" % (half / 2, line * 2),
             [(half, "c slipping, was released"), (line, "c applied, was slipping")], points=5)
    p = weaker * d1 ** 4 / applies - d1 ** 4  # (d2^2 + leak^2)^2, by the closed form of the divider
    tool.check(abs(math.sqrt(math.sqrt(p) - d2 ** 2) / leak - 1) < LOOSE, u.name + ", leak, closed form")


def check_drag(tool, rng, i):
    """A released device that a leak from line fills: it begins to drag at half of `applies_at`, then it is on."""
    oil = Oil(rng)
    u = Unit(tool, "drag_%d" % i, oil)
    psi, d = rng.uniform(80, 250), rng.uniform(0.8e-3, 2e-3)
    applies = psi * PSI * rng.uniform(0.2, 0.6)
    u.hole("H1", "case.s", "body.far", 3e-3, ", leaks_to: [case.c]")
    u.hole("H2", "body.far", "sump", 0.5e-3)
    u.hole("H3", "case.c", "body.c", 4e-3)
    u.hole("H4", "body.c", "sump", d)
    u.add("actuators", "c", "{kind: clutch, apply: case.c, applies_at: %r Pa}", applies)
    u.source("case.s")
    u.add("gears", "neutral", "[]")
    u.add("gears", "drive", "[c]")
    u.add("states", "s", "{line: %r psi, gear: neutral}", psi)
    u.write()

    def pressure(leak):  # the clutch stands before a wide hole and the orifice
        def surplus(p):
            q = oil.orifice(leak, psi * PSI - p)
            behind = brentq(lambda b: oil.orifice(4e-3, p - b) - oil.orifice(d, b), 0, p) if p > 0 else 0
            return q - oil.orifice(d, behind)
        return brentq(surplus, 0, psi * PSI, xtol=1e-3)
    drags, on = size_at(applies / 2, pressure, 1e-5, 6e-3), size_at(applies, pressure, 1e-5, 20e-3)
    tool.side(u.name, u.limits("H1", "leak H1 at")["larger"], drags, "gear unsure instead of neutral")
    u.events(u.name + ", drags, then is on", "leak H1 %r m to %r m" % (drags / 2, on * 2),
             [(drags, "c slipping, was released"), (on, "c applied, was slipping")])


def check_expected(tool, rng, i):
    """An expectation of the model ends on both sides: a band of pressure behind an orifice."""
    oil = Oil(rng)
    u = Unit(tool, "expected_%d" % i, oil)
    psi, d1, d2 = rng.uniform(60, 250), rng.uniform(1e-3, 2e-3), rng.uniform(1e-3, 2e-3)
    p = divider(oil, psi * PSI, [d1], [d2])
    low, high = p * rng.uniform(0.5, 0.9), p + (psi * PSI - p) * rng.uniform(0.2, 0.5)
    u.hole("H1", "case.s", "body.m", d1)
    u.hole("H2", "body.m", "sump", d2)
    u.source("case.s")
    u.add("taps", "T_m", "body.m")
    u.add("states", "s", "{line: %r psi, expect: {T_m: %r Pa to %r Pa}}", psi, low, high)
    u.write()
    row = u.limits("H1", "resize H1 to")
    for side, wanted in (("smaller", low), ("larger", high)):
        tool.side("%s, %s" % (u.name, side), row[side],
                  size_at(wanted, lambda d: divider(oil, psi * PSI, [d], [d2]), d1 / 4, d1 * 4), "no longer met: s: T_m")


def check_rate(tool, rng, i):
    """An expectation of how fast a device fills, against healthy: the flow through its orifice goes by the square of the
    diameter. An accumulator beside it fills and empties earlier, and is no loss."""
    oil = Oil(rng)
    u = Unit(tool, "rate_%d" % i, oil)
    d, share, psi = rng.uniform(1e-3, 2e-3), rng.uniform(0.4, 0.9), rng.uniform(60, 200)
    u.hole("H1", "case.s", "body.c", d)
    u.add("actuators", "c", "{kind: clutch, apply: body.c, applies_at: 30 psi}")
    u.add("actuators", "acc", "{kind: accumulator, apply: body.c, applies_at: %r psi}", psi * 0.9)
    u.source("case.s")
    u.add("states", "s", "{line: %r psi, expect: {c: fills above %r x healthy}}", psi, share)
    u.write()
    tool.side(u.name + ", fills", u.limits("H1", "resize H1 to")["smaller"], d * math.sqrt(share), "no longer met: s: c fills")
    leak = size_at(30 * PSI, lambda x: divider(oil, psi * PSI, [d], [x]), 1e-5, 2e-2)
    past = size_at(0.9 * psi * PSI, lambda x: divider(oil, psi * PSI, [d], [x]), 1e-5, 2e-2)
    rate = size_at(share, lambda x: (oil.orifice(d, psi * PSI - 15 * PSI) - oil.orifice(x, 15 * PSI)) / oil.orifice(d, psi * PSI - 15 * PSI),
                   1e-5, leak)
    tool.check(past < rate < leak, u.name + ", the accumulator first, then the rate")
    tool.side(u.name + ", leak", u.limits("c", "leak c at")["larger"], rate, "no longer met: s: c fills")


def limited(oil, line, limit, droop, window, load):
    """Pa behind a limiting valve that feeds an orifice, its reaction at its outlet."""
    def surplus(p):
        share = min(1, max(0, (limit - p) / (droop * limit)))
        return share * oil.orifice(window, line - p) - oil.orifice(load, p)
    return brentq(surplus, 0, min(line, limit), xtol=1e-6, rtol=1e-14)


def check_limiting(tool, rng, i):
    """Line swept over a limiting valve with a load: a divider up to the limit less its droop, then it holds."""
    oil = Oil(rng)
    u = Unit(tool, "limiting_%d" % i, oil)
    limit, droop = rng.uniform(60, 130) * PSI, rng.uniform(0.03, 0.12)
    window, load = rng.uniform(3e-3, 6e-3), rng.uniform(0.6e-3, 1.5e-3)
    u.hole("H1", "body.sup", "case.load", 6e-3)
    u.hole("H2", "case.load", "body.x", 6e-3)
    u.hole("H3", "body.react", "case.load", 0.9e-3)
    u.hole("H4", "body.sup", "sump", load)
    u.passages += ["body.line"]
    u.add("valves", "v", "{kind: limiting, supply: body.line, outlet: body.sup, reaction: body.react, limit: %r Pa, droop: %r %%, "
          "open_diameter: %r m}" % (limit, 100 * droop, window))
    u.source("body.line")
    u.add("states", "s", "{line: 90 psi}")
    u.write()
    rows = u.curve("line 20 psi to 320 psi", ["body.sup", "body.react"], 31)
    found = [p["body.sup"] for _, p in rows]
    tool.near(u.name + ", the whole law", found, [limited(oil, x, limit, droop, window, load) for x, _ in rows], EXACT)
    tool.near(u.name + ", reaction", [p["body.react"] for _, p in rows], found, EXACT)
    a1, a2 = window ** 2, load ** 2
    wide = [(x, p["body.sup"]) for x, p in rows if p["body.sup"] < limit * (1 - droop)]
    held = [(x, p["body.sup"]) for x, p in rows if p["body.sup"] >= limit * (1 - droop)]
    tool.near(u.name + ", below the limit", [p for _, p in wide], [divided(x, [window], [load]) for x, _ in wide], LOOSE)
    # At high Reynolds number the balance gives line as a function of what arrives: p + (droop limit a2 / (a1 (limit - p)))^2 p
    tool.near(u.name + ", above it", [p + (droop * limit * a2 / (a1 * (limit - p))) ** 2 * p for _, p in held],
              [x for x, _ in held], LOOSE)
    opened = limit * (1 - droop)  # here it stands open no longer
    begins = size_at(opened, lambda x: limited(oil, x, limit, droop, window, load), opened, 2 * limit)
    tool.near(u.name + ", begins to limit, closed form", [begins], [opened * (1 + (a2 / a1) ** 2)], LOOSE)
    u.events(u.name + ", begins to limit", "line 20 psi to 320 psi", [(begins, "v limiting, was standing open")])
    tool.check(all(p <= limit for _, p in held) and max(p for _, p in held) - held[-1][1] == 0,
               u.name + ": never over the limit, and never falls")


def check_trainer(tool):
    """55, 90, 115, 150 and 300 psi before a valve that limits at 115 psi, and nothing that takes oil (common practice, no
    source)."""
    oil = Oil(random.Random("trainer"))
    for reaction, wanted in (("body.react", (55, 90, 115, 115, 115)), ("blocked", (55, 90, 115, 150, 300))):
        u = Unit(tool, "trainer_" + reaction.split(".")[-1], oil)
        u.leakdown = None  # its default makes a dead end's pressure one
        u.hole("H1", "body.sup", "case.sup", 5e-3)
        u.hole("H2", "case.sup", "body.react", 0.9e-3)
        u.passages += ["body.line"]
        u.add("valves", "v", "{kind: limiting, supply: body.line, outlet: body.sup, reaction: body.react, limit: 115 psi, droop: 5 %, "
              "open_diameter: 4 mm}")
        u.source("body.line")
        u.add("states", "s", "{line: 90 psi}")
        u.write()
        for line, psi in zip((55, 90, 115, 150, 300), wanted):
            words = ["--fault", "block H2"] if reaction == "blocked" else []
            text = u.ask("curve", u.path, "--in", "s", "--vary", "line %d psi to %d psi" % (line, line + 1), "--points", "2", "--show",
                         "case.sup", "--format", "csv", *words)
            found = float(list(csv.reader(io.StringIO(text)))[1][1])
            tool.near("%s, line %d psi" % (u.name, line), [found / PSI], [psi], 1e-4)


def check_pump(tool, rng, i):
    """A pump of some capacity runs out where its leak takes at the setting what is left of it."""
    oil = Oil(rng)
    u = Unit(tool, "pump_%d" % i, oil)
    psi, load = rng.uniform(60, 250), rng.uniform(1e-3, 2e-3)
    capacity = oil.orifice(load, psi * PSI) * rng.uniform(1.3, 3)
    u.hole("H1", "case.s", "body.far", 6e-3, ", leaks_to: [case.d]")
    u.hole("H2", "case.s", "sump", load)
    u.hole("H3", "body.far", "case.end", 3e-3)
    u.passages.append("case.d")
    u.add("joints", "J1", "[case.d, sump]")
    u.source("case.s", capacity)
    u.add("states", "s", "{line: %r psi}", psi)
    u.write()
    leak = size_at(capacity, lambda d: oil.orifice(d, psi * PSI) + oil.orifice(load, psi * PSI), 1e-5, 1e-2)
    area = capacity / CD / math.sqrt(2 * psi * PSI / oil.density) - math.pi / 4 * load ** 2
    tool.check(abs(leak / math.sqrt(4 * area / math.pi) - 1) < LOOSE, u.name + ", closed form")
    tool.side(u.name, u.limits("H1", "leak H1 at")["larger"], leak, "line gives all that it can")
    rows = u.curve("leak H1 %r mm to %r mm" % (leak * 500, leak * 2000), ["line"], 12)
    out = [brentq(lambda p: oil.orifice(x, p) + oil.orifice(load, p) - capacity, 0, psi * PSI) if x > leak else psi * PSI
           for x, _ in rows]
    tool.near(u.name + ", line as its leak grows", [p["line"] for _, p in rows], out, EXACT)
    full = [p["line"] for x, p in rows if x > leak]
    form = [oil.density / 2 * (capacity / CD / (math.pi / 4 * (x * x + load * load))) ** 2 for x, _ in rows if x > leak]
    tool.near(u.name + ", past it, closed form", full, form, LOOSE)
    u.events(u.name + ", runs out", "leak H1 %r m to %r m" % (leak / 2, leak * 2), [(leak, "line gives all that it can")])
    u.events(u.name + ", holds again", "leak H1 %r m to %r m" % (leak * 2, leak / 2), [(leak, "line holds its setting")])
    weak = u.curve("weaken line %r m3/s to %r m3/s" % (capacity * 0.2, capacity), ["line"], 6)
    tool.near(u.name + ", a weaker pump", [p["line"] for _, p in weak],
              [min(psi * PSI, oil.density / 2 * (x / CD / (math.pi / 4 * load ** 2)) ** 2) for x, _ in weak], LOOSE)


def check_gap(tool, rng, i):
    """A laminar gap: what leaks through it follows 1/viscosity as the oil warms, and the cube of the gap."""
    oil = Oil(rng)
    u = Unit(tool, "gap_%d" % i, oil)
    bore, gap, land = rng.uniform(8e-3, 18e-3), rng.uniform(0.02e-3, 0.06e-3), rng.uniform(3e-3, 8e-3)
    drain, psi = rng.uniform(0.4e-3, 1e-3), rng.uniform(80, 250)
    u.hole("H1", "body.s", "case.s", 6e-3)
    u.hole("H2", "body.m", "case.m", 6e-3)
    u.hole("H3", "body.m", "sump", drain)
    u.hole("H4", "body.u", "case.u", 6e-3)
    u.hole("H5", "body.v", "case.v", 6e-3)
    u.add("valves", "v", "{kind: spool, ports: {a: body.s, b: body.m, u: body.u, v: body.v}, rest: [[u, v]], along: [a, b], "
          "clearance: {bore: %r m, gap: %r m, land: %r m}}", bore, gap, land)
    u.source("body.s")
    u.add("states", "s", "{line: %r psi}", psi)
    u.write()
    supply = psi * PSI

    def behind(celsius=None, c=gap):
        return brentq(lambda p: oil.gap(bore, c, land, celsius) * (supply - p) - oil.orifice(drain, p, celsius), 0, supply, xtol=1e-6)
    rows = u.curve("temperature 20 degC to 120 degC", ["body.m"], 11)
    tool.near(u.name + ", the whole law", [p["body.m"] for _, p in rows], [behind(t - 273.15) for t, _ in rows], EXACT)
    # What the orifice drains at the pressure told is what the gap leaks: its conductance follows from it.
    told = [oil.orifice(drain, p["body.m"], t - 273.15) / (supply - p["body.m"]) for t, p in rows]
    tool.near(u.name + ", follows 1/viscosity", [g / told[0] for g in told],
              [oil.nu(20) / oil.nu(t - 273.15) for t, _ in rows], EXACT)
    wear = u.curve("wear v 0.02 mm to 0.12 mm", ["body.m"], 6)
    tool.near(u.name + ", worn", [p["body.m"] for _, p in wear], [behind(None, x) for x, _ in wear], EXACT)
    worn = [oil.orifice(drain, p["body.m"]) / (supply - p["body.m"]) for _, p in wear]
    tool.near(u.name + ", follows the cube of the gap", [g / worn[0] for g in worn], [(x / wear[0][0]) ** 3 for x, _ in wear], EXACT)


def check_duty(tool, rng, i):
    """A duty solenoid before a load: supply and exhaust each open for their share of time."""
    oil = Oil(rng)
    u = Unit(tool, "duty_%d" % i, oil)
    psi, d, load = rng.uniform(60, 200), rng.uniform(1e-3, 2.5e-3), rng.uniform(0.3e-3, 0.8e-3)
    normally = ("low", "high")[i % 2]
    u.hole("H1", "case.s", "body.far", 6e-3)
    u.hole("H2", "body.far", "case.end", 6e-3)
    u.hole("H3", "body.m", "sump", load)
    u.add("solenoids", "sol", "{kind: duty, normally: %s, supply: case.s, output: body.m, exhaust: sump, diameter: %r m}", normally, d)
    applies = psi * PSI * rng.uniform(0.2, 0.4)
    u.add("actuators", "c", "{kind: clutch, apply: body.m, applies_at: %r Pa}", applies)
    u.source("case.s")
    u.add("states", "s", "{line: %r psi, sol: 50 %%}", psi)
    u.write()
    supply = psi * PSI

    def output(duty):
        share = duty if normally == "low" else 1 - duty
        return brentq(lambda p: share * oil.orifice(d, supply - p) - (1 - share) * oil.orifice(d, p) - oil.orifice(load, p),
                      0, supply, xtol=1e-6, rtol=1e-14)

    def form(duty):
        share = duty if normally == "low" else 1 - duty
        into, out = share * d ** 2, (1 - share) * d ** 2 + load ** 2
        return supply * into ** 2 / (into ** 2 + out ** 2)
    rows = u.curve("sol 5 % to 95 %", ["body.m"], 10)
    tool.near(u.name + ", values", [x for x, _ in rows], even(0.05, 0.95, 10), 1e-9)
    found = [p["body.m"] for _, p in rows]
    between = [(x, p["body.m"]) for x, p in rows if 0.05 < p["body.m"] / supply < 0.95]  # where no hole's flow is laminar
    tool.near(u.name + ", the whole law", found, [output(x) for x, _ in rows], EXACT)
    tool.check(len(between) >= 3, u.name + ", points between")
    tool.near(u.name + ", closed form", [p for _, p in between], [form(x) for x, _ in between], LOOSE)
    half, on = (brentq(lambda x: output(x) - p, 0, 1, xtol=1e-9) for p in (applies / 2, applies))
    rising = [(half, "c slipping, was released"), (on, "c applied, was slipping")]
    falling = [(on, "c slipping, was applied"), (half, "c released, was slipping")]
    # a share may be 0, so its places are as near as PLACE of the whole
    u.events(u.name + ", changes", "sol 0 to 100 %", rising if normally == "low" else falling, points=4, whole=1)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--rounds", type=int, default=6)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--keep")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if args.keep:
            os.makedirs(args.keep, exist_ok=True)
        tool = Tool(os.path.abspath(args.program), args.keep or folder)
        check_trainer(tool)
        for family in (check_divider, check_thick, check_device, check_drag, check_expected, check_rate, check_limiting, check_pump, check_gap, check_duty):
            for i in range(args.rounds):
                try:
                    family(tool, random.Random("%s-%d-%d" % (family.__name__, args.seed, i)), i)
                except Exception as why:  # a unit that the program refuses has failed its check, and the others go on
                    tool.check(False, "%s %d: %r" % (family.__name__, i, why))
    print("%d passed, %d failed" % (tool.passed, tool.failed))
    sys.exit(1 if tool.failed else 0)


if __name__ == "__main__":
    main()
