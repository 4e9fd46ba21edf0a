"""Where the public networks are, and how they are read: shared by `choose.py`, `../peer.py` and `fetch.py`."""

import os
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
EVIDENCE = HERE / "evidence.json"
# The files are read, and carried over to pyagrum, as for the reference posteriors.
sys.path.insert(0, str(ROOT / "tests/reference/13-public-networks"))

from generate import draw, pyagrum_network, read  # noqa: E402, F401


def network_file(name):
    """The file of a network: in the repository, or among the large ones that SAGGAR_NETWORKS names; None if in neither."""
    folders = [ROOT / "shared/networks/public"]
    if "SAGGAR_NETWORKS" in os.environ:
        folders.append(Path(os.environ["SAGGAR_NETWORKS"]))
    files = (folder / f"{name}.bif" for folder in folders)
    return next((file for file in files if file.is_file()), None)
