"""Checklists and the sheet of pictures: all of it on one page, cautions with the steps."""

import io
import re

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.show.sheets.checklist import TITLES, checklist
from troubleshoot.show.sheets.files import as_pdf, as_svg
from troubleshoot.show.sheets.paper import Image, Shape, Text, plain, wrap
from troubleshoot.show.sheets.pictures import picture_sheet
from troubleshoot.training.course import steps


def words(page):
    return " ".join(item.text for item in page.items if isinstance(item, Text))


def lowest(page):
    ends = [i.y for i in page.items if isinstance(i, Text)]
    ends += [y for i in page.items if isinstance(i, Shape) for _, y in i.points]
    ends += [i.y + i.height for i in page.items if isinstance(i, Image)]
    return max(ends)


@pytest.mark.parametrize("part", TITLES)
@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_a_checklist_holds_every_step_with_its_cautions_on_one_page(rules, part, paper):
    page = checklist(part, rules, Machine(), paper)
    said = words(page)
    for step in steps(rules, part):
        assert " ".join(wrap(step.name, 12, 1e4)) in said
        for name in step.hazards:
            assert said.count(rules.cautions[name].name.split()[0]) >= 2
    assert lowest(page) < page.height
    boxes = [i for i in page.items if isinstance(i, Shape) and len(i.points) == 4]
    assert len(boxes) == len(steps(rules, part)) + 1  # one to tick a step, one round the cautions


def test_a_step_that_this_coater_does_not_have_is_left_out(rules):
    (name, step), *others = rules.routine.items()
    only = step.model_copy({"machine": {"turbo": "yes"}})
    fewer = rules.model_copy({"routine": {**dict(others), name: only}})
    without = checklist(step.part, fewer, Machine(facts={"turbo": "no"}), "A4")
    assert step.name not in words(without)
    assert step.name in words(checklist(step.part, fewer, Machine(), "A4"))


def test_every_picture_stands_with_its_answer_in_svg_and_pdf(rules):
    page = picture_sheet(rules, "A4")
    images = [i for i in page.items if isinstance(i, Image)]
    assert len(images) > 10
    assert lowest(page) < page.height
    assert len(re.findall("<image ", as_svg(page, rules.drawings))) == len(images)
    pypdf = pytest.importorskip("pypdf")
    (sheet,) = pypdf.PdfReader(io.BytesIO(as_pdf(page, rules.drawings))).pages
    assert len({i.name for i in images}) == len(sheet.images)


def test_rules_without_pictures_have_no_sheet_of_them(small_rules):
    with pytest.raises(UserError, match="no picture"):
        picture_sheet(small_rules, "A4")


def test_letters_that_the_font_lacks_are_said_in_words():
    assert plain("≤ 5 Ω → 3 µm") == "at most  5 ohm to 3 µm"


def test_a_word_longer_than_the_line_is_kept():
    assert wrap("a " + "x" * 80, 12, 20)[1] == "x" * 80


@pytest.mark.parametrize("sheet", ["start-up", "run", "shut-down", "pictures"])
def test_the_command_writes_them(tmp_path, sheet):
    done = CliRunner().invoke(cli, ["chart", sheet, "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    assert {p.suffix for p in tmp_path.glob(f"chart_{sheet.replace('-', '_')}.*")} == {
        ".svg", ".pdf",
    }  # fmt: skip
