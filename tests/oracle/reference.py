#!/usr/bin/python3
"""A slow and plain reference of the trace, to hold the program against.

Every combination of doubt is evaluated by itself, one after the other; there are no masks and no
lanes. Run it by hand as:  reference.py MODEL [STATE...] [--fault "block H1 + lose B1"]
"""
import argparse
import itertools
import json
import sys

import circuit as c

LIVE = ("fed", "partial", "unsure")
DEAD = ("exhausted", "trapped")
MOST_DOUBTS = 8
ORDER = ("rest", "stroked", "open", "wide", "limiting", "shut")     # first position of a set
ROOT_STRENGTH = c.MAIN + 1


# ---------------------------------------------------------------- conditions, one network without doubt

def ways_of(arcs):
    """{node: nodes that its arcs lead to}"""
    ways = {}
    for a, b in arcs:
        ways.setdefault(a, []).append(b)
    return ways


def spread(starts, ways, enter):
    """All nodes of `enter` that the ways lead to from `starts`."""
    reached, work = set(), list(starts)
    while work:
        for b in ways.get(work.pop(), ()):
            if b in enter and b not in reached:
                reached.add(b)
                work.append(b)
    return reached


def conditions(nodes, arcs, sources, sump, gone=frozenset()):
    """Level-by-level rule. arcs: (from, to, strength), one for each direction in which oil can flow.

    Returns ({node: condition}, {node: level at which it was decided}); trapped nodes have level 0.
    """
    condition, level = {}, {}
    for node in sources:
        condition[node], level[node] = "fed", ROOT_STRENGTH
    condition[sump], level[sump] = "exhausted", ROOT_STRENGTH
    for node in gone:
        condition.pop(node, None)
    nodes = [n for n in nodes if n not in gone]
    for strength in (c.MAIN, c.OPEN, c.ORIFICE, c.LEAK):
        pairs = [(a, b) for a, b, s in arcs if s >= strength and a not in gone and b not in gone]
        flow, back = ways_of(pairs), ways_of((b, a) for a, b in pairs)
        undecided = {n for n in nodes if n not in condition}
        if not undecided:
            break
        fed = {n for n in condition if condition[n] == "fed"}
        exhausted = {n for n in condition if condition[n] == "exhausted"}
        fights = {n for n in condition if condition[n] == "partial"}
        feed_1 = spread(fed | fights, flow, undecided)
        exhaust_1 = spread(exhausted | fights, back, undecided)
        partial = feed_1 & exhaust_1
        while True:
            feed_3 = spread(fed, flow, undecided - partial)
            exhaust_3 = spread(exhausted, back, undecided - partial)
            lost = (feed_1 | exhaust_1) - partial - feed_3 - exhaust_3
            if not lost:
                break
            partial |= lost
        for reached, word in ((partial, "partial"), (feed_3, "fed"), (exhaust_3, "exhausted")):
            for node in reached:
                condition[node], level[node] = word, strength
    for node in nodes:
        if node not in condition:
            condition[node], level[node] = "trapped", 0
    return condition, level


def widest(arcs, sources, live):
    """{node: greatest of min(setting, caps crossed)} over routes through live nodes. arcs: (from, to, cap)."""
    best = dict(sources)
    work = list(best)
    while work:
        a = work.pop()
        for b, cap in arcs.get(a, ()):
            if b in live and b not in sources:
                value = min(best[a], cap)
                if value > best.get(b, 0.0):
                    best[b] = value
                    work.append(b)
    return best


def merge(answers, otherwise):
    """The one answer, or `otherwise`."""
    answers = set(answers)
    return answers.pop() if len(answers) == 1 else otherwise


# ---------------------------------------------------------------- doubt

def doubts(sets):
    return [key for key in sets if len(sets[key]) > 1]


def first(sets):
    return {key: min(positions, key=ORDER.index) for key, positions in sets.items()}


