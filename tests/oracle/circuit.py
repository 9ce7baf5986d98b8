"""One model, under a list of faults, in one state: nodes and elements.

Part of the reference of the trace. Plain Python, no code shared with the program: it reads the
model on its own (every scalar as text) and takes the model to be valid.

Words used here:
  passage   an ID of the model, or `sump`
  node      passages that joints and screens without a diameter make one
  element   anything that oil can cross between two passages
  key       what names an element of settling: a valve's ID, or (ball, hole) for a seat of a shuttle
"""
import re

import yaml

MAIN, OPEN, ORIFICE, LEAK = 4, 3, 2, 1
STRENGTHS = {"main": MAIN, "open": OPEN, "orifice": ORIFICE, "leak": LEAK}
SUMP = "sump"

# To SI for pressures (Pa) and forces (N); lengths stay in mm and areas in mm2. psi and inch: exact by
# NIST SP 811 (1 lbf = 4.4482216152605 N, 1 in = 25.4 mm).
UNITS = {
    "psi": 4.4482216152605 / 0.0254 ** 2, "bar": 1e5, "kPa": 1e3, "MPa": 1e6, "Pa": 1.0,
    "mm": 1.0, "in": 25.4, "cm": 10.0, "m": 1000.0,
    "mm2": 1.0, "cm2": 100.0, "in2": 645.16,
    "N": 1.0, "lbf": 4.4482216152605,
    "N/mm": 1.0, "N/m": 1e-3, "lbf/in": 4.4482216152605 / 25.4,
    "%": 0.01,
}
DEFAULT_UNITS = {"pressure": "psi", "length": "mm", "area": "mm2", "force": "N"}


def load(path):
    """The YAML file as dicts, lists and text."""
    with open(path, encoding="utf-8") as stream:
        return yaml.load(stream, Loader=yaml.BaseLoader)


def quantity(text, default):
    """A number with an optional unit; pressures in Pa, lengths in mm, areas in mm2, forces in N."""
    match = re.match(r"\s*([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)\s*(\S*)\s*$", text)
    if not match:
        raise ValueError("not a quantity: %r" % text)
    return float(match.group(1)) * UNITS[match.group(2) or default]


def strength_of_size(mm):
    """Strength of a leak or of a resized element."""
    return OPEN if mm >= 2.5 else ORIFICE if mm >= 0.6 else LEAK


class Element:
    """`a` to `b`, and back unless one_way. With a guard (key, positions) it conducts in those positions only.

    A shuttle's seat has a = inlet, b = pocket and `seat` set.
    """

    def __init__(self, name, a, b, strength, one_way=False, guard=None, seat=False, limiting=None):
        self.name, self.a, self.b, self.strength = name, a, b, strength
        self.one_way, self.guard, self.seat = one_way, guard, seat
        self.limiting = limiting          # the limiting valve whose window this is

    def conducts(self, position):
        return self.guard is None or position[self.guard[0]] in self.guard[1]

    def may_conduct(self, sets):
        return self.guard is None or bool(sets[self.guard[0]] & self.guard[1])

    def sure(self, sets):
        return self.guard is None or sets[self.guard[0]] <= self.guard[1]


