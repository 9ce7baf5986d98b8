#!/usr/bin/python3
"""Small random models that are valid by structure, and fault words that fit them.

    random_models.py SEED N OUTDIR

writes OUTDIR/SEED-000.yaml ... and beside each a .faults file, one expression a line. The same seed
gives the same files. The units are invented, the figures mean nothing; they only keep off exact ties
(pressures in the ratio 0.9, forces equal to a spring) where rounding would decide.
"""
import os
import random
import sys

import yaml

STACKS = [
    [("case", "casting"), ("plate", "plate"), ("body", "casting")],
    [("case", "casting"), ("plate", "plate"), ("body", "casting"), ("cover", "plate")],
    [("cover", "plate"), ("case", "casting"), ("plate", "plate"), ("body", "casting")],
    [("pump", "casting"), ("case", "casting"), ("plate", "plate"), ("body", "casting")],
    [("pump", "casting"), ("plate_a", "plate"), ("case", "casting"), ("plate_b", "plate"), ("body", "casting")],
]
PRESSURES = ["40", "55", "57", "62", "83", "90", "104", "131", "150", "170", "210", "115", "6.1 bar", "720 kPa"]
LIMITS = ["115", "75", "115 psi", "8.3 bar", "60"]
SIZES = ["0.4 mm", "0.5 mm", "0.6 mm", "0.8 mm", "1.4 mm", "2.5 mm", "3 mm", "0.035 in", "0.12 in", "1.1", "0.3", "4"]


