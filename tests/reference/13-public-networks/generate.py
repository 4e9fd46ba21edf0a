"""Posteriors of standard public networks, by two programs that share no code with this one.

    python -m venv venv && venv/bin/pip install numpy==2.4.6 pyagrum==3.3.1
    venv/bin/python generate.py ../../../shared/networks/public

For each network five evidence sets: a joint state is drawn from the network, a fifth of the nodes is observed in it (so the
set is possible); in the last two sets a third of these are replaced by likelihoods. pyagrum's lazy propagation gives the
values that are kept. A second way, variable elimination in numpy's extended precision (64-bit mantissa), checks ln P(e) and
the posteriors of a sample of nodes before anything is written.

The files are read by the few lines below and not by pyagrum, whose reader keeps 0.98 only to single precision. Each row is
divided by its sum where the sum is not within 1e-12 of 1, as the engine does it: with the six rows of sachs that are off by
1e-10 to 1e-9 left alone, ln P(e) would change by 2e-10 with the barren nodes that a program leaves out.
"""

import json
import math
import re
import sys
from pathlib import Path

import numpy as np
import pyagrum as gum

NETWORKS = [
    "asia", "cancer", "earthquake", "survey", "sachs", "child", "insurance", "alarm", "hailfinder", "hepar2", "win95pts",
    "water", "andes", "pigs",
]
N_SETS = 5
MOST_NODES = 40  # whose posteriors are kept for each set
N_CHECKED = 4  # of them, also computed the second way
TOLERANCE = 1e-11


def read(path):
    """Variables {name: states} and tables {name: (parents, array: parents first, own states last)}."""
    text = path.read_text()
    states, tables = {}, {}
    for name, body in re.findall(r"variable (\S+) \{\n  type discrete \[ \d+ \] \{ (.*) \};\n\}", text):
        states[name] = body.split(", ")
    for head, body in re.findall(r"probability \( (.*) \) \{\n((?:  .*\n)*)\}", text):
        child, _, given = head.partition(" | ")
        parents = given.split(", ") if given else []
        table = np.full([len(states[v]) for v in parents + [child]], np.nan)
        for line in body.splitlines():
            row = re.fullmatch(r"  (?:table|\((.*)\)) (.*);", line)
            where = row[1].split(", ") if row[1] else []
            index = tuple(states[p].index(s) for p, s in zip(parents, where, strict=True))
            numbers = np.array([float(x) for x in row[2].split(", ")])
            total = sum(numbers.tolist())
            table[index] = numbers if abs(total - 1) <= 1e-12 else numbers / total
        assert not np.isnan(table).any(), child
        tables[child] = (parents, table)
    assert states.keys() == tables.keys()
    return states, tables


def pyagrum_network(states, tables):
    network = gum.BayesNet()
    for name, labels in states.items():
        network.add(gum.LabelizedVariable(name, name, labels))
    for child, (parents, table) in tables.items():
        for parent in parents:
            network.addArc(parent, child)
        cpt = network.cpt(child)
        # Instantiations by label, whatever the order of pyagrum's axes.
        for index in np.ndindex(table.shape[:-1]):
            cpt[{p: int(i) for p, i in zip(parents, index)}] = table[index].tolist()
    return network


def draw(states, tables, rng):
    """One joint state."""
    drawn = {}
    while len(drawn) < len(states):
        for child, (parents, table) in tables.items():
            if child not in drawn and all(p in drawn for p in parents):
                p = table[tuple(drawn[q] for q in parents)]
                drawn[child] = int(rng.choice(len(p), p=p / p.sum()))
    return drawn


def evidence_set(states, tables, rng, with_likelihoods):
    """Names and hard states, or likelihoods, of a fifth of the nodes."""
    drawn = draw(states, tables, rng)
    names = list(states)
    chosen = sorted(rng.choice(len(names), size=max(1, round(len(names) / 5)), replace=False).tolist())
    hard, soft = {}, {}
    for place, v in enumerate(chosen):
        name = names[v]
        if with_likelihoods and place % 3 == 0:
            likelihoods = rng.uniform(0.05, 1.0, size=len(states[name])).round(3)
            soft[name] = likelihoods.tolist()
        else:
            hard[name] = states[name][drawn[name]]
    return hard, soft


