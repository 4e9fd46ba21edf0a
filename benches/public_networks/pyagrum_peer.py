"""The rows of the bench as pyagrum answers them: seconds for one answer, on one thread.

Each row tries pyagrum's ways of doing it (engine kept or new, lazy propagation or variable elimination, which tensors it
takes for relevant) and times the fastest of those whose answers are right. Only what is asked for is a target. Tables
are handed over as flat lists, the quickest way in; turning draws into lists counts, making the lists of given parameters
does not.
"""

import math
import statistics
import time

import numpy as np
import pyagrum as gum

TOLERANCE = 1e-9
FINDERS = [1, 3, 2, 0]  # BAYESBALL by nodes, KOLLER_FRIEDMAN, BAYESBALL by tensors, FIND_ALL
LONG, PATIENCE = 2.0, 20.0  # seconds
EQUIVALENT_SAMPLE_SIZE = 20
SETS = 8  # of parameters, taken in turn
BATCH = 64  # draws that numpy makes at a time

gum.setNumberOfThreads(1)


def seconds(work, at_least=3, budget=1.0):
    """Median time of `work` over `budget` seconds of runs, warmed up once; a single run if that takes LONG."""
    times = []
    while len(times) <= at_least or sum(times) < budget:
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
        if len(times) == 1 and times[0] > LONG:
            return times[0]
    return statistics.median(times[1:])


def fastest(ways):
    """The way that takes least; `ways` are (name, work), of which work raises AssertionError on a wrong answer.

    The first run, in which some engines are made ready, does not count unless it takes LONG. Further ways are not tried
    once they have taken PATIENCE seconds together.
    """
    timed, spent = {}, 0.0
    for name, work in ways:
        if timed and spent > PATIENCE:
            break
        try:
            taken = LONG
            for _ in range(2):
                begin = time.perf_counter()
                work()
                taken = time.perf_counter() - begin
                spent += taken
                if taken > LONG:
                    break
            timed[name] = taken, work
        except (AssertionError, gum.GumException):
            continue
    name = min(timed, key=lambda name: timed[name][0])
    return name, timed[name][1]


def close(found, expected):
    assert np.abs(np.asarray(found) - np.asarray(expected)).max() <= TOLERANCE, (found, expected)


def engine(kind, network, finder):
    made = kind(network)
    made.setNumberOfThreads(1)
    made.setRelevantTensorsFinderType(finder)
    return made