class Network:
    """A circuit with its conditions remembered, so that equal questions are answered once."""

    def __init__(self, circuit):
        self.circuit = circuit
        self.nodes = range(circuit.n_nodes)
        self.settings = {}
        for node, pressure in circuit.sources.values():
            self.settings[node] = max(pressure, self.settings.get(node, 0.0))
        self.limits = {v: circuit.model.limit(v) for v in circuit.model.of_kind("limiting")}
        self.guarded = [e for e in circuit.elements if e.guard or e.limiting]
        self.known = {}

    def alternatives(self, sets):
        """Each choice of one position for every key; never both seats of one ball shut."""
        keys = list(sets)
        balls = self.circuit.shuttles
        holes = {ball: [key for key in keys if isinstance(key, tuple) and key[0] == ball] for ball in balls}
        for choice in itertools.product(*(sorted(sets[key]) for key in keys)):
            position = dict(zip(keys, choice))
            if not any(holes[ball] and all(position[seat] == "shut" for seat in holes[ball]) for ball in balls):
                yield position

    def directions(self, e, inward):
        """(from, to) pairs of an element."""
        one_way = e.one_way or (e.seat and inward)
        return [(e.a, e.b)] if one_way else [(e.a, e.b), (e.b, e.a)]

    def arcs(self, elements, inward=False):
        return [(a, b, e.strength) for e in elements for a, b in self.directions(e, inward)]

    def open_elements(self, position, without=None):
        return [e for e in self.circuit.elements if e.conducts(position) and (without is None or e.limiting != without)]

    def conditions(self, position, inward=False, gone=frozenset(), without=None):
        """Conditions and levels of one alternative; `without`: a limiting valve whose window is taken out."""
        key = (tuple(e.conducts(position) and (without is None or e.limiting != without) for e in self.guarded), inward, gone)
        if key not in self.known:
            arcs = self.arcs(self.open_elements(position, without), inward)
            self.known[key] = conditions(self.nodes, arcs, self.circuit.roots, self.circuit.sump, gone)
        return self.known[key]

    def beyond(self, sets, inward=False, gone=frozenset(), without=None):
        """More doubt than can be tried: conditions of the first alternative, unsure where the walk comes."""
        condition, level = self.conditions(first(sets), inward, gone, without)
        condition = dict(condition)
        elements = [e for e in self.circuit.elements if e.limiting is None or e.limiting != without]
        doubtful = set(doubts(sets))
        ends = {n for e in elements if e.guard and e.guard[0] in doubtful for n in (e.a, e.b)}
        both = [pair for e in elements if e.may_conduct(sets) for pair in ((e.a, e.b), (e.b, e.a))]
        free = set(self.nodes) - self.circuit.roots - {self.circuit.sump} - gone
        for node in (ends & free) | spread(ends & free, ways_of(both), free):
            condition[node] = "unsure"
        return condition, level

    def merged(self, sets, inward=False):
        """Conditions over all alternatives."""
        if len(doubts(sets)) > MOST_DOUBTS:
            return self.beyond(sets, inward)[0]
        all_of = [self.conditions(position, inward)[0] for position in self.alternatives(sets)]
        return {node: merge((one[node] for one in all_of), "unsure") for node in self.nodes}

    def estimate(self, elements, capping, condition, inward=False):
        """Widest path through these elements; `capping`: the limiting valves that hold their limit."""
        arcs = {}
        for e in elements:
            cap = self.limits[e.limiting] if e.limiting in capping else float("inf")
            for a, b in self.directions(e, inward):
                arcs.setdefault(a, []).append((b, cap))
        live = {n for n, word in condition.items() if word in LIVE}
        sources = {n: p for n, p in self.settings.items() if n in condition}
        return widest(arcs, sources, live)

    def merged_estimate(self, sets, condition, inward=False):
        capping = {v for v in self.limits if "wide" not in sets[v]}
        elements = [e for e in self.circuit.elements if e.may_conduct(sets)]
        best = self.estimate(elements, capping, condition, inward)
        best.update(self.estimate([e for e in elements if e.sure(sets)], capping, condition, inward))
        return best


# ---------------------------------------------------------------- settling

