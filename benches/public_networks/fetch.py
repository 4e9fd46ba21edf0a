"""Unpacks the public networks that are too large for this repository into a folder.

    python benches/public_networks/fetch.py folder

They come with the Python package pgmpy (MIT), which pip fetches; nothing of it is installed or run.
"""

import gzip
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

PACKAGE = "pgmpy==1.1.2"
NETWORKS = ["pathfinder", "munin1", "link", "munin", "mildew"]


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        pip = [sys.executable, "-m", "pip", "download", "--no-deps", "--only-binary=:all:", "--dest", place, PACKAGE]
        subprocess.run(pip, check=True)
        (wheel,) = Path(place).glob("*.whl")
        with zipfile.ZipFile(wheel) as archive:
            for name in NETWORKS:
                (packed,) = (entry for entry in archive.namelist() if entry.endswith(f"/{name}.bif.gz"))
                (folder / f"{name}.bif").write_bytes(gzip.decompress(archive.read(packed)))
                print(folder / f"{name}.bif")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