class Maker:
    def __init__(self, rng, name):
        self.rng, self.name = rng, name
        self.doubt = rng.random() < 0.18            # rich in fights at spool ends
        self.sections = {key: {} for key in ("joints", "screens", "holes", "check_balls", "valves", "solenoids", "actuators", "feeds")}
        self.counts = {}
        self.layers = rng.choice(STACKS)
        self.castings = [layer for layer, kind in self.layers if kind == "casting"]
        self.plates = {}                            # casting: [(plate, casting beyond or None)]
        for i, (layer, kind) in enumerate(self.layers):
            if kind == "plate":
                sides = [self.layers[j][0] if 0 <= j < len(self.layers) else None for j in (i - 1, i + 1)]
                for own, beyond in (sides, sides[::-1]):
                    if own is not None:
                        self.plates.setdefault(own, []).append((layer, beyond))
        total = rng.choice([6, 8, 10, 12, 15, 18, 20, 24, 30])
        self.passages = []
        for i in range(total):
            layer = self.castings[i] if i < len(self.castings) else rng.choice(self.castings)
            self.passages.append("%s.p%d" % (layer, i))
        self.n_circuits = rng.randint(2, 6)
        self.circuit = {p: "k%d" % rng.randrange(self.n_circuits) for p in self.passages}
        self.under = {}
        self.hot = []
        self.group = {p: p for p in self.passages}  # joined without an element
        self.source_passages = []
        self.balled = set()
        self.manual_detents = {}
        self.limited = {}

    # -- picking

    def chance(self, share):
        return self.rng.random() < share

    def new(self, letter):
        self.counts[letter] = self.counts.get(letter, 0) + 1
        return "%s%d" % (letter, self.counts[letter])

    def layer(self, passage):
        return passage.split(".")[0]

    def pick(self, hot=0.0, but=()):
        pool = self.hot if self.hot and self.chance(hot) else self.passages
        pool = [p for p in pool if p not in but] or [p for p in self.passages if p not in but]
        return self.rng.choice(pool)

    def across(self, passage, but=()):
        """A passage on the other side of a plate, or None."""
        beyond = {casting for _, casting in self.plates.get(self.layer(passage), []) if casting}
        pool = [p for p in self.passages if self.layer(p) in beyond and p not in but and p != passage]
        return self.rng.choice(pool) if pool else None

    def root(self, passage):
        while self.group[passage] != passage:
            passage = self.group[passage]
        return passage

    # -- elements

    def hole(self, a, b, kind=None):
        kind = kind or self.rng.choice(["main", "open", "open", "open", "orifice", "orifice", "leak"])
        entry = {"joins": [a, b] if b == "sump" or self.chance(0.5) else [b, a], "diameter": "%.1f" % self.rng.uniform(0.7, 7)}
        if kind == "orifice" and self.chance(0.7):
            entry["orifice"] = "true"
        elif kind != "open":
            entry["strength"] = kind
        if b == "sump":
            plates = self.plates[self.layer(a)]
            if len(plates) > 1 or self.chance(0.2):
                entry["plate"] = self.rng.choice(plates)[0]
        name = self.new("H")
        near = [p for p in self.passages if p not in (a, b) and self.layer(p) in {self.layer(q) for q in (a, b) if q != "sump"}]
        if near and self.chance(0.3):
            entry["leaks_to"] = self.rng.sample(near, min(len(near), self.rng.choice([1, 1, 1, 2])))
        self.sections["holes"][name] = entry
        return name

    def restrict(self, a, b, kind):
        """Joins two passages through something of that strength, wherever they lie."""
        beyond = {casting for _, casting in self.plates.get(self.layer(a), [])}
        if self.layer(b) in beyond and self.layer(b) != self.layer(a):
            self.hole(a, b, kind)
        else:
            section, letter = self.rng.choice([("joints", "J"), ("screens", "S")])
            entry = {"joins": [a, b], "diameter": "%.1f" % self.rng.uniform(0.7, 7)}
            if kind != "main":
                entry["strength"] = kind
            self.sections[section][self.new(letter)] = entry

    def merge(self, a, b):
        ra, rb = self.root(a), self.root(b)
        if ra == rb:
            return
        joined = [self.root(p) for p in self.source_passages]
        if ra in joined and rb in joined:
            return
        self.group[ra] = rb
        section, letter = self.rng.choice([("joints", "J"), ("joints", "J"), ("screens", "S")])
        entry = [a, b] if self.chance(0.6) else {"joins": [a, b]}
        self.sections[section][self.new(letter)] = entry

    def drain(self, p):
        if self.plates.get(self.layer(p)):
            self.hole(p, "sump")

    def sources(self):
        for name in ["line", "aux"][:1 if self.chance(0.7) else 2]:
            free = [p for p in self.passages if self.root(p) not in [self.root(s) for s in self.source_passages]]
            into = self.rng.choice(free)
            self.source_passages.append(into)
            self.sections["feeds"][name] = {"into": into, "capacity": str(self.rng.randint(5, 40))}
            self.hot.append(into)
            for _ in range(self.rng.randint(1, 3)):
                self.transfer()

    def transfer(self):
        a = self.pick(0.7)
        b = self.pick(but=(a,))
        if self.chance(0.25):
            self.merge(a, b)
        else:
            self.restrict(a, b, self.rng.choice(["main", "open", "open", "orifice", "orifice", "leak"]))
        if self.chance(0.7):
            self.hot.append(b)

    def fight(self):
        """A passage that feed and exhaust reach equally."""
        p = self.pick()
        kind = self.rng.choice(["open", "orifice"])
        self.restrict(self.pick(0.9, but=(p,)), p, kind)
        if self.plates.get(self.layer(p)):
            self.hole(p, "sump", kind)
        return p

    def ball(self):
        a = self.pick(0.5)
        b = self.across(a)
        if b:
            hole = self.hole(a, b)
            self.sections["check_balls"][self.new("B")] = {"seats_on": hole, "lies_in": self.rng.choice([a, b])}

    def shuttle(self):
        pocket = self.pick()
        a = self.across(pocket)
        b = self.across(pocket, but=(a,)) if a else None
        if b:
            holes = [self.hole(pocket, a), self.hole(pocket, b)]
            self.sections["check_balls"][self.new("B")] = {"seats_on": holes, "lies_in": pocket}

    def solenoid(self):
        kind = self.rng.choice(["bleed", "three_way", "duty"])
        entry = {"kind": kind}
        if kind == "bleed":
            signal = self.pick()
            if self.chance(0.7):
                self.restrict(self.pick(0.9, but=(signal,)), signal, "orifice")
            entry["normally"] = self.rng.choice(["open", "closed"])
            entry["joins"] = [signal, "sump" if self.chance(0.85) else self.pick(but=(signal,))]
            entry["diameter"] = "2.0"
        else:
            supply = self.pick(0.9)
            entry["normally"] = self.rng.choice(["low", "low", "high"])
            entry["supply"] = supply
            entry["output"] = self.pick(but=(supply,))
            entry["exhaust"] = "sump" if self.chance(0.9) else self.pick(but=(supply, entry["output"]))
        if self.chance(0.15):
            entry["strength"] = self.rng.choice(["main", "open", "orifice", "leak"])
        self.sections["solenoids"][self.new("sol_")] = entry

    def manual(self):
        name = self.new("man")
        ports = {"in": self.pick(0.9), "a": self.pick(), "b": self.pick(), "x": "sump"}
        positions = {"P": [["a", "x"], ["b", "x"]], "D": [["in", "a"], ["b", "x"]], "R": [["in", "b"], ["a", "x"]], "L": [["in", "a"], ["in", "b"]]}
        for detent in self.rng.sample(list(positions), self.rng.randint(0, 2)):
            del positions[detent]
        self.manual_detents[name] = list(positions)
        self.sections["valves"][name] = {"kind": "manual", "ports": ports, "positions": positions}

    def spool_entry(self, ports, rest, stroked, ends):
        """ends: (port, pushes)."""
        entry = {"kind": "spool", "ports": ports, "rest": rest, "stroked": stroked}
        sized = self.chance(0.5)
        entry["ends"] = []
        for port, pushes in ends:
            end = {"port": port, "pushes": pushes}
            if sized or self.chance(0.1):
                end["area"] = str(self.rng.choice([30, 47, 80, 80, 113]))
            entry["ends"].append(end)
        if sized or self.chance(0.5):
            entry["spring"] = {"preload": "%.1f" % self.rng.choice([3.1, 11.7, 18.3, 29.9, 44.7]), "rate": self.rng.choice(["0.7", "2.0", "1.3"])}
        entry["travel"] = self.rng.choice(["3", "5.0", "4.5"])
        plugs = [port for port, _ in ends] + (["spring"] if "spring" in entry else [])
        if plugs and self.chance(0.6):
            entry["plug"] = self.rng.choice(plugs)
        if self.chance(0.5):
            entry["along"] = self.rng.sample(list(ports), len(ports) - (1 if self.chance(0.2) and len(ports) > 2 else 0))
        self.sections["valves"][self.new("v")] = entry

    def spool(self):
        ports = {"in": self.pick(0.85), "out": self.pick(), "x": "sump" if self.chance(0.85) else self.pick()}
        if self.chance(0.3):
            ports["out2"] = self.pick()
        names = list(ports)
        ends = []
        for i in range(self.rng.choice([1, 1, 2, 2, 3])):
            if self.chance(0.25):
                port = self.rng.choice(names[:2])
            else:
                port = "sig%d" % i
                ports[port] = self.fight() if self.doubt and self.chance(0.5) else self.pick(0.4)
            ends.append((port, "stroke" if i == 0 or self.chance(0.4) else "rest"))
        if len({port for port, _ in ends}) < len(ends):
            ends = ends[:1]
        if self.chance(0.04):
            ends = []                              # only its spring holds it
        a, b = [["in", "out"]], [["out", "x"]]
        if "out2" in ports:
            (a if self.chance(0.5) else b).append(["in", "out2"])
            if self.chance(0.3):
                a.append(["out2", "x"])
        if self.chance(0.2):
            b.append(["out", "in"])                # open in both
        rest, stroked = (a, b) if self.chance(0.5) else (b, a)
        self.spool_entry(ports, rest, stroked, ends)

    def loop(self):
        """A spool that feeds or drains its own end."""
        out = self.pick()
        ports = {"in": self.pick(0.9), "out": out, "x": "sump"}
        ends = [("out", "stroke")]
        if self.chance(0.4):
            ports["sig"] = self.pick(0.4)
            ends.append(("sig", self.rng.choice(["stroke", "rest"])))
        feeding, draining = [["in", "out"]], [["out", "x"]]
        rest, stroked = (feeding, draining) if self.chance(0.6) else (draining, feeding)
        self.spool_entry(ports, rest, stroked, ends)

    def cross(self):
        """Two spools, each at the other's end."""
        a, b = self.pick(), self.pick()
        rests = self.chance(0.7)
        for out, sig in ((a, b), (b, a)):
            ports = {"in": self.pick(0.9), "out": out, "x": "sump", "sig": sig}
            feeding, draining = [["in", "out"]], [["out", "x"]]
            self.spool_entry(ports, feeding if rests else draining, draining if rests else feeding, [("sig", "stroke")])

    def limiting(self):
        supply = self.pick(0.95)
        outlet = self.pick(but=(supply,))
        reaction = self.pick(but=(supply, outlet))
        own = self.new("react")
        if self.chance(0.7):
            self.circuit[reaction] = own
            self.under[own] = self.circuit[outlet]
        elif self.chance(0.5):
            self.circuit[reaction] = self.circuit[outlet]
        self.restrict(outlet, reaction, self.rng.choice(["orifice", "orifice", "orifice", "open", "leak"]))
        if self.chance(0.35):
            self.restrict(self.pick(0.9, but=(reaction,)), reaction, self.rng.choice(["open", "orifice", "leak"]))
        if self.chance(0.2):
            self.drain(reaction)
        entry = {"kind": "limiting"}
        keys = [("supply", supply), ("outlet", outlet), ("reaction", reaction)]
        if self.chance(0.3):
            keys.append(("exhaust", "sump"))
        if self.chance(0.3):
            self.rng.shuffle(keys)
        entry.update(keys)
        if self.chance(0.8):
            entry["limit"] = self.rng.choice(LIMITS)
            entry["droop"] = "5 %"
        else:
            entry.update({"spring": {"preload": "41.4", "rate": "0.73"}, "area": "55", "travel": "3.0"})
        entry["open_diameter"] = "4.0"
        if self.chance(0.5):
            entry["plug"] = self.rng.choice(["spring", "reaction"])
        name = self.new("lim")
        self.sections["valves"][name] = entry
        self.limited[name] = outlet
        self.hot.append(outlet)

    def regulating(self):
        entry = {"kind": "regulating", "source": "line", "sets": {"base": self.rng.choice(["55", "62", "90"]), "at_most": "300"}}
        if self.chance(0.5):
            entry["sets"]["plus"] = [{"from": self.pick(), "gain": "2.6"}]
        if self.chance(0.6):
            a = self.pick(0.9)
            entry["also_feeds"] = {"from": a, "to": self.pick(but=(a,))}
        self.sections["valves"][self.new("reg")] = entry

    def relief(self):
        self.sections["valves"][self.new("safe")] = {"kind": "relief", "inlet": self.pick(0.8), "outlet": "sump", "cracks_at": "320"}

    def actuator(self):
        entry = {"kind": self.rng.choice(["clutch", "band", "accumulator", "converter"]), "apply": self.pick(0.2), "applies_at": "40", "volume": "25"}
        if self.chance(0.3):
            entry["release"] = self.pick(but=(entry["apply"],))
        self.sections["actuators"][self.new("act")] = entry

    # -- the whole

    def fill(self):
        rng = self.rng
        self.sources()
        if self.chance(0.4):
            self.regulating()
        if self.chance(0.6):
            self.manual()
        kinds = [(self.transfer, 5), (self.fight, 3 if self.doubt else 0.6), (self.ball, 2), (self.shuttle, 3 if self.doubt else 2),
                 (self.solenoid, 3), (self.spool, 5 if self.doubt else 3), (self.loop, 1), (self.cross, 1), (self.limiting, 2),
                 (self.relief, 0.3), (lambda: self.drain(self.pick()), 2), (self.actuator, 2)]
        makers, weights = zip(*kinds)
        n = rng.randint(len(self.passages) // 2, len(self.passages) + 4)
        if self.doubt and self.chance(0.15):
            for _ in range(9):
                self.spool()
        for maker in rng.choices(makers, weights, k=n):
            maker()
        self.vents()
        self.derive()

    def vents(self):
        """A passage open to sump by a joint without an element."""
        if self.chance(0.2):
            casting = self.rng.choice(self.castings)
            vent = casting + ".vent"
            self.passages.append(vent)
            self.circuit[vent] = "vents"
            self.group[vent] = vent
            self.sections["joints"][self.new("J")] = [vent, "sump"]
            self.restrict(self.pick(0.3, but=(vent,)), vent, self.rng.choice(["open", "orifice"]))

    def derive(self):
        """Derived feeds, no two from one node."""
        starts = list(self.limited.values()) + self.rng.sample(self.passages, 2)
        taken = set() if self.chance(0.1) else {self.root(p) for p in self.source_passages}
        for p in starts:
            if self.root(p) not in taken and self.circuit[p] != "vents" and self.chance(0.6):
                taken.add(self.root(p))
                self.sections["feeds"][self.new("oil")] = {"from": p}

    def circuits(self):
        """The circuits section and the passages section."""
        names = sorted(set(self.circuit.values()) | set(self.under.values()))
        circuits, passages = {}, {}
        feeds = list(self.sections["feeds"])
        for name in names:
            entry = {"title": "Oil " + name}
            over = self.under.get(name)
            if over and over not in self.under and over != name:
                entry["under"] = over
            if self.chance(0.3):
                entry["fed_by"] = self.rng.sample(feeds, self.rng.randint(1, len(feeds)))
            if self.limited and self.chance(0.3):
                entry["limited_by"] = self.rng.choice(list(self.limited))
            circuits[name] = entry
        for p in self.passages:
            how = self.rng.random()
            if how < 0.5:
                circuits[self.circuit[p]].setdefault("passages", []).append(p)
            elif how < 0.8:
                passages[p] = self.circuit[p]
            else:
                passages[p] = {"layer": self.layer(p), "circuit": self.circuit[p], "volume": "4"}
        return circuits, passages

    def gears(self):
        devices = list(self.sections["actuators"])
        gears, seen = {"neutral": []}, [set()]
        for name in ("first", "second", "third"):
            on = set(self.rng.sample(devices, min(len(devices), self.rng.randint(1, 2)))) if devices else set()
            if on in seen:
                continue
            seen.append(on)
            ordered = [d for d in devices if d in on]
            free = [d for d in devices if d not in on]
            gears[name] = {"on": ordered, "either": [self.rng.choice(free)]} if free and self.chance(0.3) else ordered
        clash = [self.rng.sample(devices, 2)] if len(devices) > 1 and self.chance(0.6) else []
        return gears, clash

    def states(self, gears):
        rng = self.rng
        names = ["s%d" % i for i in range(rng.randint(2, 5))]
        order = rng.sample(names, len(names))
        regulated = any(v["kind"] == "regulating" for v in self.sections["valves"].values())
        states = {}
        for name in names:
            entry = {}
            for manual, detents in self.manual_detents.items():
                entry[manual] = rng.choice(detents)
            for feed, what in self.sections["feeds"].items():
                if "into" not in what:
                    continue
                setting = rng.choice(PRESSURES)
                if feed == "line" and regulated and self.chance(0.3):
                    setting = "regulated"
                elif self.chance(0.3 if feed == "aux" else 0.05):
                    setting = rng.choice(["off", "0"])
                entry[feed] = {"pressure": setting, "capacity": "12"} if setting != "off" and self.chance(0.2) else setting
            for solenoid, what in self.sections["solenoids"].items():
                if self.chance(0.7):
                    entry[solenoid] = rng.choice(["0 %", "35 %", "100 %"] if what["kind"] == "duty" else ["on", "on", "off"])
            entry["gear"] = rng.choice(list(gears))
            before = order[:order.index(name)]
            if before and self.chance(0.35):
                entry["after"] = rng.choice(before)
            if self.chance(0.1):
                entry["temperature"] = "110 degC"
            states[name] = entry
        return states

    def tree(self):
        self.fill()
        circuits, passages = self.circuits()
        gears, clash = self.gears()
        tree = {"feedtrace": "1", "model": self.name, "title": "Random circuit, invented",
                "layers": [{"id": layer, "kind": kind} for layer, kind in self.layers], "circuits": circuits}
        if passages:
            tree["passages"] = passages
        for section in ("joints", "screens", "holes", "check_balls", "valves", "solenoids", "actuators", "feeds"):
            if self.sections[section]:
                tree[section] = self.sections[section]
        tree["gears"] = gears
        if clash:
            tree["clash"] = clash
        duties = [s for s, what in self.sections["solenoids"].items() if what["kind"] == "duty"]
        if duties and self.chance(0.5):
            tree["defaults"] = {duties[0]: self.rng.choice(["0 %", "50 %", "100 %"])}
        tree["states"] = self.states(gears)
        return tree


# ---------------------------------------------------------------- faults

def fault_words(tree, rng):
    """{kind: [(text, {what it sets: value})]}; two faults exclude each other when they set one thing both."""
    words = {}

    def put(kind, text, *sets):
        words.setdefault(kind, []).append((text, set(sets)))

    def at(share=0.6):
        return " at " + rng.choice(SIZES) if rng.random() < share else ""

    passages = [p for entry in tree["circuits"].values() for p in entry.get("passages", [])] + list(tree.get("passages", {}))
    holes, balls = tree.get("holes", {}), tree.get("check_balls", {})
    for section in ("joints", "screens", "holes", "solenoids"):
        for name in tree.get(section, {}):
            put("block", "block " + name, ("size", name), ("block", name))
            if "sump" in str(tree[section][name]):            # what drained is then closed in: a device or spool may be locked
                put("block drain", "block " + name, ("size", name), ("block", name))
    for name, hole in holes.items():
        put("resize", "resize %s to %s" % (name, rng.choice(SIZES)), ("size", name))
        if len(hole.get("leaks_to", [])) == 1:
            put("leak hole", "leak %s%s" % (name, at()), ("leak", name))
    for _ in range(12):
        a, b = rng.sample(passages + ["sump"], 2)
        put("leak into", "leak %s into %s%s" % (a, b, at()), ("leak into", frozenset((a, b))))
    for name in tree.get("actuators", {}):
        put("leak actuator", "leak %s%s" % (name, at()), ("leak", name))
    for name, ball in balls.items():
        put("lose", "lose " + name, ("ball", name))
        seats = ball["seats_on"] if isinstance(ball["seats_on"], list) else [ball["seats_on"]]
        for hole in seats:
            on = " on " + hole if len(seats) == 2 or rng.random() < 0.3 else ""
            put("seat", "seat %s%s" % (name, on), ("ball", name))
            put("unseat", "unseat %s%s%s" % (name, on, at()), ("ball", name))
    for name, valve in tree.get("valves", {}).items():
        kind = valve["kind"]
        positions = {"spool": ["rest", "stroked"], "limiting": ["wide", "shut"], "regulating": ["open", "shut"], "relief": ["open", "shut"],
                     "manual": list(valve.get("positions", []))}[kind]
        for position in positions:
            put("stick", "stick %s at %s" % (name, position), ("stick", name))
        if kind != "manual" and (kind != "spool" or "spring" in valve):
            put("break", "break " + name, ("break", name))
        if "plug" in valve:
            put("unplug", "unplug " + name, ("unplug", name), *([("break", name)] if valve["plug"] == "spring" else []))
        ports = valve.get("ports") or {k: valve[k] for k in valve if k in ("supply", "outlet", "reaction", "exhaust")}
        if kind in ("spool", "manual", "limiting"):
            for port in ports:
                put("block port", "block %s.%s" % (name, port), ("block", name, port))
            bore = valve.get("along") or list(ports)
            pairs = [(p, q) for p, q in zip(bore, bore[1:]) if ports[p] != ports[q]]
            for p, q in pairs:
                put("wear", "wear %s between %s and %s%s" % (name, p, q, " at 0.06 mm" if rng.random() < 0.3 else ""), ("wear", name))
            if pairs:
                put("wear", "wear " + name, ("wear", name))
        if kind == "manual" and len(positions) > 1:
            put("misadjust", "misadjust %s between %s and %s" % ((name,) + tuple(rng.sample(positions, 2))), ("stick", name))
    for name in tree.get("solenoids", {}):
        for setting in ("on", "off"):
            put("stick solenoid", "stick %s at %s" % (name, setting), ("stick", name))
    for name, feed in tree["feeds"].items():
        if "into" in feed:
            put("weaken", "weaken %s to 3 L/min" % name, ("weaken", name))
    return words


def fault_lines(tree, rng, n_single=7, n_double=4):
    words = fault_words(tree, rng)
    kinds = sorted(words)
    draw = lambda: rng.choice(words[rng.choice(kinds)])
    lines = []
    for kind in ["block drain"] * ("block drain" in words) + rng.sample(kinds, min(n_single, len(kinds))):
        lines.append(rng.choice(words[kind])[0])
    for _ in range(n_double):
        chosen = []
        for _ in range(2 if rng.random() < 0.8 else 3):
            text, sets = draw()
            if all(not sets & other for _, other in chosen):
                chosen.append((text, sets))
        lines.append(" + ".join(text for text, _ in chosen))
    return list(dict.fromkeys(lines))


class PlainDumper(yaml.SafeDumper):
    """Scalars as they stand: `on` needs no quotes where every scalar is text."""
    yaml_implicit_resolvers = {}

    def ignore_aliases(self, data):
        return True


def make(seed, number):
    """(name, YAML text, fault lines) of one model."""
    rng = random.Random("%s/%d" % (seed, number))
    name = "r%s-%03d" % (seed, number)
    tree = Maker(rng, name).tree()
    text = yaml.dump(tree, Dumper=PlainDumper, sort_keys=False, default_flow_style=None, width=200)
    return name, text, fault_lines(tree, rng)


def main():
    if len(sys.argv) != 4:
        sys.exit("usage: random_models.py SEED N OUTDIR")
    seed, n, folder = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    os.makedirs(folder, exist_ok=True)
    for number in range(n):
        name, text, faults = make(seed, number)
        with open(os.path.join(folder, name + ".yaml"), "w", encoding="utf-8") as out:
            out.write(text)
        with open(os.path.join(folder, name + ".faults"), "w", encoding="utf-8") as out:
            out.write("".join(line + "\n" for line in faults))


if __name__ == "__main__":
    main()
