"""Chooses what the bench of the public networks and its peer both ask, and writes it to `evidence.json`.

    SAGGAR_NETWORKS=folder venv/bin/python benches/public_networks/choose.py

Everything observed is part of a joint state drawn from the network, so it is possible; which variables are observed is
drawn evenly. `questions`: one variable asked for and 12 others observed. `observed`: a fifth of the variables, the first
KEPT of these choices with several states of the same variables. Values to check against are pyagrum's: P(states) of the
variable asked for, ln P(evidence), and without evidence the distributions of PRIOR_NODES variables.
"""

import json
import math
import sys

import numpy as np
import pyagrum as gum

from networks import EVIDENCE, draw, network_file, pyagrum_network, read

N_OBSERVED = 12
N_QUESTIONS = 5
N_CHOICES = 20  # of a fifth of the variables: more than an engine is likely to keep plans for
KEPT = 5  # of them with N_STATES joint states
N_STATES = 4
PRIOR_NODES = 8
QUESTIONS = ["alarm", "hailfinder"]
MARGINALS = ["alarm", "hailfinder", "hepar2", "pathfinder", "andes", "pigs", "munin1", "link", "munin"]
PRIORS = ["munin1", "water", "mildew", "munin"]


def question(states, tables, network, rng):
    names = list(states)
    asked, *observed = rng.choice(names, size=N_OBSERVED + 1, replace=False).tolist()
    drawn = draw(states, tables, rng)
    given = {name: drawn[name] for name in sorted(observed, key=names.index)}
    inference = gum.LazyPropagation(network)
    inference.addTarget(asked)
    inference.setEvidence(given)
    inference.makeInference()
    posterior = [float(x) for x in inference.posterior(asked).toarray()]
    return {"asked": asked, "variables": list(given), "states": list(given.values()), "posterior": posterior}


def choice(states, tables, network, rng, n_states):
    names = list(states)
    places = sorted(rng.choice(len(names), size=round(len(names) / 5), replace=False).tolist())
    variables = [names[i] for i in places]
    inference = gum.LazyPropagation(network)
    rows, logs = [], []
    for _ in range(n_states):
        drawn = draw(states, tables, rng)
        rows.append([drawn[v] for v in variables])
        inference.setEvidence(dict(zip(variables, rows[-1], strict=True)))
        logs.append(math.log(inference.evidenceProbability()))
    return {"variables": variables, "states": rows, "log_evidence": logs}


def priors(states, network, rng):
    inference = gum.LazyPropagation(network)
    inference.makeInference()
    chosen = rng.choice(list(states), size=min(PRIOR_NODES, len(states)), replace=False).tolist()
    return {name: [float(x) for x in inference.posterior(name).toarray()] for name in chosen}


def main():
    networks = {}
    for name in dict.fromkeys(QUESTIONS + MARGINALS + PRIORS):
        file = network_file(name)
        if file is None:
            sys.exit(f"{name}.bif is neither in the repository nor in the folder that SAGGAR_NETWORKS names")
        states, tables = read(file)
        network = pyagrum_network(states, tables)
        rng = np.random.default_rng(sum(name.encode()))
        entry = networks[name] = {}
        if name in QUESTIONS:
            entry["questions"] = [question(states, tables, network, rng) for _ in range(N_QUESTIONS)]
        if name in MARGINALS:
            entry["observed"] = [
                choice(states, tables, network, rng, N_STATES if k < KEPT else 1) for k in range(N_CHOICES)
            ]
        if name in PRIORS:
            entry["priors"] = priors(states, network, rng)
        print(name, len(states), "variables", flush=True)
    document = {"made_by": f"choose.py, pyagrum {gum.__version__}, numpy {np.__version__}", "networks": networks}
    # One question or choice a line.
    text = json.dumps(document, separators=(",", ":"))
    for key in ("asked", "variables", "observed", "priors", "questions"):
        text = text.replace(f'{{"{key}"', f'\n{{"{key}"')
    EVIDENCE.write_text(text + "\n")


if __name__ == "__main__":
    main()
