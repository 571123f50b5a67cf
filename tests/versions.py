"""The quick tests with other versions of what is built on: `python -m tests.versions lowest`.

Makes an environment in a folder of its own with uv (which is fetched for it): `lowest` takes the
lowest versions that pyproject.toml allows, `newest` the newest there are. More words go to pytest.
The casebook is tried on a PostgreSQL server too where TROUBLESHOOT_TEST_POSTGRES holds its URL.
"""

import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).parent.parent
WAYS = {"lowest": "lowest-direct", "newest": "highest"}


def main(way: str, *more: str) -> int:
    """Make the environment, run the tests, give their exit status."""
    with tempfile.TemporaryDirectory(prefix="troubleshoot-versions-") as folder:
        tool, there = Path(folder) / "tool", Path(folder) / "there"
        venv.create(tool, with_pip=True)
        subprocess.run([tool / "bin" / "pip", "install", "-q", "uv"], check=True)
        uv = tool / "bin" / "uv"
        subprocess.run([uv, "venv", "-q", "--python", sys.executable, there], check=True)
        install = [uv, "pip", "install", "-q", "--python", there / "bin" / "python"]
        subprocess.run([*install, "--resolution", WAYS[way], f"{ROOT}[test,postgres]"], check=True)
        tests = [there / "bin" / "python", "-m", "pytest", "-p", "no:cacheprovider", *more]
        return subprocess.run(tests, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    if len(sys.argv) < 2 or sys.argv[1] not in WAYS:
        sys.exit(f"say {' or '.join(WAYS)}")
    sys.exit(main(*sys.argv[1:]))