class Model:
    """The entries of a model in file order, short and long forms made one."""

    def __init__(self, tree):
        self.tree = tree
        self.units = dict(DEFAULT_UNITS, **tree.get("units", {}))
        self.layer, self.circuit = {}, {}     # of each passage
        for circuit, entry in (tree.get("circuits") or {}).items():
            for passage in (entry or {}).get("passages", []) if isinstance(entry, dict) else []:
                self.circuit[passage] = circuit
        for passage, entry in (tree.get("passages") or {}).items():
            if isinstance(entry, dict):
                self.circuit[passage] = entry["circuit"]
                if "layer" in entry:
                    self.layer[passage] = entry["layer"]
            else:
                self.circuit[passage] = entry
        self.passages = list(self.circuit)
        for passage in self.passages:
            self.layer.setdefault(passage, passage.split(".")[0])
        self.joints = {}                      # joints and screens: (passage, passage, strength or None for merged)
        for section in ("joints", "screens"):
            for name, entry in (tree.get(section) or {}).items():
                entry = entry if isinstance(entry, dict) else {"joins": entry}
                strength = STRENGTHS[entry.get("strength", "main")] if "diameter" in entry else None
                self.joints[name] = (entry["joins"][0], entry["joins"][1], strength)
        self.holes = dict(tree.get("holes") or {})
        self.balls = {}                       # (list of holes, pocket)
        for name, entry in (tree.get("check_balls") or {}).items():
            seats = entry["seats_on"]
            self.balls[name] = (seats if isinstance(seats, list) else [seats], entry["lies_in"])
        self.valves = dict(tree.get("valves") or {})
        self.solenoids = dict(tree.get("solenoids") or {})
        self.actuators = dict(tree.get("actuators") or {})
        self.feeds = dict(tree.get("feeds") or {})
        self.gears = {}                       # (set on, set either)
        for name, entry in (tree.get("gears") or {}).items():
            entry = entry if isinstance(entry, dict) else {"on": entry}
            self.gears[name] = (set(entry.get("on") or []), set(entry.get("either") or []))
        self.clash = [tuple(pair) for pair in tree.get("clash") or []]
        self.states = {}
        for name, entry in (tree.get("states") or {}).items():
            self.states[name] = dict(tree.get("defaults") or {}, **(entry or {}))

    def of_kind(self, *kinds):
        return [name for name, valve in self.valves.items() if valve["kind"] in kinds]

    def size(self, text):
        return quantity(text, self.units["length"])

    def pressure(self, text):
        return quantity(text, self.units["pressure"])

    def force(self, text):
        return quantity(text, self.units["force"])

    def area(self, text):
        return quantity(text, self.units["area"])

    def rate(self, text):
        return quantity(text, self.units["force"] + "/" + self.units["length"])

    def hole_strength(self, name):
        hole = self.holes[name]
        if "strength" in hole:
            return STRENGTHS[hole["strength"]]
        return ORIFICE if hole.get("orifice") == "true" else OPEN

    def limit(self, name):
        """Pressure at which a limiting valve shuts its supply, Pa."""
        valve = self.valves[name]
        if "limit" in valve:
            return self.pressure(valve["limit"])
        spring = valve["spring"]
        force = self.force(spring["preload"]) + self.rate(spring.get("rate", "0")) * self.size(valve["travel"])
        return force / self.area(valve["area"]) * 1e6

    def other_side(self, hole, passage):
        first, second = self.holes[hole]["joins"]
        return second if first == passage else first

    def ports(self, name):
        """Port name: passage, in written order."""
        valve = self.valves[name]
        if valve["kind"] in ("spool", "manual"):
            return dict(valve["ports"])
        return {key: valve[key] for key in valve if key in ("supply", "outlet", "reaction", "exhaust", "inlet")}

    def bore(self, name):
        """Ports in bore order."""
        return list(self.valves[name].get("along") or self.ports(name))