def seats_for(conditions_of, estimates):
    """Positions of the two seats of a shuttle, from its inlets."""
    shut, is_open, doubtful = {"shut"}, {"open"}, {"open", "shut"}
    a, b = ("dead" if word in DEAD else word for word in conditions_of)
    if a == b == "fed":
        low, high = min(estimates), max(estimates)
        if high - low > 0.1 * high:
            return [shut, is_open] if estimates[0] < estimates[1] else [is_open, shut]
        return [is_open, is_open]
    if a == b == "dead":
        return [is_open, is_open]
    if (a, b) == ("dead", "fed"):
        return [shut, is_open]
    if (a, b) == ("fed", "dead"):
        return [is_open, shut]
    if (a, b) in (("dead", "partial"), ("partial", "fed"), ("dead", "unsure")):
        return [doubtful, is_open]
    if (b, a) in (("dead", "partial"), ("partial", "fed"), ("dead", "unsure")):
        return [is_open, doubtful]
    return [doubtful, doubtful]


class Settling:
    """Rounds from a start to an end without change.

    sets      {key: positions that it may have}, frozensets
    healthy   {passage: condition} of the same state without faults, or None
    """

    def __init__(self, circuit, start, healthy):
        self.circuit, self.model, self.faults = circuit, circuit.model, circuit.faults
        self.network = Network(circuit)
        self.healthy = healthy
        self.spools = self.model.of_kind("spool")
        self.limitings = self.model.of_kind("limiting")
        self.pinned, self.race, self.hunting = {}, set(), set()
        self.sets = {}
        for v in self.spools:
            self.sets[v] = frozenset(start.get(v, {"rest"}))
        for v in self.limitings:
            self.sets[v] = frozenset({"limiting"})
        for seat in circuit.seats:
            self.sets[seat] = frozenset({"open"})
        for v in self.spools + self.limitings:
            if v in self.faults.stuck:
                self.sets[v] = frozenset({self.faults.stuck[v]})

    # -- one round

    def round(self, sets):
        """New positions of everything, judged from `sets`."""
        new = dict(sets)
        new.update(self.judge_shuttles(sets))
        with_seats = dict(sets)
        for seat in self.circuit.seats:
            with_seats[seat] = new[seat]
        condition = self.network.merged(with_seats)
        for v in self.limitings:
            new[v] = self.judge_limiting(v, with_seats)
        estimate = self.network.merged_estimate(with_seats, condition)
        for v in self.spools:
            new[v] = self.judge_spool(v, condition, estimate)
        return {key: frozenset(positions) for key, positions in new.items()}

    def judge_shuttles(self, sets):
        inward = {key: frozenset({"open"}) if isinstance(key, tuple) else value for key, value in sets.items()}
        condition = self.network.merged(inward, inward=True)
        estimate = self.network.merged_estimate(inward, condition, inward=True)
        new = {}
        for ball in self.circuit.shuttles:
            holes, pocket = self.model.balls[ball]
            inlets = [self.circuit.node[self.model.other_side(hole, pocket)] for hole in holes]
            seats = seats_for([condition[n] for n in inlets], [estimate.get(n, 0.0) for n in inlets])
            seats = [self.pinned.get((ball, hole), seat) for hole, seat in zip(holes, seats)]
            for i in (0, 1):
                if (ball, holes[i]) in self.pinned and seats[1 - i] == {"shut"}:
                    seats[i] = {"open"}
            for hole, seat in zip(holes, seats):
                new[(ball, hole)] = frozenset(seat)
        return new

    def judge_limiting(self, v, sets):
        if v in self.faults.stuck:
            return {self.faults.stuck[v]}
        if v in self.pinned:
            return self.pinned[v]
        opened = dict(sets)
        opened[v] = sets[v] - {"shut"} or frozenset({"limiting"})
        if len(doubts(sets)) > MOST_DOUBTS:
            condition, _ = self.network.beyond(opened if first(sets)[v] == "shut" else sets)
            own = lambda gone: self.network.beyond(opened, gone=gone, without=v)
            return self.judge_alternative(v, first(opened), condition, own)
        answers = set()
        for position in self.network.alternatives(opened):
            condition, _ = self.network.conditions(position)
            own = lambda gone, position=position: self.network.conditions(position, gone=gone, without=v)
            answers |= self.judge_alternative(v, position, condition, own)
        return answers

    def judge_alternative(self, v, position, condition, own):
        """Positions of limiting valve v in one alternative; own(gone): the network without v's window and those nodes."""
        valve, node = self.model.valves[v], self.circuit.node
        outlet, reaction = node[valve["outlet"]], node[valve["reaction"]]
        word = condition[reaction]
        if v in self.faults.broken:
            return {"shut"} if word in LIVE else {"wide"}
        if word in DEAD:
            return {"wide"}
        if word != "fed":
            return {"limiting", "wide"}
        if outlet == reaction:
            return {"limiting"}
        oils = self.model.circuit.get(valve["outlet"])
        gone = frozenset(node[p] for p in self.model.passages if self.model.circuit[p] == oils) - {reaction}
        condition_own, level_own = own(gone)
        if condition_own[reaction] in DEAD:
            return {"limiting"}
        elements = self.network.open_elements(position, without=v)
        capping = {w for w in self.limitings if position[w] == "limiting"}
        kept = [e for e in elements if e.a not in gone and e.b not in gone]
        estimate = self.network.estimate(kept, capping, condition_own).get(reaction, 0.0)
        route = self.strongest(outlet, reaction, elements, condition)
        if estimate <= self.network.limits[v] or level_own[reaction] < route:
            return {"limiting"}
        if level_own[reaction] == route or condition_own[reaction] != "fed":
            return {"limiting", "shut"}
        return {"shut"}

    def strongest(self, a, b, elements, condition):
        """Strength of the strongest route along the flow from node a to node b through live nodes and no root; 0: none."""
        enter = {n for n in self.network.nodes if condition[n] in LIVE and n not in self.circuit.roots} | {b}
        if condition[a] not in LIVE:
            return 0
        for strength in (c.MAIN, c.OPEN, c.ORIFICE, c.LEAK):
            ways = ways_of((p, q) for p, q, s in self.network.arcs(elements) if s >= strength)
            if b in spread({a}, ways, enter):
                return strength
        return 0

    def judge_spool(self, v, condition, estimate):
        if v in self.faults.stuck:
            return {self.faults.stuck[v]}
        if v in self.pinned:
            return self.pinned[v]
        valve, node = self.model.valves[v], self.circuit.node
        ends = valve.get("ends") or []
        if not ends and v not in self.faults.broken:
            return {"rest"}
        passages = [valve["ports"][end["port"]] for end in ends]
        if any(self.locked(p, condition[node[p]]) for p in passages):
            return {"rest", "stroked"}
        sized = "spring" in valve and all("area" in end for end in ends)
        low = high = 0.0
        for end, passage in zip(ends, passages):
            word = condition[node[passage]]
            push = 0.0
            if word in LIVE:
                push = self.model.area(end["area"]) * estimate.get(node[passage], 0.0) * 1e-6 if sized else 1.0
            least = push if word == "fed" else 0.0
            if end["pushes"] == "stroke":
                low, high = low + least, high + push
            else:
                low, high = low - push, high - least
        if v in self.faults.broken:
            return {"stroked"} if low > 0 else {"rest"} if high < 0 else {"rest", "stroked"}
        spring = 0.5
        if sized:
            rate = self.model.rate(valve["spring"].get("rate", "0"))
            travel = self.model.size(valve.get("travel", "0"))
            spring = self.model.force(valve["spring"].get("preload", "0")) + rate * travel / 2
        return {"stroked"} if low > spring else {"rest"} if high <= spring else {"rest", "stroked"}

    def locked(self, passage, now):
        return self.healthy is not None and self.healthy.get(passage) == "exhausted" and now == "trapped"

    # -- rounds until nothing changes

    def settle(self):
        """True: self.sets is the end. False: not settled."""
        n_shuttles = sum(len(holes) == 2 for holes, _ in self.model.balls.values())
        most = 8 * (len(self.model.valves) + 2 * n_shuttles) + 8
        history = [self.sets]
        for _ in range(most):
            new = self.round(self.sets)
            if new == self.sets:
                return True
            if new in history:
                self.sets = self.pin(history[history.index(new):])
                history = [self.sets]
            else:
                self.sets = new
                history.append(new)
        return False

    def pin(self, cycle):
        """Race or hunting; returns the set with which settling goes on."""
        kind = self.race if self.one_at_a_time(cycle[0]) else self.hunting
        start = dict(cycle[0])
        for key in start:
            union = frozenset().union(*(sets[key] for sets in cycle))
            if any(sets[key] != start[key] for sets in cycle):
                self.pinned[key] = union
                kind.add(key[0] if isinstance(key, tuple) else key)
        start.update({key: self.pinned[key] for key in self.pinned if any(s[key] != cycle[0][key] for s in cycle)})
        return start

    def one_at_a_time(self, sets):
        """True when moving one spool a round comes to an end without change."""
        for _ in range(4 * len(self.model.valves)):
            new = self.round(sets)
            if new == sets:
                return True
            movers = [v for v in self.spools if new[v] != sets[v]]
            for v in movers[1:]:
                new[v] = sets[v]
            sets = new
        return False