def eliminate(states, tables, hard, soft, query):
    """(ln P(e), posterior of `query`) by variable elimination with numpy.longdouble and scaling; ln P(e) alone if none."""
    needed, stack = set(), [*hard, *soft, *([query] if query else [])]
    while stack:
        v = stack.pop()
        if v not in needed:
            needed.add(v)
            stack += tables[v][0]
    factors = []
    for child in states:
        if child not in needed:
            continue
        parents, table = tables[child]
        scope, values = parents + [child], table.astype(np.longdouble)
        for v in list(scope):
            if v in hard:
                values = values.take(states[v].index(hard[v]), axis=scope.index(v))
                scope = [u for u in scope if u != v]
        if child in soft:
            values = values * np.array(soft[child], dtype=np.longdouble)
        factors.append((scope, values))
    log_scale = np.longdouble(0)
    open_variables = {v for scope, _ in factors for v in scope} - {query}
    while open_variables:
        def cells(v):
            joint = {u for scope, _ in factors if v in scope for u in scope}
            return math.prod(len(states[u]) for u in joint), v
        v = min(open_variables, key=cells)
        bucket = [f for f in factors if v in f[0]]
        factors = [f for f in factors if v not in f[0]]
        scope, values = multiply(bucket)
        values = values.sum(axis=scope.index(v))
        scope = [u for u in scope if u != v]
        top = values.max()
        log_scale += np.log(top)
        factors.append((scope, values / top))
        open_variables.remove(v)
    scope, values = multiply(factors)
    total = values.sum()
    return float(log_scale + np.log(total)), (values / total).astype(float).tolist() if query else None


def multiply(factors):
    scope = []
    for s, _ in factors:
        scope += [v for v in s if v not in scope]
    product = np.longdouble(1)
    for s, values in factors:
        order = [s.index(v) for v in scope if v in s]
        shape = [values.shape[s.index(v)] if v in s else 1 for v in scope]
        product = product * values.transpose(order).reshape(shape)
    return scope, np.asarray(product)


def main(folder):
    networks, worst = {}, (0.0, 0.0)
    for name in NETWORKS:
        states, tables = read(folder / f"{name}.bif")
        network = pyagrum_network(states, tables)
        rng = np.random.default_rng(sum(name.encode()))
        sets, off_ln, off_p = [], 0.0, 0.0
        for k in range(N_SETS):
            hard, soft = evidence_set(states, tables, rng, with_likelihoods=k >= N_SETS - 2)
            inference = gum.LazyPropagation(network)
            inference.setEvidence({**hard, **soft})
            inference.makeInference()
            ln_p = math.log(inference.evidenceProbability())
            kept = list(states)
            if len(kept) > MOST_NODES:
                kept = [kept[i] for i in sorted(rng.choice(len(kept), size=MOST_NODES, replace=False).tolist())]
            posteriors = {v: [float(x) for x in inference.posterior(v).toarray()] for v in kept}

            exact_ln_p, _ = eliminate(states, tables, hard, soft, None)
            off_ln = max(off_ln, abs(ln_p - exact_ln_p))
            free = [v for v in kept if v not in hard]
            for v in rng.choice(free, size=min(N_CHECKED, len(free)), replace=False).tolist():
                _, exact = eliminate(states, tables, hard, soft, v)
                off_p = max(off_p, *(abs(a - b) for a, b in zip(posteriors[v], exact, strict=True)))
            sets.append({"hard": hard, "likelihoods": soft, "log_evidence": ln_p, "posteriors": posteriors})
        print(f"{name}: {len(states)} nodes, ways differ by {off_ln:.1e} in ln P(e), {off_p:.1e} in posteriors", flush=True)
        assert off_ln <= TOLERANCE and off_p <= TOLERANCE, name
        worst = max(worst[0], off_ln), max(worst[1], off_p)
        networks[name] = sets
    document = {
        "made_by": f"generate.py, pyagrum {gum.__version__}, numpy {np.__version__}",
        "largest_difference_between_the_two_ways": {"log_evidence": worst[0], "posterior": worst[1]},
        "networks": networks,
    }
    # One evidence set a line.
    text = json.dumps(document, separators=(",", ":")).replace('{"hard"', '\n{"hard"').replace('],"', '],\n"')
    text = re.sub(r'\],\n"(?![a-z0-9]+":\[\n)', '],"', text)
    Path(__file__).with_name("posteriors.json").write_text(text + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
