#!/usr/bin/python3
"""A synthetic unit of any size, for measuring: valid by structure, healthy, and local as a real unit is.

    make_model.py N SEED > FILE

writes a model of N passages (at least 300) and 12 states; the same arguments give the same bytes. Nothing in it is a
real unit; the figures are invented and only sensible. It is built of regions of some 100 passages that lie in three
neighbouring castings. Each region takes line, solenoid supply, converter, drive and reverse oil from one of the last
few regions before it, so every trunk is a tree as deep as a large unit makes it. It has a shift signal, a shift valve
with a clutch behind it, a relay valve that the clutch's oil strokes, a drain and some lubrication of its own. Limiting
valves stand at the root of the unit only: three, whatever the size, as a unit has few of them.
"""
import random
import string
import sys

REACH_BACK = 6  # a region hangs on one of so many before it
CASTINGS = string.ascii_letters  # their IDs are short, so that the file is no larger than its content


class Unit:
    def __init__(self, n, seed):
        self.rng = random.Random(seed)
        self.n = n
        self.n_castings = 5 if n < 3000 else 16 if n < 300000 else 40
        self.n_passages = 0
        self.in_layer = [0] * self.n_castings
        self.layer_of = {}
        self.circuits = {}  # ID: (under, more keys, passages)
        self.joints, self.screens, self.holes, self.balls, self.valves = [], [], [], [], []
        self.solenoids, self.actuators, self.feeds, self.taps, self.switches = [], [], [], [], []
        self.signals = []  # solenoids that make shift signals
        self.n_joints = self.n_holes = 0

    # --- pieces

    def circuit(self, name, under=None, more=""):
        self.circuits[name] = (under, more, [])
        return name

    def passage(self, layer, circuit):
        name = f"{CASTINGS[layer]}.{self.in_layer[layer]}"
        self.in_layer[layer] += 1
        self.n_passages += 1
        self.layer_of[name] = layer
        self.circuits[circuit][2].append(name)
        return name

    def joint(self, a, b):
        self.n_joints += 1
        kind = self.rng.random()
        if kind < 0.7:  # no restriction: both are one node
            self.joints.append(f"J{self.n_joints}: [{a},{b}]")
        elif kind < 0.95:
            self.joints.append(f"J{self.n_joints}: {{joins: [{a},{b}], diameter: {self.rng.choice((6, 7.5, 9))}}}")
        else:
            self.screens.append(f"S{self.n_joints}: {{joins: [{a},{b}], diameter: 8}}")

    def hole(self, a, b, diameter=None, more=""):
        """Joins passages of neighbouring castings, or a passage and sump by a way of its own out of the casting."""
        self.n_holes += 1
        name = f"H{self.n_holes}"
        if b == "sump":
            more = f", plate: p{CASTINGS[self.layer_of[a]]}" + more
        diameter = diameter or self.rng.choice((4, 4.5, 5, 6, 7))
        self.holes.append(f"{name}: {{joins: [{a},{b}], diameter: {diameter}{more}}}")
        return name

    def across(self, start, circuit, layers):
        """A new passage in a casting beside that of `start`, for a hole between the two."""
        here, low, high = self.layer_of[start], layers[0], layers[1]
        beside = [layer for layer in (here - 1, here + 1) if 0 <= layer < self.n_castings]
        inside = [layer for layer in beside if low <= layer <= high]
        return self.passage(self.rng.choice(inside) if inside else min(beside, key=lambda k: abs(k - low)), circuit)

    def channel(self, start, n, circuit, layers, main=False):
        """n more passages one behind the other: in a casting by joints, through the plates by holes."""
        out = []
        for _ in range(n):
            here = self.layer_of[start]
            if layers[0] <= here <= layers[1] and self.rng.random() < 0.65:
                at = self.passage(here, circuit)
                self.joint(start, at)
            else:
                at = self.across(start, circuit, layers)
                self.hole(start, at, more=", strength: main" if main else "")
            out.append(at)
            start = at
        return out

    def orifice(self, start, circuit, layers, diameter=0.8):
        at = self.across(start, circuit, layers)
        self.hole(start, at, diameter, ", orifice: true")
        return at

    def drain(self, name, layers):
        """Where a valve exhausts to: a channel that ends in the pan."""
        circuit = self.circuit(f"x{name}", "exhaust")
        first = self.passage(self.rng.randint(*layers), circuit)
        self.hole(self.channel(first, 3, circuit, layers)[-1], "sump", 7)
        return first

    def limiting(self, name, supply, circuit, react, limit, preload, rate, area, layers):
        outlet = self.passage(self.layer_of[supply], circuit)
        end = self.orifice(outlet, react, layers)
        self.valves.append(f"{name}: {{kind: limiting, supply: {supply}, outlet: {outlet}, reaction: {end}, limit: {limit},"
                           f" open_diameter: 4, spring: {{preload: {preload}, rate: {rate}}}, area: {area}, travel: 3}}")
        return outlet

    def spool(self, name, signal, inlet, outlet, drain, preload=12, area=80):
        self.valves.append(f"{name}: {{kind: spool, ports: {{s: {signal}, i: {inlet}, o: {outlet}, x: {drain}}}, rest: [[o, x]],"
                           f" stroked: [[i, o]], window_diameter: 6, ends: [{{port: s, pushes: stroke, area: {area}}}],"
                           f" spring: {{preload: {preload}, rate: 1}}, travel: 5, plug: s}}")

    # --- the whole

    def root(self):
        """The first region: pump, manual valve, limiting valves."""
        layers = (0, 2)
        for name, fed_by, more in (("line", "line", ""), ("supply", "solenoid_supply", ", limited_by: feed_limit"),
                                   ("conv", "converter", ", limited_by: conv_limit"), ("pilot", "line", ", limited_by: pilot_limit"),
                                   ("drive", "drive", ""), ("reverse", "reverse", "")):
            self.circuit(name, None, f"fed_by: [{fed_by}]{more}")
        self.circuit("boost", "supply", "flows: true")
        self.circuit("low", None, "fed_by: [drive, reverse]")
        self.circuit("lube", None, "fed_by: [converter], flows: true")
        self.circuit("exhaust")
        for name in ("supply", "conv", "pilot"):
            self.circuit(name + "_react", name)
        line = [self.passage(0, "line")]
        line += self.channel(line[0], 8, "line", layers, main=True)
        self.feeds.append(f"line: {{into: {line[0]}, capacity: 30}}")
        supply = self.limiting("feed_limit", line[4], "supply", "supply_react", 115, 45.2, 0.79, 60, layers)
        conv = self.limiting("conv_limit", line[5], "conv", "conv_react", 90, 40.83, 0.87, 70, layers)
        pilot = self.limiting("pilot_limit", line[6], "pilot", "pilot_react", 60, 24, 0.4, 60, layers)
        self.pilot = self.channel(pilot, 3, "pilot", layers)
        drive, reverse = self.passage(1, "drive"), self.passage(1, "reverse")
        drain = self.drain("man", layers)
        self.valves.append(f"manual: {{kind: manual, ports: {{in: {line[7]}, d: {drive}, r: {reverse}, x: {drain}}}, positions: "
                           "{P: [[d, x], [r, x]], R: [[in, r], [d, x]], N: [[d, x], [r, x]], D: [[in, d], [r, x]], L: [[in, d], [r, x]]}}")
        boost = self.passage(self.layer_of[supply], "boost")
        self.solenoids.append(f"sol_line: {{kind: duty, normally: high, supply: {supply}, output: {boost}, exhaust: sump}}")
        self.valves.append(f"regulator: {{kind: regulating, source: line, sets: {{base: 60, plus: [{{from: {boost}, gain: 1.8}}], at_most: 300}}}}")
        self.valves.append(f"safety: {{kind: relief, inlet: {line[1]}, outlet: sump, cracks_at: 330 psi, diameter: 7}}")
        for name, at in (("solenoid_supply", supply), ("converter", conv), ("drive", drive), ("reverse", reverse)):
            self.feeds.append(f"{name}: {{from: {at}}}")
        self.taps += [f"T_line: {line[2]}", f"T_sup: {supply}"]
        return {"k": 0, "line": line, "supply": [supply], "conv": [conv], "drive": [drive], "reverse": [reverse], "sig": None, "relay": None}

    def region(self, m, before, reach_back):
        rng, at = self.rng, {}
        k = at["k"] = min(max(before["k"] + rng.choice((-1, 0, 1)), 0), self.n_castings - 3)
        layers = (k, k + 2)
        if reach_back:  # circuits of a neighbourhood, under those of the unit
            self.zone = m
            for name in ("line", "supply", "conv", "drive", "reverse", "lube", "low"):
                self.circuit(f"{name}{m}", name)
        for name, n in (("line", 14), ("supply", 10), ("conv", 5), ("drive", 11), ("reverse", 6)):
            at[name] = self.channel(rng.choice(before[name]), n, f"{name}{self.zone}", layers, main=name == "line")

        # The signal: made by a solenoid of its own, or handed on.
        signal = self.circuit(f"g{m}", "supply")
        if m % 3 and before["sig"]:
            at["sig"] = self.channel(rng.choice(before["sig"]), 7, signal, layers)
        elif m % 4 == 2:
            first = self.passage(rng.randint(*layers), signal)
            self.solenoids.append(f"s{m}: {{kind: three_way, normally: low, supply: {at['supply'][-1]}, output: {first}, exhaust: sump}}")
            self.signals.append(f"s{m}")
            at["sig"] = self.channel(first, 7, signal, layers)
        else:
            first = self.orifice(at["supply"][-1], signal, layers)
            self.solenoids.append(f"s{m}: {{kind: bleed, normally: open, joins: [{first}, sump], diameter: 2}}")
            self.signals.append(f"s{m}")
            at["sig"] = self.channel(first, 7, signal, layers)

        # The shift valve, and the clutch behind an orifice with a quick-drain ball beside it.
        drain, clutch = self.drain(m, layers), self.circuit(f"k{m}", "drive")
        out = self.passage(k + 1, clutch)
        self.spool(f"V{m}", at["sig"][-1], at["drive"][-1], out, drain)
        piston = self.orifice(out, clutch, layers, 2)
        self.balls.append(f"B{m}: {{seats_on: {self.hole(out, piston)}, lies_in: {out}}}")
        apply = self.channel(piston, 15, clutch, layers)
        if m < 4 or m % 40 == 0:
            self.actuators.append(f"A{m}: {{kind: clutch, apply: {apply[-1]}, applies_at: 35, volume: 20}}")
            self.switches.append(f"W{m}: {{on: {apply[2]}, closes_at: 25}}")
        if m % 5 == 0:
            self.hole(apply[3], "sump", 0.4, ", strength: leak")

        # The relay valve, stroked by clutch oil, or by the relay of the region before.
        relay = self.circuit(f"r{m}", "drive")
        out = self.passage(k + 1, relay)
        signal = rng.choice(before["relay"]) if m % 4 == 3 and before["relay"] else rng.choice(apply)
        self.spool(f"R{m}", self.channel(signal, 1, relay, layers)[-1], rng.choice(at["drive"]), out, drain)
        at["relay"] = self.channel(out, 11, relay, layers)
        if m % 8 == 1:  # strokes when line is above 130 psi: only an estimate of the pressure tells
            high = self.circuit(f"h{m}", "line")
            out = self.passage(k + 1, high)
            self.spool(f"P{m}", rng.choice(at["line"]), rng.choice(at["line"]), out, drain, 42.3, 50)
            self.channel(out, 4, high, layers)
        if m % 3 == 1:  # a shuttle: filled by the relay or by reverse oil, whichever is there
            low = f"low{self.zone}"
            pocket = self.passage(k + 1, low)
            inlets = []
            for source in (rng.choice(at["relay"]), rng.choice(at["reverse"])):
                inlet = self.passage(rng.choice((k, k + 2)), low)
                if self.layer_of[source] == self.layer_of[inlet]:
                    self.joint(source, inlet)
                elif abs(self.layer_of[source] - self.layer_of[inlet]) == 1:
                    self.hole(source, inlet)
                else:  # a drilling
                    self.n_joints += 1
                    self.joints.append(f"J{self.n_joints}: {{joins: [{source}, {inlet}], diameter: 7}}")
                inlets.append(self.hole(inlet, pocket))
            self.balls.append(f"U{m}: {{seats_on: [{', '.join(inlets)}], lies_in: {pocket}}}")
            self.channel(pocket, 7, low, layers)
        lube = self.orifice(at["conv"][-1], f"lube{self.zone}", layers, 2)
        jet = self.channel(lube, 7, f"lube{self.zone}", layers)
        self.hole(jet[-1], "sump", 1.6, ", orifice: true")
        return at

    def build(self):
        regions = [self.root()]
        while self.n_passages + 130 <= self.n:  # no region takes more
            m = len(regions)
            regions.append(self.region(m, self.rng.choice(regions[-REACH_BACK:]), m % 20 == 1))
        at = regions[-1]["line"][-1]
        while self.n_passages < self.n:  # galleries off the last region's line
            self.channel(at, min(12, self.n - self.n_passages), f"line{self.zone}", (regions[-1]["k"], regions[-1]["k"] + 2))

    def states(self):
        lever = ["P", "R", "N", "D", "D", "D", "D", "L", "L", "L", "D", "D"]
        line = ["60", "220", "60", "100", "90", "85", "75", "150", "140", "130 psi", "{pressure: 170, capacity: 12}", "regulated"]
        on = [set(), {0}, set(), set(), {0}, {0, 1}, {1}, {2}, {0, 2}, {0, 1, 2, 3}, {1, 3}, {3}]
        for i in range(12):
            yield f"  st{i}:"
            yield f"    manual: {lever[i]}"
            yield f"    line: {line[i]}"
            yield f"    sol_line: {i * 8} %"
            for k, name in enumerate(self.signals):
                if k % 4 in on[i]:
                    yield f"    {name}: on"

    def lines(self):
        yield "feedtrace: 1"
        yield f"model: synthetic-{self.n}"
        yield "note: Made by a program for measuring speed. No real unit, no real figure."
        yield "units: {pressure: psi, length: mm, area: mm2, flow: L/min, force: N, volume: cm3}"
        yield "layers:"
        for k in range(self.n_castings):
            yield f"  - {{id: {CASTINGS[k]}, kind: casting}}"
            yield f"  - {{id: p{CASTINGS[k]}, kind: plate}}"
        yield "circuits:"
        for name, (under, more, passages) in self.circuits.items():
            keys = ", ".join(part for part in (f"under: {under}" if under else "", more) if part)
            if not passages:
                yield f" {name}: {{{keys}}}"
                continue
            yield f" {name}: {{{keys + ', ' if keys else ''}passages: ["
            for i in range(0, len(passages), 12):
                yield "   " + ",".join(passages[i:i + 12]) + ("," if i + 12 < len(passages) else "]}")
        for key, rows in (("joints", self.joints), ("screens", self.screens), ("holes", self.holes), ("check_balls", self.balls),
                          ("valves", self.valves), ("solenoids", self.solenoids), ("actuators", self.actuators),
                          ("feeds", self.feeds), ("taps", self.taps), ("switches", self.switches)):
            yield key + ":"
            for row in rows:
                yield " " + row
        yield "gears: {neutral: [], first: [A2], second: [A1, A2]}"
        yield "states:"
        yield from self.states()


def main():
    if len(sys.argv) != 3 or not sys.argv[1].isdigit() or int(sys.argv[1]) < 300:
        sys.exit("usage: make_model.py N SEED > FILE   (N: passages, at least 300)")
    unit = Unit(int(sys.argv[1]), int(sys.argv[2]))
    unit.build()
    for line in unit.lines():
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
