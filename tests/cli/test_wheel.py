"""The wheel brings rules and demos with it and runs far from any checkout."""

import json
import os
import subprocess
import sys
import sysconfig
import venv

import pytest

from tests.cli.checkout import ROOT
from troubleshoot.knowledge.load import load

pytestmark = pytest.mark.slow

DEMO = "flakes_on_the_lower_seal"


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """`troubleshoot` from a wheel, in an environment of its own that borrows our libraries."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    offline = ["--no-deps", "--no-index"]
    _do(*pip, "wheel", *offline, "--no-build-isolation", "-w", folder, ROOT)
    (wheel,) = folder.glob("*.whl")
    home = folder / "env"
    venv.create(home, with_pip=False, symlinks=True)
    scripts = home / ("Scripts" if sys.platform == "win32" else "bin")
    _do(*pip, "--python", next(scripts.glob("python*")), "install", *offline, wheel)
    site = next(home.rglob("site-packages"))
    (site / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return home, next(scripts.glob("troubleshoot*"))


def _do(*args):
    done = subprocess.run([str(a) for a in args], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def troubleshoot(installed, folder, *args):
    env = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    done = subprocess.run(
        [str(installed[1]), *map(str, args)], cwd=folder, env=env, timeout=60,
        stdin=subprocess.DEVNULL, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode("utf-8")


def test_the_rules_come_with_the_wheel(installed, tmp_path):
    facts = json.loads(troubleshoot(installed, tmp_path, "about", "--json"))
    assert facts["rules_folder"].startswith(str(installed[0]))
    assert facts["rule_base"] == load().hash


def test_the_demos_come_with_the_wheel_and_run(installed, tmp_path):
    out = troubleshoot(installed, tmp_path, "diagnose", DEMO, "--no-questions", "--json")
    assert json.loads(out)["complaint"] == "pressure_not_reached"
    assert list(tmp_path.glob("*.yaml")) == []


def test_the_report_finds_its_templates(installed, tmp_path):
    troubleshoot(
        installed, tmp_path, "diagnose", DEMO, "--no-questions", "--report", tmp_path / "r.html"
    )
    assert "<html" in (tmp_path / "r.html").read_text(encoding="utf-8")


def test_nothing_but_the_package_is_in_it(installed):
    site = next(installed[0].rglob("site-packages"))
    ours = {p.name for p in site.iterdir() if "troubleshoot" in p.name}
    assert {p.split("-")[0] for p in ours} == {"troubleshoot", "sputter_troubleshoot"}
    assert not (site / "tests").exists()
    assert not (site / "rules").exists()
    shipped = {p.name for p in (site / "troubleshoot" / "data" / "cases_demo").iterdir()}
    assert shipped == {p.name for p in (ROOT / "cases_demo").iterdir() if p.is_file()}
