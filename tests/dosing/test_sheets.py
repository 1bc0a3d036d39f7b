"""The printed sheet: a real page, all of the text on it, and names that stay names."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import typst

from dosing.pictures.paper import Paper
from dosing.pictures.sheets import sheet_source, typeset, write_sheet

# ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
ANSWER = "\n".join(
    ["# Evening soak", "", "[#005F71/#105389] teal, then blue", "# POUR 12 g: citric acid"]
    + [f"  ! Line {number}: get out, rinse and drain if it stings." for number in range(12)]
    + ["$ huedose plan --more"]
)
HOSTILE = '#read("/etc/passwd") #emph[x] *bold* $x^2$ @label <a> \\ // "); #let a = 1'


def pages(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of every page [mm]."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    assert len(boxes) == len(re.findall(rb"/Type\s*/Page\b", pdf))
    return [tuple(float(side) * 25.4 / 72.0 for side in box) for box in boxes]  # type: ignore[misc]


def written(text: str) -> list[str]:
    """What stands on the sheet, paragraph by paragraph, as the typesetter has it."""
    source, inputs = sheet_source(text, None, "A4")
    found = json.loads(typst.query(source, "par", sys_inputs=inputs))
    return ["".join(re.findall(r'"text": "((?:[^"\\]|\\.)*)"', json.dumps(one))) for one in found]


@pytest.mark.parametrize("paper", SIZES_MM)
def test_an_answer_is_one_page_of_real_paper(paper: str, tmp_path: Path) -> None:
    file = tmp_path / "sheet.pdf"
    write_sheet(ANSWER, Paper(1080, 300).figure, file, paper)
    assert pages(file.read_bytes()) == [pytest.approx(SIZES_MM[paper], abs=0.05)]
    assert list(tmp_path.iterdir()) == [file]


def test_a_long_answer_shrinks_into_two_columns_and_goes_on_rather_than_lose_text() -> None:
    long = "\n".join([ANSWER] * 5)
    assert len(pages(typeset(long, Paper(1080, 300).figure))) == 1
    longer = "\n".join([ANSWER] * 25)
    assert len(pages(typeset(longer, Paper(1080, 300).figure))) > 1
    assert sum(line.startswith("! Line 11") for line in written(longer)) == 25


def test_a_hostile_name_is_text() -> None:
    text = f"# Soak\n{HOSTILE}\n  {HOSTILE}"
    assert json.dumps(HOSTILE)[1:-1] in written(text)
    assert len(pages(typeset(f"# {HOSTILE}\n{HOSTILE}", None))) == 1


def test_the_same_sheet_is_the_same_bytes() -> None:
    assert typeset(ANSWER, None) == typeset(ANSWER, None)


def test_another_paper_or_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="accepted are A4, Letter"):
        write_sheet(ANSWER, None, tmp_path / "sheet.pdf", "A3")
    with pytest.raises(ValueError, match=r"\.pdf"):
        write_sheet(ANSWER, None, tmp_path / "sheet.png")
