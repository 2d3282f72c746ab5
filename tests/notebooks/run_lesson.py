"""Executes a notebook in a kernel of this interpreter that can't leave the machine.

    python run_lesson.py IN.ipynb OUT.ipynb FOLDER

A process of its own: jupyter and zeromq leave sockets to the garbage collector, whose complaints
would hit whatever test runs next. FOLDER takes all that jupyter writes, so that nothing has to be
installed; its name should be short, as that of a socket may have about a hundred letters.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

KERNEL = """
import sys


def refuse(event, args):
    if event == "socket.getaddrinfo":
        raise RuntimeError(f"a lesson asked for the address of {args[0]!r}")
    if event in ("socket.connect", "socket.sendto") and isinstance(args[1], tuple):
        if not str(args[1][0]).startswith(("127.", "::1")):
            raise RuntimeError(f"a lesson reached for {args[1]!r}")


sys.addaudithook(refuse)
from ipykernel import kernelapp

kernelapp.launch_new_instance()
"""


def register(folder: Path, name: str) -> None:
    """Put a kernel of this interpreter where jupyter looks for it in this process only."""
    place = folder / "share" / "kernels" / name
    place.mkdir(parents=True)
    (folder / "kernel.py").write_text(KERNEL, encoding="utf-8")
    argv = [sys.executable, str(folder / "kernel.py"), "-f", "{connection_file}"]
    spec = {"argv": argv, "display_name": name, "language": "python"}
    (place / "kernel.json").write_text(json.dumps(spec), encoding="utf-8")
    homes = {
        "JUPYTER_PATH": "share",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "run",
        "JUPYTER_CONFIG_DIR": "config",
        "IPYTHONDIR": "ipython",
        "GREYTARE_CACHE": "cache",
    }
    os.environ |= {key: str(folder / value) for key, value in homes.items()}
    os.environ.pop("MPLBACKEND", None)


def main(source: Path, target: Path, folder: Path) -> None:
    """Execute `source` and write it, with its output, to `target`."""
    register(folder, "python3")
    import nbformat
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient

    work = folder / "work"
    work.mkdir()
    notebook = nbformat.read(source, as_version=4)
    manager = AsyncKernelManager(kernel_name="python3")
    if os.name == "posix":  # no ports, so that two workers can't pick the same
        manager.transport, manager.ip = "ipc", str(folder / "k")
    client = NotebookClient(
        notebook, km=manager, timeout=120, resources={"metadata": {"path": str(work)}}
    )
    client.execute()
    nbformat.write(notebook, target)


if __name__ == "__main__":
    main(*(Path(word) for word in sys.argv[1:]))