class Tables:
    """The tables that can matter for a question, as pyagrum takes them: flat, own states fastest."""

    def __init__(self, states, tables, network, needed):
        self.cpts, stated, self.row_lengths, self.ends = [], [], [], []
        for name in states:
            if name not in needed:
                continue
            parents, table = tables[name]
            scope = parents + [name]
            cpt = network.cpt(name)
            stated.append(table.transpose([scope.index(v) for v in cpt.names]).ravel(order="F"))
            self.cpts.append(cpt)
            self.row_lengths += [len(states[name])] * (table.size // len(states[name]))
            self.ends.append(table.size)
        self.stated = np.concatenate(stated)
        self.ends = np.cumsum(self.ends).tolist()

    def fill(self, flat):
        begin = 0
        for cpt, end in zip(self.cpts, self.ends):
            cpt.fillWith(flat[begin:end])
            begin = end

    def draw(self, rng, n):
        """`n` sets of parameters, each row a Dirichlet around the stated one."""
        gammas = rng.standard_gamma(EQUIVALENT_SAMPLE_SIZE * self.stated, size=(n, len(self.stated)))
        starts = np.concatenate([[0], np.cumsum(self.row_lengths)[:-1]])
        totals = np.add.reduceat(gammas, starts, axis=1)
        return gammas / np.repeat(totals, self.row_lengths, axis=1)


def ancestors(tables, names):
    needed, stack = set(), list(names)
    while stack:
        name = stack.pop()
        if name not in needed:
            needed.add(name)
            stack += tables[name][0]
    return needed


def one_question(states, tables, network, question):
    """(its tables, fastest way to set parameters and ask)."""
    asked, given = question["asked"], dict(zip(question["variables"], question["states"]))
    mine = Tables(states, tables, network, ancestors(tables, [asked, *given]))

    def ask(made):
        made.setEvidence(given)
        made.makeInference()
        return made.posterior(asked)

    def fresh(kind, finder):
        made = engine(kind, network, finder)
        made.addTarget(asked)
        return ask(made)

    def way(kind, finder, is_kept):
        if not is_kept:
            return lambda: fresh(kind, finder)
        kept = engine(kind, network, finder)
        kept.addTarget(asked)

        def again():
            kept.eraseAllEvidence()  # or it would not see new parameters
            return ask(kept)

        return again

    checks = [mine.stated.tolist(), *(row.tolist() for row in mine.draw(np.random.default_rng(1), 2))]
    expected = []
    for parameters in checks:
        mine.fill(parameters)
        expected.append(fresh(gum.LazyPropagation, 0).toarray())
    close(expected[0], question["posterior"])

    def checked(ask):
        def work():
            for parameters, right in zip(checks, expected):
                mine.fill(parameters)
                close(ask().toarray(), right)

        return work

    ways = {
        f"{kind.__name__}, {'kept' if is_kept else 'new'}, {finder}": way(kind, finder, is_kept)
        for kind in (gum.LazyPropagation, gum.VariableElimination)
        for finder in FINDERS
        for is_kept in (False, True)
    }
    name, _ = fastest((name, checked(ask)) for name, ask in ways.items())
    mine.fill(checks[0])
    return mine, name, ways[name]


def posterior_parameters_given(states, tables, network, asked):
    def of(question):
        mine, name, ask = one_question(states, tables, network, question)
        lists = [row.tolist() for row in mine.draw(np.random.default_rng(2), SETS)]

        def work():
            for flat in lists:
                mine.fill(flat)
                ask()

        taken = seconds(work, budget=0.5) / SETS
        mine.fill(mine.stated.tolist())
        return taken, name

    return mean_over(asked["questions"], of)


def posterior_parameters_drawn(states, tables, network, asked):
    def of(question):
        mine, name, ask = one_question(states, tables, network, question)
        rng = np.random.default_rng(3)

        def work():
            for row in mine.draw(rng, BATCH):
                mine.fill(row.tolist())
                ask()

        taken = seconds(work, budget=0.5) / BATCH
        mine.fill(mine.stated.tolist())
        return taken, name

    return mean_over(asked["questions"], of)


def mean_over(questions, of):
    taken, names = zip(*(of(question) for question in questions))
    return statistics.mean(taken), statistics.mode(names)


def posterior_subsets(_states, _tables, network, asked):
    """All subsets of the observations, each one finding away from the last (Gray's order)."""

    def of(question):
        given = list(zip(question["variables"], question["states"]))

        def way(kind, finder):
            kept = engine(kind, network, finder)
            kept.addTarget(question["asked"])

            def work(n):
                kept.eraseAllEvidence()
                seen = set()
                for k in range(n):
                    if k:
                        place = (k & -k).bit_length() - 1
                        if place in seen:
                            kept.eraseEvidence(given[place][0])
                        else:
                            kept.addEvidence(*given[place])
                        seen ^= {place}
                    kept.makeInference()
                    kept.posterior(question["asked"])

            def checked():
                work(64)
                kept.setEvidence(dict(given))
                kept.makeInference()
                close(kept.posterior(question["asked"]).toarray(), question["posterior"])

            return work, checked

        ways = {
            f"{kind.__name__}, kept, {finder}": way(kind, finder)
            for kind in (gum.LazyPropagation, gum.VariableElimination)
            for finder in FINDERS
        }
        name, _ = fastest((name, checked) for name, (_, checked) in ways.items())
        n = 1 << len(given)
        return seconds(lambda: ways[name][0](n), at_least=1, budget=0.0) / n, name

    return mean_over(asked["questions"], of)


def marginals(network, sets, are_same_variables):
    """Ways to all marginals, {name: work}: `sets` are (evidence, ln P(evidence)), entered one after the other.

    `work` returns its seconds, the check left out.
    """
    nodes = list(network.nodes())

    def way(finder, is_changed):
        kept = engine(gum.LazyPropagation, network, finder)
        kept.setEvidence(sets[0][0])

        def work(check=False):
            taken = 0.0
            for given, log_evidence in sets:
                begin = time.perf_counter()
                if is_changed:
                    for name, state in given.items():
                        kept.chgEvidence(name, state)
                else:
                    kept.setEvidence(given)
                kept.makeInference()
                for node in nodes:
                    kept.posterior(node)
                taken += time.perf_counter() - begin
                if check:
                    close(math.log(kept.evidenceProbability()), log_evidence)
            return taken

        return work

    changes = (False, True) if are_same_variables else (False,)
    return {
        f"LazyPropagation, {'evidence changed' if c else 'evidence set'}, {f}": way(f, c) for f in FINDERS for c in changes
    }


def marginals_new_states(_states, _tables, network, asked):
    """One figure for each choice of variables; of a choice that takes LONG, its first states only."""
    taken, name = [], None
    for choice in asked["observed"]:
        sets = evidence_sets(choice)
        if len(sets) == 1:
            continue
        ways = marginals(network, sets, True)
        if name is None:
            name, _ = fastest((name, lambda work=work: work(check=True)) for name, work in ways.items())
        first = marginals(network, sets[:1], True)[name](check=True)
        if first < LONG:
            ways[name](check=True)
            taken.append(seconds(ways[name], at_least=2, budget=0.3) / len(sets))
        else:
            taken.append(first)
    return taken, name


def marginals_new_variables(_states, _tables, network, asked):
    """Mean over the choices of variables."""
    sets = [evidence_sets(choice)[0] for choice in asked["observed"]]
    few = marginals(network, sets[:2], False)
    name, _ = fastest((name, lambda work=work: work(check=True)) for name, work in few.items())
    work = marginals(network, sets, False)[name]
    first = work(check=True)
    taken = first if first > LONG else statistics.median(work() for _ in range(3))
    return taken / len(sets), name


def evidence_sets(choice):
    rows = zip(choice["states"], choice["log_evidence"])
    return [(dict(zip(choice["variables"], states)), log_evidence) for states, log_evidence in rows]


def marginals_prior(_states, _tables, network, asked):
    """Without evidence pyagrum has nothing to do twice, so the engine is new each time."""
    nodes = list(network.nodes())

    def way(finder):
        def work():
            made = engine(gum.LazyPropagation, network, finder)
            made.makeInference()
            for node in nodes:
                made.posterior(node)
            for name, expected in asked["priors"].items():
                close(made.posterior(name).toarray(), expected)

        return work

    name, work = fastest((f"LazyPropagation, new, {finder}", way(finder)) for finder in FINDERS)
    return seconds(work, at_least=2, budget=0.5), name


def compile(states, tables, _network, _asked):
    """From tables to a junction tree."""
    labels = list(states.items())
    arcs = [(parent, child) for child, (parents, _) in tables.items() for parent in parents]

    def build(with_tables):
        network = gum.BayesNet()
        for name, words in labels:
            network.add(gum.LabelizedVariable(name, name, words))
        for parent, child in arcs:
            network.addArc(parent, child)
        for name, flat in with_tables:
            network.cpt(name).fillWith(flat)
        return network

    bare = build([])
    flat = [(name, Tables(states, tables, bare, {name}).stated.tolist()) for name in states]

    def work():
        made = engine(gum.LazyPropagation, build(flat), 1)
        made.junctionTree()

    return seconds(work), "LazyPropagation, junction tree"
