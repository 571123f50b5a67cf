"""What a wheel of this package needs: durable-rules too, where it can be built.

The engine has no wheels, so that pip would fail on a machine without a C compiler. There the plain
matcher runs the same rules with the same results, and nothing else is needed.
"""

import os
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path
from typing import Any

from hatchling.metadata.plugin.interface import MetadataHookInterface

SWITCH = "TROUBLESHOOT_PLAIN_MATCHER"
"""Set to 1, it leaves durable-rules out."""
LOADS_BELOW = (3, 13)
EXTENSION = """
#include <Python.h>
static struct PyModuleDef trial = {PyModuleDef_HEAD_INIT, "trial", NULL, -1, NULL};
PyMODINIT_FUNC PyInit_trial(void) { return PyModule_Create(&trial); }
"""


class Dependencies(MetadataHookInterface):
    """The dependencies of pyproject.toml, and the engine where it builds and loads."""

    def update(self, metadata: dict[str, Any]) -> None:
        """Fill in `dependencies`."""
        engine = self.config["where-it-builds"] if engine_builds() else []
        metadata["dependencies"] = [*self.config["dependencies"], *engine]


def engine_builds() -> bool:
    """Whether durable-rules loads on this Python and an extension can be compiled here."""
    wanted = sys.platform == "linux" and sys.version_info < LOADS_BELOW
    return wanted and os.environ.get(SWITCH, "") in ("", "0") and compiles()


def compiles() -> bool:
    """Whether a small extension can be compiled and linked, as pip will do with the engine."""
    compiler = (os.environ.get("CC") or sysconfig.get_config_var("CC") or "cc").split()
    include = sysconfig.get_paths()["include"]
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "trial.c"
        source.write_text(EXTENSION)
        command = [*compiler, "-shared", "-fPIC", f"-I{include}", str(source)]
        try:
            done = subprocess.run(
                [*command, "-o", f"{source}.so"], capture_output=True, timeout=60, check=False
            )
        except (OSError, subprocess.TimeoutExpired):
            return False
    return done.returncode == 0
