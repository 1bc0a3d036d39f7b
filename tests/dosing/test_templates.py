"""Templates: each of their branches is rendered, and answers stay short."""

import pytest

from dosing import demo_recipe, make_plan
from dosing.words.marks import paragraphs, plain
from dosing.words.templates import render

PLAN_LINES = 14


@pytest.mark.parametrize("demo", ["1", "2", "3", "4", "4-green", "5"])
def test_a_plan_is_said_in_a_few_lines(demo: str) -> None:
    plan = make_plan(demo_recipe(demo))
    text = plain(render("plan", plan=plan, more=False, cautions=False, bare=False))
    assert text.count("\n") < PLAN_LINES, text
    assert max(map(len, text.splitlines())) <= 80


def test_marks() -> None:
    title, line, command = paragraphs("# Tub\n  [#204060/#804060] blue to pink\n\n$ huedose plan")
    assert (title.text, title.bold) == ("Tub", True)
    assert line.swatches == [["#204060", "#804060"]]
    assert line.lines(80) == ["  blue to pink"]
    assert line.lines(80, block=4) == ["  " + "\N{NO-BREAK SPACE}" * 4 + " blue to pink"]
    assert command.lines(5) == ["  huedose plan"]