class Faults:
    """Fault words, read. Nothing here says whether they fit the model."""

    def __init__(self, model, text):
        self.blocked, self.resized, self.added = set(), {}, []       # added: (a, b, strength, one_way)
        self.lost, self.seated, self.stuck = set(), {}, {}
        self.broken, self.misadjusted = set(), {}
        for word in (text or "").split(" + "):
            if word.strip():
                self.read(model, word.split())

    def read(self, model, words):
        verb, subject, rest = words[0], words[1], words[2:]
        size = 0.5
        if "at" in rest and verb in ("leak", "unseat", "wear"):
            where = rest.index("at")
            size = model.size(" ".join(rest[where + 1:]))
            rest = rest[:where]
        if verb == "block":
            self.blocked.add(subject)
        elif verb == "leak":
            if rest:                                              # leak A into B
                a, b = subject, rest[1]
            elif subject in model.actuators:
                a, b = model.actuators[subject]["apply"], SUMP
            else:
                (b,) = model.holes[subject]["leaks_to"]
                (a,) = [p for p in model.holes[subject]["joins"] if p != SUMP and model.layer[p] == model.layer[b]]
            self.added.append((a, b, strength_of_size(size), False))
        elif verb == "resize":
            self.resized[subject] = strength_of_size(model.size(" ".join(rest[1:])))
        elif verb == "lose":
            self.lost.add(subject)
        elif verb == "seat":
            self.seated[subject] = rest[1] if rest else model.balls[subject][0][0]
        elif verb == "unseat":
            holes, pocket = model.balls[subject]
            hole = rest[1] if rest else holes[0]
            self.added.append((pocket, model.other_side(hole, pocket), strength_of_size(size), True))
        elif verb == "stick":
            self.stuck[subject] = rest[1]
        elif verb == "wear":
            bore, ports = model.bore(subject), model.ports(subject)
            pairs = list(zip(bore, bore[1:]))
            if rest:                                              # between P and Q
                pairs = [pair for pair in pairs if set(pair) == {rest[1], rest[3]}]
            for p, q in pairs:
                if ports[p] != ports[q]:
                    self.added.append((ports[p], ports[q], LEAK, False))
        elif verb == "break":
            self.broken.add(subject)
        elif verb == "unplug":
            plug = model.valves[subject]["plug"]
            if plug == "spring":
                self.broken.add(subject)
            else:
                self.added.append((model.ports(subject)[plug], SUMP, OPEN, False))
        elif verb == "misadjust":
            self.misadjusted[subject] = (rest[1], rest[3])
        elif verb != "weaken":                                    # weaken: nothing by structure
            raise ValueError("no such fault: %s" % verb)


