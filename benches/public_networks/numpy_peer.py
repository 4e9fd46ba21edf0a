"""The questions of the bench by variable elimination in numpy, a whole batch of parameters or evidence sets at a time.

What a careful user of numpy would write: the tables that can matter, cut at what is observed, summed out along one fixed
order; the batch is the last axis of every array, so that each operation runs along it. One thread.
"""

import math

import numpy as np

from pyagrum_peer import EQUIVALENT_SAMPLE_SIZE, ancestors, close, mean_over, seconds

BATCHES = [64, 256, 1024]  # the fastest is taken


def multiply(factors, sizes):
    """(scope, values) of the product; values have the axes of scope, then the batch."""
    scope = list(dict.fromkeys(v for s, _ in factors for v in s))
    product = None
    for s, values in sorted(factors, key=lambda factor: factor[1].size):
        kept = [v for v in scope if v in s]
        shape = [sizes[v] if v in s else 1 for v in scope] + [values.shape[-1]]
        values = values.transpose([s.index(v) for v in kept] + [len(s)]).reshape(shape)
        product = values if product is None else product * values
    return scope, product


def eliminate(factors, order, sizes):
    """What is left once `order` is summed out, normalised: an array of states and batch."""
    factors = list(factors)
    for v in order:
        scope, values = multiply([f for f in factors if v in f[0]], sizes)
        place = scope.index(v)
        summed = [u for u in scope if u != v], values.sum(axis=place)
        factors = [f for f in factors if v not in f[0]] + [summed]
    _, values = multiply(factors, sizes)
    return values / values.sum(axis=0)


def elimination_order(scopes, asked, sizes):
    """Least table first."""
    scopes, order = [set(s) for s in scopes], []
    while any(s - {asked} for s in scopes):
        def cells(v):
            return math.prod(sizes[u] for u in set().union(*(s for s in scopes if v in s))), v
        v = min(set().union(*scopes) - {asked}, key=cells)
        joint = set().union(*(s for s in scopes if v in s))
        scopes = [s for s in scopes if v not in s] + [joint - {v}]
        order.append(v)
    return order


def cut(scope, table, given):
    """A table at what is observed."""
    return [v for v in scope if v not in given], table[tuple(given.get(v, slice(None)) for v in scope)]


class Question:
    """The tables that can matter: cut at observed parents, their own states last."""

    def __init__(self, states, tables, question):
        self.asked, self.given = question["asked"], dict(zip(question["variables"], question["states"]))
        self.sizes = {v: len(words) for v, words in states.items()}
        needed = ancestors(tables, [self.asked, *self.given])
        self.columns = {}
        for v in states:
            if v in needed:
                parents, table = tables[v]
                self.columns[v] = cut(parents + [v], table, {u: s for u, s in self.given.items() if u != v})
        scopes = [[u for u in scope if u not in self.given] for scope, _ in self.columns.values()]
        self.order = elimination_order(scopes, self.asked, self.sizes)

    def draw(self, rng, n):
        """`n` draws of every column; of an observed variable, the one entry that matters."""
        factors = []
        for v, (scope, table) in self.columns.items():
            if v in self.given:
                p = table[..., self.given[v], None]
                inside = (p > 0) & (p < 1)
                a = np.where(inside, EQUIVALENT_SAMPLE_SIZE * p, 1.0)
                b = np.where(inside, EQUIVALENT_SAMPLE_SIZE * (1 - p), 1.0)
                drawn = rng.beta(a, b, size=p.shape[:-1] + (n,))
                factors.append((scope[:-1], np.where(inside, drawn, p)))
            else:
                drawn = rng.standard_gamma(EQUIVALENT_SAMPLE_SIZE * table[..., None], size=table.shape + (n,))
                factors.append((scope, drawn / drawn.sum(axis=-2, keepdims=True)))
        return factors

    def stated(self):
        cuts = (cut(scope, table, self.given) for scope, table in self.columns.values())
        return [(scope, table[..., None]) for scope, table in cuts]

    def ask(self, factors):
        return eliminate(factors, self.order, self.sizes)


def under_parameters(states, tables, asked, is_drawn):
    def of(question):
        mine = Question(states, tables, question)
        close(mine.ask(mine.stated())[:, 0], question["posterior"])
        taken = {}
        for n in BATCHES:
            rng = np.random.default_rng(4)
            factors = mine.draw(rng, n)
            work = (lambda: mine.ask(mine.draw(rng, n))) if is_drawn else (lambda: mine.ask(factors))
            taken[n] = seconds(work, budget=0.3) / n
        n = min(taken, key=taken.get)
        return taken[n], f"batches of {n}"

    return mean_over(asked["questions"], of)


def posterior_parameters_given(states, tables, _network, asked):
    return under_parameters(states, tables, asked, is_drawn=False)


def posterior_parameters_drawn(states, tables, _network, asked):
    return under_parameters(states, tables, asked, is_drawn=True)


def posterior_subsets(states, tables, _network, asked):
    """What is observed, or not, in each subset of the observations is a batch of 0 and 1."""
    sizes = {v: len(words) for v, words in states.items()}

    def of(question):
        given = dict(zip(question["variables"], question["states"]))
        needed = ancestors(tables, [question["asked"], *given])
        fixed = [(tables[v][0] + [v], tables[v][1][..., None]) for v in states if v in needed]
        order = elimination_order([scope for scope, _ in fixed], question["asked"], sizes)
        masks = np.arange(1 << len(given))

        def ask(masks):
            seen = []
            for place, (v, state) in enumerate(given.items()):
                allowed = np.ones((sizes[v], len(masks)))
                allowed[np.arange(sizes[v]) != state] = 1.0 - (masks >> place & 1)
                seen.append(([v], allowed))
            return eliminate(fixed + seen, order, sizes)

        close(ask(masks[-1:])[:, 0], question["posterior"])
        taken = {n: seconds(lambda: ask(masks[:n]), budget=0.2) / n for n in BATCHES}
        n = min(taken, key=taken.get)

        def work():
            for begin in range(0, len(masks), n):
                ask(masks[begin : begin + n])

        return seconds(work, at_least=1, budget=0.5) / len(masks), f"batches of {n}"

    return mean_over(asked["questions"], of)