# ---------------------------------------------------------------- answers of a settled state

def reach(circuit, arcs, live):
    """{feed: nodes that it reaches} in one network without doubt. arcs: (from, to)."""
    feeds, node, ways = circuit.model.feeds, circuit.node, ways_of(arcs)
    derived = [f for f in feeds if "from" in feeds[f]]
    starts = [node[feeds[f]["from"]] for f in derived]
    reached = {}
    for f in circuit.sources:
        root = circuit.sources[f][0]
        enter = live - set(starts)
        reached[f] = {root} | spread({root}, ways, enter) if root in enter else set()
    for i, f in enumerate(derived):
        taken = set().union(*reached.values()) if reached else set()
        enter = live - taken - set(starts[i + 1:])
        inside = starts[i] in live and starts[i] not in taken
        reached[f] = {starts[i]} | spread({starts[i]}, ways, enter) if inside else set()
    return reached


def from_sources(circuit, arcs, live):
    return circuit.roots | spread(circuit.roots, ways_of(arcs), live)


def actuator(entry, node, condition, locked):
    apply = condition[node[entry["apply"]]]
    release = condition[node[entry["release"]]] if "release" in entry else "exhausted"
    if locked(entry["apply"], apply):
        return "unsure"
    if apply in DEAD or release == "fed":
        return "released"
    return "applied" if apply == "fed" and release in DEAD else "unsure"


