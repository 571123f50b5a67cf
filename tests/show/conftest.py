"""A headless browser and a judge of accessibility, for what looks at pages.

The rules of accessibility are not ours: axe-core (https://github.com/dequelabs/axe-core, the checks
behind WCAG 2 A and AA) is fetched by npm where node is there.
"""

import shutil
import subprocess
import tarfile

import pytest

from tests.show.browser import Browser
from troubleshoot.show.handbook.site import site

AXE = "4.10.2"


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    with Browser(tmp_path_factory.mktemp("browser")) as found:
        yield found


@pytest.fixture(scope="session")
def axe(tmp_path_factory):
    """The script of axe-core, from the registry of npm."""
    npm = shutil.which("npm")
    if npm is None or shutil.which("node") is None:
        pytest.skip("axe-core is fetched by npm, which is not here")
    folder = tmp_path_factory.mktemp("axe")
    command = [npm, "pack", f"axe-core@{AXE}", "--silent"]
    try:
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=60)
    except (subprocess.SubprocessError, OSError) as error:
        pytest.skip(f"axe-core cannot be fetched ({error})")
    with tarfile.open(next(folder.glob("*.tgz"))) as packed:
        found = packed.extractfile("package/axe.min.js")
        assert found is not None
        return found.read().decode()


@pytest.fixture(scope="session")
def handbook(rules):
    """The pages of the handbook of the shipped rules."""
    return site(rules)
