"""The README and the pages in docs/ name only what exists."""

import json
import re
import shlex
from pathlib import Path

import click
import pytest

from troubleshoot.__main__ import cli
from troubleshoot.cli.setup import demo_files

ROOT = Path(__file__).parent.parent
PAGES = [
    ROOT / "README.md",
    *sorted(ROOT.glob("DEVELOPERS.md")),
    *sorted((ROOT / "docs").glob("*.md")),
]
FENCE = re.compile(r"^```(\w*)\n(.*?)^```", flags=re.M | re.S)
CALL = re.compile(r"(?:^|[\s/`])troubleshoot ([a-z][^`\n|;&#]*)")


def blocks(page, *languages):
    text = page.read_text(encoding="utf-8")
    return [body for language, body in FENCE.findall(text) if language in languages]


def calls():
    """(page, command line) of every `troubleshoot ...` in a shell block or in inline code."""
    found = set()
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        inline = re.findall(r"`(troubleshoot [^`\n]+)`", FENCE.sub("", text))
        for body in [*blocks(page, "sh", "shell", "bash", "console"), *inline]:
            found |= {(page.name, line.strip()) for line in CALL.findall(body)}
    return sorted(found)


def command_of(words):
    """The command that `words` name, and what is left over."""
    command, context = cli, click.Context(cli)
    while isinstance(command, click.Group) and words and not words[0].startswith("-"):
        found = command.get_command(context, words[0])
        assert found is not None, f"there is no command {words[0]!r}"
        command, words = found, words[1:]
    return command, words


def test_the_readme_shows_the_commands():
    named = {line.split()[0] for page, line in calls() if page == "README.md"}
    assert {"diagnose", "cases", "explain", "about"} <= named


@pytest.mark.parametrize(("page", "line"), calls())
def test_every_command_and_option_exists(page, line):
    command, words = command_of(shlex.split(line))
    known = {o for p in command.params for o in (*p.opts, *p.secondary_opts)} | {"--help", "-h"}
    options = {w.partition("=")[0] for w in words if re.match(r"--?[a-z]", w)}
    assert options <= known, f"{page}: {sorted(options - known)} of `troubleshoot {line}`"
    names = {"help_option_names": ["-h", "--help"]}
    assert isinstance(command.get_help(click.Context(command, **names)), str)


def test_the_help_of_every_command_is_written_down():
    """Word for word; where a line breaks, and some brackets, are the library's affair."""
    from tests.docs_commands import PAGE, page

    kept, now = (
        text.replace("[COMMAND]", "COMMAND").split()
        for text in (PAGE.read_text(encoding="utf-8"), page())
    )
    assert kept == now, "python -m tests.docs_commands writes it anew"


def test_every_demo_and_id_that_is_named_exists(rules):
    demos = {p.stem for p in demo_files()}
    pages = "\n".join(p.read_text(encoding="utf-8") for p in PAGES)
    assert set(re.findall(r"cases_demo/(\w+)\.yaml", pages)) <= {
        p.stem for p in (ROOT / "cases_demo").glob("*.yaml")
    }
    for _, line in calls():
        words = line.split()
        if words[0] == "explain" and words[1:] and words[1].islower():
            pools = (rules.complaints, rules.causes, rules.actions, rules.findings, rules.cautions,
                     rules.workarounds, rules.mechanisms)  # fmt: skip
            assert any(words[1] in pool for pool in pools), line
    assert demos


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_case_file_that_is_shown_can_be_read(page, rules, tmp_path):
    from troubleshoot.case.casefile import read_case

    for pattern in ("machine_*.yaml", "*.csv"):
        for beside in (ROOT / "cases_demo").glob(pattern):
            (tmp_path / beside.name).write_bytes(beside.read_bytes())
    for number, body in enumerate(blocks(page, "yaml")):
        if re.search(r"^complaint:", body, flags=re.M) and page.name != "adding.md":
            path = tmp_path / f"case_{number}.yaml"
            path.write_text(body, encoding="utf-8")
            read_case(path, rules, "2026-01-05T09:00:00")


def test_the_guide_describes_the_object_key_by_key(rules):
    from troubleshoot.advice.page import page_of
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.show.json import as_object

    text = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    table = text[text.index("| key | holds |") :].split("\n\n")[0]
    described = {
        k for row in table.splitlines()[2:] for k in re.findall(r"`(\w+)`", row.split("|")[1])
    }
    case = read_case(demo_files()[0], rules, "2026-01-05T09:00:00")
    bench = Bench(rules, case.machine)
    whole = json.loads(json.dumps(as_object(page_of(bench.assess(case.journal), ()))))
    assert described == set(whole)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_link_to_a_file_leads_somewhere(page):
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", text):
        assert (page.parent / target).exists(), target