def gear_of(model, applied):
    if any(a in applied and b in applied for a, b in model.clash):
        return "tie-up"
    named = set().union(*(on | either for on, either in model.gears.values())) if model.gears else set()
    for gear, (on, either) in model.gears.items():
        if (applied & named) - either == on - either:
            return gear
    return "none"


def gears_possible(model, devices):
    """All gears that the devices, applied, released or unsure, allow."""
    applied = {d for d, word in devices.items() if word == "applied"}
    if any(a in applied and b in applied for a, b in model.clash):
        return {"tie-up"}
    named = set(itertools.chain(*model.clash, *(on | either for on, either in model.gears.values())))
    unsure = [d for d, word in devices.items() if word == "unsure" and d in named]
    found = set()
    for chosen in itertools.product((False, True), repeat=len(unsure)):
        found.add(gear_of(model, applied | {d for d, on in zip(unsure, chosen) if on}))
    return found


def live_of(condition):
    return {n for n, word in condition.items() if word in LIVE}


def answer(settling):
    """The answer of a settled state."""
    circuit, model, network, sets = settling.circuit, settling.model, settling.network, settling.sets
    limitings = settling.limitings
    result = {"conditions": [], "reach": [], "past": [], "devices": [], "gears": []}

    def pairs(elements):
        return [(a, b) for a, b, _ in network.arcs(elements)]

    def devices_of(condition):
        return {d: actuator(entry, circuit.node, condition, settling.locked) for d, entry in model.actuators.items()}

    if len(doubts(sets)) <= MOST_DOUBTS:
        for position in network.alternatives(sets):
            condition, _ = network.conditions(position)
            live = live_of(condition)
            elements = network.open_elements(position)
            result["conditions"].append(condition)
            result["reach"].append(reach(circuit, pairs(elements), live))
            past = {}
            for v in limitings:
                kept = elements if position[v] == "wide" else [e for e in elements if e.limiting != v]
                past[v] = from_sources(circuit, pairs(kept), live)
            result["past"].append(past)
            result["devices"].append(devices_of(condition))
            result["gears"].append(gears_possible(model, result["devices"][-1]))
        sure = lambda which, name, n: all(n in one.get(name, ()) for one in result[which])
        may = lambda which, name, n: any(n in one.get(name, ()) for one in result[which])
    else:
        condition, _ = network.beyond(sets)
        result["conditions"] = [condition]
        result["devices"] = [devices_of(condition)]
        result["gears"] = [gears_possible(model, result["devices"][0])]
        for surely in (True, False):              # first through what is sure, then through all
            live = {n for n in live_of(condition) if not (surely and condition[n] == "unsure")}
            elements = [e for e in circuit.elements if (e.sure(sets) if surely else e.may_conduct(sets))]
            result["reach"].append(reach(circuit, pairs(elements), live))
            past = {}
            for v in limitings:
                wide = sets[v] == {"wide"} if surely else "wide" in sets[v]
                past[v] = from_sources(circuit, pairs([e for e in elements if wide or e.limiting != v]), live)
            result["past"].append(past)
        sure = lambda which, name, n: n in result[which][0].get(name, ())
        may = lambda which, name, n: n in result[which][1].get(name, ())

    passages = {}
    for p in model.passages:
        n = circuit.node[p]
        feeds = {f: "sure" if sure("reach", f, n) else "may" for f in model.feeds if sure("reach", f, n) or may("reach", f, n)}
        past = {v: True if sure("past", v, n) else "may" if may("past", v, n) else False for v in limitings}
        passages[p] = {"condition": merge((one[n] for one in result["conditions"]), "unsure"), "feeds": feeds, "past": past}
    valves = {}
    for v, valve in model.valves.items():
        if v in sets:
            valves[v] = {"structure": merge(sets[v], "undetermined")}
        elif valve["kind"] == "manual":
            valves[v] = {"structure": circuit.detents[v]}
    actuators = {d: {"structure": merge((one[d] for one in result["devices"]), "unsure")} for d in model.actuators}
    gear = {"commanded": circuit.settings["gear"]} if "gear" in circuit.settings else {}
    possible = set().union(*result["gears"])
    gear["structure"] = merge(possible, "unsure")
    if len(possible) > 1:
        gear["possible"] = [g for g in list(model.gears) + ["none", "tie-up"] if g in possible]
    order = list(model.valves) + list(model.balls)
    return {"settled": True, "gear": gear, "passages": passages, "valves": valves, "actuators": actuators,
            "race": [name for name in order if name in settling.race],
            "hunting": [name for name in order if name in settling.hunting]}