class Circuit:
    """A model under faults in one state.

    node       passage: node number
    sump       node number
    sources    {feed: (node, setting in Pa)} of those that are on
    roots      nodes of these
    elements   with `a` and `b` as node numbers; none with both ends in one node
    detents    {manual valve: detent}
    seats      keys (ball, hole) of the shuttles that still judge, two for each
    """

    def __init__(self, model, faults, state):
        self.model, self.faults = model, faults
        self.settings = model.states[state]
        self.detents = {}
        self.elements, self.seats, self.shuttles = [], [], []
        self.number_nodes()
        self.sump = self.node[SUMP]
        self.turn_on_sources()
        self.roots = {node for node, _ in self.sources.values()}
        self.add_elements()
        self.elements = [e for e in self.elements if e.a != e.b]

    def number_nodes(self):
        group = {passage: {passage} for passage in self.model.passages + [SUMP]}
        for name, (a, b, strength) in self.model.joints.items():
            if strength is None and name not in self.faults.blocked and group[a] is not group[b]:
                union = group[a] | group[b]
                for passage in union:
                    group[passage] = union
        self.node, self.held = {}, []         # held: the passages of each node
        for passage in self.model.passages + [SUMP]:
            if passage not in self.node:
                for other in group[passage]:
                    self.node[other] = len(self.held)
                self.held.append(group[passage])
        self.n_nodes = len(self.held)

    def turn_on_sources(self):
        self.sources = {}
        for name, feed in self.model.feeds.items():
            if "into" not in feed:
                continue
            setting = self.settings[name]
            if isinstance(setting, dict):
                setting = setting["pressure"]
            regulators = [v for v in self.model.of_kind("regulating") if self.model.valves[v]["source"] == name]
            if setting == "off" or any(v in self.faults.broken and v not in self.faults.stuck for v in regulators):
                continue
            if setting == "regulated":
                setting = self.model.valves[regulators[0]]["sets"]["base"]
            pressure = self.model.pressure(setting)
            if pressure > 0:
                self.sources[name] = (self.node[feed["into"]], pressure)

    def add(self, name, a, b, strength, **more):
        self.elements.append(Element(name, self.node[a], self.node[b], strength, **more))

    def add_elements(self):
        model, faults = self.model, self.faults
        for name, (a, b, strength) in model.joints.items():
            if strength is not None and name not in faults.blocked:
                self.add(name, a, b, strength)
        under_ball = {hole: ball for ball, (holes, _) in model.balls.items() for hole in holes}
        for name, hole in model.holes.items():
            if name not in under_ball and name not in faults.blocked:
                self.add(name, *hole["joins"], faults.resized.get(name, model.hole_strength(name)))
        for ball in model.balls:
            self.add_ball(ball)
        for name in model.valves:
            getattr(self, "add_" + model.valves[name]["kind"])(name, model.valves[name])
        for name, solenoid in model.solenoids.items():
            if name not in faults.blocked:
                self.add_solenoid(name, solenoid)
        for a, b, strength, one_way in faults.added:
            self.add("fault", a, b, strength, one_way=one_way)

    def add_ball(self, ball):
        holes, pocket = self.model.balls[ball]
        lost, seated = ball in self.faults.lost, self.faults.seated.get(ball)
        judging = len(holes) == 2 and not lost and seated is None
        if judging:
            self.shuttles.append(ball)
            self.seats += [(ball, hole) for hole in holes]
        for hole in holes:
            if hole in self.faults.blocked or hole == seated:
                continue
            strength = self.faults.resized.get(hole, self.model.hole_strength(hole))
            inlet = self.model.other_side(hole, pocket)
            if judging:
                self.add(hole, inlet, pocket, strength, guard=((ball, hole), {"open"}), seat=True)
            else:
                self.add(hole, inlet, pocket, strength, one_way=len(holes) == 1 and not lost)

    def add_windows(self, name, pairs_guards):
        """pairs_guards: (two ports, guard); a blocked port has none."""
        ports = self.model.ports(name)
        for (p, q), guard in pairs_guards:
            if "%s.%s" % (name, p) not in self.faults.blocked and "%s.%s" % (name, q) not in self.faults.blocked:
                limiting = name if self.model.valves[name]["kind"] == "limiting" else None
                self.add(name, ports[p], ports[q], OPEN, guard=guard, limiting=limiting)

    def add_spool(self, name, valve):
        where = {}
        for position in ("rest", "stroked"):
            for pair in valve.get(position) or []:
                where.setdefault(tuple(sorted(pair)), set()).add(position)
        self.add_windows(name, [(pair, (name, positions)) for pair, positions in where.items()])

    def add_manual(self, name, valve):
        detent = self.settings[name]
        detents = {self.faults.stuck.get(name, detent)}
        if detent in self.faults.misadjusted.get(name, ()):
            detents |= set(self.faults.misadjusted[name])
        self.detents[name] = self.faults.stuck.get(name, detent)
        self.add_windows(name, [(pair, None) for d in sorted(detents) for pair in valve["positions"][d] or []])

    def add_limiting(self, name, valve):
        self.add_windows(name, [(("supply", "outlet"), (name, {"wide", "limiting"}))])

    def add_regulating(self, name, valve):
        into = self.model.feeds[valve["source"]]["into"]
        if self.faults.stuck.get(name) == "open":
            self.add(name, into, SUMP, OPEN)
        blocked = {name + ".from", name + ".to"} & self.faults.blocked
        if "also_feeds" in valve and valve["source"] in self.sources and not blocked:
            self.add(name, valve["also_feeds"]["from"], valve["also_feeds"]["to"], OPEN)

    def add_relief(self, name, valve):
        if self.faults.stuck.get(name, "open" if name in self.faults.broken else "shut") == "open":
            self.add_windows(name, [(("inlet", "outlet"), None)])

    def add_solenoid(self, name, solenoid):
        setting = self.faults.stuck.get(name, self.settings.get(name, "off"))
        share = {"on": 1.0, "off": 0.0}.get(setting)
        if share is None:
            share = quantity(setting, "%")
        between = 0 < share < 1
        strength = STRENGTHS[solenoid.get("strength", "orifice" if between else "open")]
        on = share >= 1
        if solenoid["kind"] == "bleed":
            if (solenoid["normally"] == "open") != on:
                self.add(name, *solenoid["joins"], strength)
            return
        to_supply = (solenoid["normally"] == "high") != on
        if to_supply or between:
            self.add(name, solenoid["supply"], solenoid["output"], strength)
        if not to_supply or between:
            self.add(name, solenoid["output"], solenoid["exhaust"], strength)
