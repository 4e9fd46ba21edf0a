"""The bench of the public networks beside pyagrum, and beside numpy where a batch can be asked at once: a Markdown table.

    python -m venv venv && venv/bin/pip install -r benches/public_networks/requirements.txt
    SAGGAR_NETWORKS=folder venv/bin/python benches/peer.py [--no-bench] [--rows GROUP ...]

Runs `cargo bench --bench public_networks` first; with --no-bench the figures of the last run are taken. Both answer
what `public_networks/evidence.json` asks, and both are checked against the values in it: the bench to 1e-10, the peer to
1e-9. One thread each, the same machine, one after the other.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "benches/public_networks"))

import numpy_peer  # noqa: E402
import pyagrum_peer  # noqa: E402
from networks import EVIDENCE, network_file, pyagrum_network, read  # noqa: E402

US, MS = 1e-6, 1e-3
SMALL_GOALS = {"alarm": 10 * US, "hailfinder": 25 * US, "hepar2": 20 * US, "pathfinder": 250 * US}
LARGE_GOALS = {"andes": 0.3 * MS, "pigs": 0.3 * MS, "munin1": 5 * MS, "link": 12 * MS, "munin": 10 * MS}
# (criterion's group and the peers' function, what it is, goal in seconds for one answer of each network)
ROWS = [
    ("posterior_parameters_given", "one posterior, 12 observed, parameters given", {"alarm": 1 / 5e6, "hailfinder": 1 / 600e3}),
    ("posterior_parameters_drawn", "the same, Dirichlet rows drawn", {"alarm": 1 / 250e3, "hailfinder": 1 / 25e3}),
    ("posterior_subsets", "one posterior for every subset of 12 observed", {"alarm": 1 / 3e6, "hailfinder": 1 / 600e3}),
    ("marginals_new_states", "all marginals, a fifth observed, new states", SMALL_GOALS | LARGE_GOALS),
    ("marginals_new_variables", "the same, other variables each time", SMALL_GOALS | LARGE_GOALS),
    ("marginals_prior", "all marginals, none observed", {"munin1": 150 * MS, "water": 15 * MS, "mildew": 15 * MS, "munin": 100 * MS}),
    ("compile", "compile from tables", {"alarm": 5 * MS, "hailfinder": 15 * MS}),
]  # fmt: skip


def ours(group, network):
    """Seconds for one answer: the median of a network's figure, or a list of them, one for each choice of variables."""
    folder = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "criterion" / group / network
    files = [folder / "new"] if (folder / "new").is_dir() else sorted(folder.glob("[0-9]*/new"))
    found = []
    for new in files:
        median = json.loads((new / "estimates.json").read_text())["median"]["point_estimate"]
        throughput = json.loads((new / "benchmark.json").read_text())["throughput"] or {}
        found.append(median * 1e-9 / throughput.get("Elements", 1))
    return found


def in_words(seconds):
    for unit, name in ((1, "s"), (MS, "ms"), (US, "µs"), (1e-9, "ns")):
        if seconds >= unit:
            return f"{seconds / unit:.3g} {name}"
    return f"{seconds:.1e} s"


def spread(seconds):
    """Median, and the slowest if there are several."""
    text = in_words(statistics.median(seconds))
    return text + (f" (slowest {in_words(max(seconds))})" if len(seconds) > 1 else "")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--no-bench", action="store_true", help="take the figures of the last run")
    arguments.add_argument("--rows", nargs="+", choices=[row[0] for row in ROWS], help="only these")
    arguments = arguments.parse_args()
    if not arguments.no_bench:
        filters = ["--", f"^({'|'.join(arguments.rows)})/"] if arguments.rows else []
        command = ["cargo", "bench", "--bench", "public_networks", *filters]
        # The table alone goes to standard output.
        subprocess.run(command, cwd=ROOT, check=True, stdout=sys.stderr)
    asked = json.loads(EVIDENCE.read_text())["networks"]
    opened = {}
    print("| row | network | goal | ours | pyagrum | ratio | numpy, batched | ratio |\n" + "| --- " * 8 + "|")
    for group, title, goals in ROWS:
        if arguments.rows and group not in arguments.rows:
            continue
        for name, goal in goals.items():
            file, mine = network_file(name), ours(group, name)
            if file is None or not mine:
                print(f"{title}, {name}: no {'file' if file is None else 'figure of ours'}", file=sys.stderr)
                continue
            if name not in opened:
                states, tables = read(file)
                opened[name] = states, tables, pyagrum_network(states, tables)
            cells = [title, name, in_words(goal), spread(mine)]
            for peer in (pyagrum_peer, numpy_peer):
                work = getattr(peer, group, None)
                if work is None:
                    cells += ["", ""]
                    continue
                theirs, way = work(*opened[name], asked[name])
                theirs = theirs if isinstance(theirs, list) else [theirs]
                ratio = statistics.median(theirs) / statistics.median(mine)
                cells += [spread(theirs), f"{ratio:,.1f}" if ratio < 10 else f"{ratio:,.0f}"]
                print(f"{group} {name}: {way}", file=sys.stderr)
            print("| " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