# ---------------------------------------------------------------- states

def run(model, faults, wanted, healthy):
    """{state: answer} of the wanted states and those that they come after."""
    answers, positions = {}, {}               # positions: None where not settled

    def chain(state):
        states = []
        while state is not None and state not in positions:
            states.append(state)
            state = model.states[state].get("after")
        return reversed(states)

    for want in wanted:
        for state in chain(want):
            after = model.states[state].get("after")
            start = positions[after] if after is not None else {}
            settling = None
            if start is not None:
                known = healthy.get(state) if healthy is not None else None
                known = {p: one["condition"] for p, one in known["passages"].items()} if known and known["settled"] else None
                settling = Settling(c.Circuit(model, faults, state), start, known)
            if settling is not None and settling.settle():
                positions[state] = {v: settling.sets[v] for v in settling.spools}
                answers[state] = answer(settling)
            else:
                positions[state] = None
                settings = model.states[state]
                answers[state] = {"settled": False, "gear": {"commanded": settings["gear"]} if "gear" in settings else {}}
    return answers


def evaluate(model_dict, fault_text=None, states=None):
    """The `states` of a trace by structure; see the head of this file.

    model_dict   the YAML with every scalar as text (circuit.load)
    fault_text   fault words joined by ` + `, or None
    states       IDs, or None for all
    """
    model = c.Model(model_dict)
    wanted = list(states) if states else list(model.states)
    answers = run(model, c.Faults(model, None), wanted, None)
    if fault_text:
        answers = run(model, c.Faults(model, fault_text), wanted, answers)
    return {"states": {state: answers[state] for state in wanted}}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("model")
    parser.add_argument("state", nargs="*")
    parser.add_argument("--fault")
    options = parser.parse_args()
    json.dump(evaluate(c.load(options.model), options.fault, options.state), sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main()
