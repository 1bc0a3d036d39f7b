"""A maker's papers: real pages, tagged, their words whole; the rules as they were read."""

from __future__ import annotations

import ast
import math
import re
import tomllib
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import dosing.workshop.labels as labels_room
import dosing.workshop.maker_sheets as sheets_room
from dosing.bottle.steeping import steep
from dosing.cli.given import product_in
from dosing.pictures.papers import X_HEIGHT, ZERO_WIDTH_SPACE, paper_pdf, told
from dosing.plan.answer import preview
from dosing.plan.cautions import Verdict, caution_of
from dosing.plan.records import Plan
from dosing.workshop import ProductAnswer, ProductFile, assess, demo_product
from dosing.workshop.batch import BatchAsked, WeighSheet, batch
from dosing.workshop.keeping_paper import keeping_sheet
from dosing.workshop.label_rules import LABELS, label_rules, label_size
from dosing.workshop.labels import label_sheets
from dosing.workshop.maker_sheets import MakerPapers, directions, papers
from dosing.workshop.papers import PAPERS as CATALOGUE
from dosing.workshop.papers import PaperLine, PaperSheet
from dosing.workshop.product_file import product_from
from dosing.workshop.weigh_paper import weigh_paper
from indicator.notes import Note, say
from indicator.tables import read_text, read_toml

# ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
SMALL_SACHET = "12 g"
KITS = 24
START = date(2026, 12, 1)
# 21 CFR 740.17(b) and (c), 51 FR 20475, 5 June 1986, as in the electronic code.
CAUTION = (
    "Caution—Use only as directed. Excessive use or prolonged exposure may cause irritation to"
    " skin and urinary tract. Discontinue use if rash, redness, or itching occurs. Consult your"
    " physician if irritation persists. Keep out of reach of children."
)
FOR_CHILDREN = " except under adult supervision"
# 21 CFR 740.2(a): letters of a warning are never lower than 1/16 inch.
LEAST_LETTER_PT = 72.0 / 16.0
EDITION = "*2* #emph[x]"
HOSTILE_PARTS = ('#read("/etc/passwd")', "*bold*", "$x^2$", "@a", "<b>", '"q"')
HOSTILE = '#read("/etc/passwd") *bold* $x^2$ @a <b> \\ "q" \u05e9\u05dc\u05d5\u05dd\u200f ابج'


@cache
def product() -> ProductFile:
    """A demo for two markets, with a sachet so small that only the law of one of them stops it."""
    content = read_toml("demo/products/green.toml")
    activator = {**content["activator"], "sachet": SMALL_SACHET}
    changed = {"name": HOSTILE, "edition": EDITION, "activator": activator, "purpose": "sale"}
    return product_from({**content, **changed, "markets": ["EU", "US"]})


@cache
def assessed() -> ProductAnswer:
    return assess(product())


@cache
def made() -> MakerPapers:
    return papers(assessed(), KITS, START)


@cache
def planned() -> Plan:
    return preview(product().recipe, assessed().activator_g)


@cache
def weighed() -> WeighSheet:
    return batch(assessed(), BatchAsked(kits=KITS))


@cache
def labels_of(market: str) -> dict[str, PaperSheet]:
    return {each.name: each for each in label_sheets(assessed(), planned(), [market])}


def sheet(file_name: str) -> PaperSheet:
    if file_name.endswith("-us"):
        # Its colour is listed for food only there, so that no label is printed.
        return labels_of("US")[file_name.removesuffix("-us")]
    return next(each for each in made().sheets if each.file_name == file_name)


def objects(pdf: bytes) -> dict[int, bytes]:
    found = re.finditer(rb"(\d+) 0 obj(.*?)endobj", pdf, re.DOTALL)
    return {int(one[1]): one[2] for one in found}


def stream(whole: bytes) -> bytes:
    told = re.search(rb"/Length (\d+).*?stream\r?\n", whole, re.DOTALL)
    assert told
    return zlib.decompress(whole[told.end() : told.end() + int(told[1])])


def pages(pdf: bytes) -> list[bytes]:
    return [each for each in objects(pdf).values() if re.search(rb"/Type\s*/Page\b", each)]


def size_mm(pdf: bytes) -> tuple[float, float]:
    """Size of its one page."""
    (size,) = sizes_mm(pdf)
    return size


def sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    boxes = [re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", page) for page in pages(pdf)]
    return [(float(box[1]) * 25.4 / 72, float(box[2]) * 25.4 / 72) for box in boxes if box]


def fonts(pdf: bytes) -> dict[bytes, dict[bytes, str]]:
    """Resource name of each font to the letters that its codes mean, as its file says."""
    parts = objects(pdf)
    known = {}
    for name, number in re.findall(rb"/(f\d+) (\d+) 0 R", pdf):
        told = re.search(rb"/ToUnicode (\d+) 0 R", parts[int(number)])
        assert told
        pairs = re.findall(rb"<(\w{4})> <(\w+)>", stream(parts[int(told[1])]))
        known[name] = {
            bytes.fromhex(code.decode()): bytes.fromhex(letters.decode()).decode("utf-16-be")
            for code, letters in pairs
        }
    return known


def unescaped(literal: bytes) -> bytes:
    short = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}

    def one(found: re.Match[bytes]) -> bytes:
        if found[1].isdigit():
            return bytes([int(found[1], 8)])
        return short.get(found[1], found[1])

    return re.sub(rb"\\([0-7]{1,3}|.)", one, literal, flags=re.DOTALL)


def literals(array: bytes) -> Iterator[bytes]:
    """Strings of an array; parentheses in them are escaped or in pairs."""
    held, depth = b"", 0
    for token in re.findall(rb"\\(?:[0-7]{1,3}|.)|.", array, re.DOTALL):
        depth -= token == b")"
        if depth > 0:
            held += token
        elif held:
            yield unescaped(held)
            held = b""
        depth += token == b"("


def shown(pdf: bytes) -> Iterator[tuple[str, float]]:
    """Text of the pages in the order of its drawing, with the size of its type [pt]."""
    known = fonts(pdf)
    numbers = [re.search(rb"/Contents (\d+) 0 R", page) for page in pages(pdf)]
    drawn = b"".join(stream(objects(pdf)[int(number[1])]) for number in numbers if number)
    for name, size, array in re.findall(rb"/(f\d+) ([\d.]+) Tf.*?Tm\[(.*?)\]TJ", drawn, re.DOTALL):
        codes = b"".join(literals(array))
        pairs = (codes[k : k + 2] for k in range(0, len(codes), 2))
        yield "".join(known[name].get(code, "") for code in pairs), float(size)


def words(pdf: bytes) -> str:
    return " ".join(" ".join(text for text, _ in shown(pdf)).split())


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "paper"),
    [
        ("label-bottle-us", "A4"),
        ("label-sachet-eu", "Letter"),
        ("label-outer-us", "A4"),
        ("directions", "Letter"),
        ("assessor", "A4"),
        ("weigh", "A4"),
        ("keeping", "A4"),
    ],
)
def test_a_paper_is_one_tagged_page_with_its_type_embedded(name: str, paper: str) -> None:
    printed = sheet(name)
    pdf = paper_pdf(printed, "the foot", paper)
    wide, tall = SIZES_MM[paper]
    assert size_mm(pdf) == pytest.approx((tall, wide) if printed.across else (wide, tall), abs=0.05)
    # ISO 14289-1 (PDF/UA-1): marked, with a tree of its structure, a title and a language.
    assert b"/MarkInfo" in pdf
    assert b"/StructTreeRoot" in pdf
    assert b"<pdfuaid:part>1" in pdf
    assert re.search(rb"/Lang\s*\(en", pdf)
    descriptors = [each for each in objects(pdf).values() if b"/FontDescriptor" in each]
    embedded = [each for each in objects(pdf).values() if re.search(rb"/FontFile[23]? ", each)]
    assert descriptors
    assert len(embedded) == len(fonts(pdf)) >= 2
    text = words(pdf)
    # Whatever a maker writes is text.
    for part in (*HOSTILE_PARTS, EDITION, "the foot"):
        assert part in text
    # The letters of a word from right to left are drawn from left to right.
    assert {*"שלום"} <= {*text}


@cache
def labels_of_basin() -> dict[str, PaperSheet]:
    answer = assess(demo_product("basin"))
    plan = preview(answer.recipe, answer.activator_g)
    return {each.name: each for each in label_sheets(answer, plan, ["EU"])}


@pytest.mark.slow
def test_a_pack_of_colour_has_its_label_and_the_outer_one_its_content() -> None:
    colour, outer = (
        " ".join(words(paper_pdf(labels_of_basin()[name], "", "label")).split())
        for name in ("label-colour", "label-outer")
    )
    # 20 baths of 30 mL each.
    for words_on_it in ("600 mL", "30 mL to a bath", "Sodium Benzoate", "fill in: best before"):
        assert words_on_it in colour
    assert "Citric Acid" not in colour
    assert "600 mL of red cabbage, for 20 baths" in outer


@pytest.mark.slow
@pytest.mark.parametrize("label", LABELS)
def test_a_label_alone_has_its_true_size(label: str) -> None:
    of = labels_of_basin()["label-colour"] if label == "colour" else sheet(f"label-{label}-eu")
    pdf = paper_pdf(of, "", "label")
    size = label_size(label)
    assert size_mm(pdf) == pytest.approx((size.width_mm, size.height_mm), abs=0.05)


def test_a_label_grows_rather_than_lose_a_word() -> None:
    endless = replace(product(), name="A name that goes on " * 8)
    answer = replace(assessed(), product=endless)
    bottle, *_ = label_sheets(answer, planned(), ["EU"])
    pdf = paper_pdf(bottle, "", "label")
    wide, tall = size_mm(pdf)
    assert wide == pytest.approx(label_size("bottle").width_mm, abs=0.05)
    assert tall > label_size("bottle").height_mm
    assert squeezed("A name that goes on" * 8) in squeezed(words(pdf))


def test_a_word_as_long_as_a_line_may_break() -> None:
    long = "W" * 60
    assert max(map(len, told(long).split(ZERO_WIDTH_SPACE))) == 4
    assert told(long).replace(ZERO_WIDTH_SPACE, "") == long
    assert told("Cocamidopropyl Betaine") == "Cocamidopropyl Betaine"


def test_the_foaming_caution_is_the_federal_text_in_letters_of_a_sixteenth_inch() -> None:
    pdf = paper_pdf(sheet("label-bottle-us"), "", "label")
    assert squeezed(CAUTION) in squeezed(words(pdf))
    sizes = [size for text, size in shown(pdf) if squeezed(text) in squeezed(CAUTION)]
    assert min(sizes) * X_HEIGHT >= LEAST_LETTER_PT - 1e-6
    assert CAUTION not in words(paper_pdf(sheet("label-bottle-eu"), "", "label"))


def test_small_letters_are_as_high_as_the_font_says() -> None:
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font, LoadFlags

    for name in ("DejaVuSans", "DejaVuSans-Bold"):
        font = FT2Font(str(Path(get_data_path()) / "fonts" / "ttf" / f"{name}.ttf"))
        glyph = font.load_char(ord("x"), flags=LoadFlags.NO_SCALE)
        assert pytest.approx(glyph.bbox[3] / font.units_per_EM, abs=1e-4) == X_HEIGHT


def test_a_product_for_children_adds_the_phrase_that_it_may_add() -> None:
    child = replace(planned(), bathers="child")
    bottle, *_ = label_sheets(assessed(), child, ["US"])
    texts = [line.text for line in bottle.lines if isinstance(line, PaperLine)]
    assert CAUTION.removesuffix(".") + FOR_CHILDREN + "." in texts


def test_a_rule_that_nobody_read_says_check_this_and_no_wording(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def unread(market: str) -> Any:
        rules = label_rules(market)
        return {line: replace(rule, status="check", read="") for line, rule in rules.items()}

    monkeypatch.setattr(labels_room, "label_rules", unread)
    bottle, *_ = label_sheets(assessed(), planned(), ["US"])
    text = words(paper_pdf(bottle, "", "A4"))
    assert "Excessive use" not in text
    assert squeezed("check this Print the statement of 21 CFR 740.17(b) here.") in squeezed(text)
    assert "2026-11-30" not in text


def test_every_legal_line_carries_its_rule_and_the_day_it_was_read() -> None:
    bottle = sheet("label-bottle-us")
    text = words(paper_pdf(bottle, "", "A4"))
    for rule in label_rules("US").values():
        on_it = "bottle" in rule.on or rule.on == "rules"
        assert (rule.rule in text) is (on_it and rule.line != "for-children"), rule.line
    read = [rule for rule in label_rules("US").values() if not rule.to_check]
    assert {rule.read for rule in read} == {"2026-11-30"}
    assert text.count("2026-11-30") == len(read) - 1
    assert bottle.to_check == sum(rule.to_check for rule in label_rules("US").values())


def test_what_an_ingredient_asks_of_a_label_stands_on_it_to_be_checked() -> None:
    # Regulation (EU) 2022/1181: a warning where more than 0.001 % of formaldehyde may come out.
    told = caution_of(
        "formaldehyde-label",
        {"market": "EU", "percent": 0.2, "limit": 0.001, "words": "releases"},
    )
    here = replace(assessed().by_market[0], cautions=(told,))
    answer = replace(assessed(), by_market=(here,))
    bottle, sachet, _ = label_sheets(answer, planned(), ["EU"])
    asked = [each for each in bottle.lines if isinstance(each, PaperLine) and each.check]
    assert [each.text for each in asked] == [told.message]
    assert told.message not in [getattr(each, "text", each) for each in sachet.lines]


def test_names_and_contents_are_those_of_the_market() -> None:
    us, eu = (words(paper_pdf(sheet(f"label-bottle-{at}"), "", "label")) for at in ("us", "eu"))
    assert "Water, Coco" in us
    assert us.index("Yellow 5") > us.index("Ethylhexylglycerin")
    assert "Aqua, Coco" in eu
    assert "CI 19140" in eu
    # NIST SP 811: 1 US fluid ounce is 29.57353 mL, so 240 mL are 8.115; never more than there is.
    assert "8.1 fl oz (240 mL)" in us
    assert "fl oz" not in eu
    # Art. 19(1)(c) of Regulation (EC) 1223/2009; 21 CFR 701 asks for no date.
    assert "under 30 months" in eu
    assert "30 months" not in us


@pytest.mark.slow
def test_spoons_and_grams_of_soda_are_one_dose() -> None:
    of = demo_product("basin")
    told = " ".join(
        words(paper_pdf(directions(of, preview(of.recipe, of.sachet_g or 0.0)), "", "A4")).split()
    )
    # A level teaspoon of 4.93 mL holds some 4.6 g of baking soda.
    assert "½ level teaspoon (2.3 g) of baking soda" in told
    # The sour one of the tubs that the readings leave open needs more.
    assert "most of the acid" in told


@pytest.mark.slow
def test_petals_are_steeped_as_the_file_says_and_named_as_the_plant() -> None:
    answer = assess(demo_product("soak"))
    plan = preview(answer.recipe, answer.activator_g)
    told = " ".join(words(paper_pdf(directions(answer.product, plan), "", "A4")).split())
    # 10 g at 2 % are 500 mL.
    assert "in 500 mL of water of 80 °C for 25 min" in told
    assert "contact lenses out" in told
    (leaves,) = (row for row in answer.composition if row.substance == "red-cabbage")
    assert leaves.inci.startswith("Brassica Oleracea")
    # 0.4 g of each gram dissolve: 10 g in some 120 L.
    assert leaves.mg_per_l == pytest.approx(0.4 * 10e3 / answer.volume_l, rel=0.02)
    # Trisodium citrate dihydrate is CAS 6132-04-3; 68-04-2 is the anhydrous salt.
    assert {row.cas for row in answer.composition if row.substance == "sodium-citrate"} == {
        "6132-04-3"
    }
    bottle = next(each for each in label_sheets(answer, plan, ["EU"]))
    assert "Petals and roots differ" in words(paper_pdf(bottle, "", "label"))


@pytest.mark.slow
def test_petals_without_a_brewing_are_steeped_as_usual_and_a_pinch_is_rinsed_out() -> None:
    tables = tomllib.loads(read_text("demo/products/green.toml"))
    lines = [line for line in tables["ingredient"] if line["use"] not in ("blue brew", "yellow")]
    lines[0] |= {"share": "rest"}
    brew = {"name": "blue brew", "pigment": "butterfly-pea", "strength": "2 %", "amount": "8 g"}
    dye = {"name": "yellow", "dye": "tartrazine", "amount": "0.0079 g"}
    changed = {"ingredient": lines, "brew": [brew], "dye": [dye]}
    product = product_from(tables | changed | {"colour": {"layout": "dry sachet"}})
    plan = preview(product.recipe, product.activator_g or 0.0)
    told = " ".join(words(paper_pdf(directions(product, plan), "", "A4")).split())
    # 8 g at 2 % are 400 mL; the usual brewing is that of `steep`.
    usual = steep("butterfly-pea", petals_percent=2.0, makes_g=400.0)
    assert f"in 400 mL of water of {usual.temperature_c:.0f} °C for {usual.minutes:.0f} min" in told
    assert "as for tea" not in told
    assert "0.0079" not in told
    assert "the whole pouch of tartrazine" in told
    labels = label_sheets(assess(product), plan, ["EU"])
    of_colours = " ".join(words(paper_pdf(each, "", "label")) for each in labels)
    assert "Rinse the whole pouch out" in " ".join(of_colours.split())


def demo_text() -> str:
    demo = read_text("demo/products/green.toml")
    return re.sub(r"markets = .*", 'markets = ["EU"]', demo)


def with_sachet(mass: str) -> str:
    return re.sub(r'sachet = "[^"]*"', f'sachet = "{mass}"', demo_text())


def test_a_market_that_stops_it_has_no_label() -> None:
    refused = made()
    assert [each.market for each in refused.refused] == ["US"]
    assert refused.refused[0].verdict.because == "colour-unlisted-sale"
    assert {each.market for each in refused.sheets} == {"EU", ""}


@pytest.mark.slow
def test_own_use_has_no_labels(monkeypatch: pytest.MonkeyPatch) -> None:
    own, kept = replace(product(), purpose="own"), sheet("keeping")
    monkeypatch.setattr(sheets_room, "preview", lambda *_: planned())
    monkeypatch.setattr(sheets_room, "keeping_sheet", lambda *_: kept)
    monkeypatch.setattr(sheets_room, "batch", lambda *_: weighed())
    # That its colour may not be sold in the US is nothing to who pours it.
    made_of = papers(replace(assessed(), product=own, purpose="own"), 1, START)
    assert made_of.refused == ()
    assert {each.name for each in made_of.sheets} == {"directions", "assessor", "weigh", "keeping"}


def test_a_gift_that_may_be_given_has_papers_that_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    gift, kept = replace(product(), purpose="gift", markets=("US",)), sheet("keeping")
    us = [each for each in assessed().by_market if each.market == "US"]
    answer = replace(assessed(), product=gift, purpose="gift", by_market=tuple(us))
    assert us[0].verdicts.give.allowed
    assert not us[0].verdicts.sell.allowed
    monkeypatch.setattr(sheets_room, "preview", lambda *_: planned())
    monkeypatch.setattr(sheets_room, "keeping_sheet", lambda *_: kept)
    monkeypatch.setattr(sheets_room, "batch", lambda *_: weighed())
    printed = papers(answer, KITS, START)
    assert printed.refused == ()
    marked = [each for each in printed.sheets if "Gift, not for sale" in said_on(each)]
    assert [each.file_name for each in marked] == [
        "label-bottle-us",
        "label-sachet-us",
        "label-outer-us",
        "directions",
    ]
    # What may not even be given has no paper for others.
    stopped = replace(us[0].verdicts, give=Verdict("stop", False, "homes-too-sour"))
    refused = replace(answer, by_market=(replace(us[0], verdicts=stopped),))
    assert {each.name for each in papers(refused, KITS, START).sheets} == {"assessor", "weigh"}


def said_on(paper: PaperSheet) -> str:
    lines = (*paper.about, *paper.lines)
    return " ".join(told(line.text if isinstance(line, PaperLine) else line) for line in lines)


def test_a_sachet_that_does_not_fit_the_plan_has_no_label(monkeypatch: pytest.MonkeyPatch) -> None:
    bottle, sachet = weighed().fills
    small = replace(weighed(), fills=(bottle, replace(sachet, most_g=1.0)), weighings=())
    monkeypatch.setattr(sheets_room, "preview", lambda *_: planned())
    monkeypatch.setattr(sheets_room, "batch", lambda *_: small)
    printed = papers(assessed(), KITS, START)
    assert not printed.weighed
    assert {each.market for each in printed.refused} == {"EU", "US"}
    assert [each.name for each in printed.sheets] == ["assessor"]


def test_one_market_that_refuses_leaves_the_weigh_sheet_of_the_other() -> None:
    assert assessed().open_markets == ("EU",)
    assert weighed().allowed
    assert weighed().left_out == ("US",)
    # The rule of underfill is that of Europe, where it is sold.
    assert all(each.law_known for each in weighed().fills)
    assert "weigh" in {each.name for each in made().sheets}


def test_what_needs_a_reason_that_nobody_wrote_is_for_the_maker_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sour = caution_of("reserve-justify")
    three = replace(planned().verdicts, pour=Verdict(sour.level, False, sour.code))
    heavy = replace(planned(), verdicts=three, cautions=(sour,))
    monkeypatch.setattr(sheets_room, "preview", lambda *_: heavy)
    monkeypatch.setattr(sheets_room, "batch", lambda *_: weighed())
    kept = papers(assessed(), KITS, START)
    assert [each.name for each in kept.sheets] == ["assessor", "weigh"]
    assert {each.market for each in kept.refused} == {"EU", "US"}
    assert [each.parts[0].heading for each in kept.sheets] == 2 * [Note("about.stopped")]
    text = words(paper_pdf(kept.sheets[0], "", "A4"))
    assert "NOT FOR SALE" in text
    assert sour.message in text


@pytest.mark.slow
def test_a_stopped_product_prints_nothing_for_sale(
    huedose: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    file, folder = tmp_path / "sour.toml", tmp_path / "papers"
    file.write_text(with_sachet("200 g"), encoding="utf-8")
    code, out, err = huedose("papers", file, "-o", folder)
    assert (code, err) == (3, "")
    assert "X stop: The same grams" in out
    assert {each.name for each in folder.iterdir()} == {"assessor.pdf"}
    text = words((folder / "assessor.pdf").read_bytes())
    assert "NOT FOR SALE" in text
    assert "X stop: " in text


@pytest.mark.slow
def test_papers_are_written_and_listed(huedose_json: Callable[..., Any], tmp_path: Path) -> None:
    file, folder = tmp_path / "own.toml", tmp_path / "papers"
    file.write_text(with_sachet(SMALL_SACHET), encoding="utf-8")
    code, document = huedose_json("papers", str(file), "-o", str(folder), "--only", "directions")
    assert code == 0
    assert [each["file"] for each in document["papers"]] == ["directions.pdf"]
    assert {each.name for each in folder.iterdir()} == {"directions.pdf"}


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["soak", "green", "basin"])
def test_every_paper_of_the_demos_is_a_page_of_the_size_asked_for(
    demo: str, huedose: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    asked = ("papers", "--demo", demo, "-o", tmp_path)
    code, out, err = huedose(*asked, "--paper", "Letter")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= 20
    written = list(tmp_path.iterdir())
    assert len(written) == (11 if demo == "green" else 13)
    for file in written:
        wide, tall = SIZES_MM["Letter"]
        sizes = sizes_mm(file.read_bytes())
        # What is weighed, with room to sign, may need a second one.
        assert len(sizes) <= (2 if file.stem == "weigh" else 1)
        for size in sizes:
            assert sorted(size) == pytest.approx([wide, tall], abs=0.05)
    code, out, err = huedose(*asked)
    assert (code, out) == (2, "")
    assert "-eu.pdf" in err


@pytest.mark.slow
def test_a_class_has_its_sheet(
    huedose: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    file = tmp_path / "small.toml"
    file.write_text(with_sachet(SMALL_SACHET), encoding="utf-8")
    code, _, err = huedose("papers", file, "-o", tmp_path, "--only", "class", "--paper", "label")
    assert (code, err) == (0, "")
    pdf = (tmp_path / "class.pdf").read_bytes()
    assert size_mm(pdf) == pytest.approx(SIZES_MM["A4"], abs=0.05)
    assert "12" in words(pdf)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--paper", "A5"), "A4, Letter, label"),
        (("--only", "labels"), "label, directions"),
        (("--start", "soon"), "2026-12-01"),
        (("--demo", "pool"), "soak, green, basin"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(
    huedose: Callable[..., tuple[int, str, str]], arguments: tuple[str, ...], named: str
) -> None:
    code, out, err = huedose("papers", *arguments)
    assert (code, out) == (2, "")
    assert named in err
    assert len(err.splitlines()) == 1


def test_a_file_is_no_folder(huedose: Callable[..., tuple[int, str, str]], tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    code, _, err = huedose("papers", "-o", tmp_path / "taken")
    assert code == 2
    assert "is a file, not a folder" in " ".join(err.split())


def test_a_colour_passes_until_its_change_is_plain() -> None:
    from dosing.bath.assembled import assemble
    from dosing.bottle.keeping import keep
    from dosing.workshop.keeping_paper import _in_glass, _looked, _shows_well

    of, looked = product(), _looked()
    times = next(times for times in looked["times"] if _shows_well(of.recipe, times))
    glass = _in_glass(of.recipe, times)
    (table,) = (part for part in sheet("keeping").parts if part.kind == "table")
    weeks = looked["week"]
    assert len(table.rows) == len(weeks)
    for week, row in zip(weeks, table.rows, strict=True):
        day = row[0]
        assert isinstance(day, PaperLine)
        assert day.text == date.fromordinal(START.toordinal() + round(7 * week)).isoformat()
        for place, cell in zip(looked["place_c"], row[1:], strict=False):
            kept = keep(glass, assemble(glass), days=7 * week, temperature_c=place, ph=of.ph)
            assert kept is not None
            assert isinstance(cell, PaperLine)
            assert cell.colour == str(kept.kept.hex)
            assert cell.text == str(kept.kept.phrase)
            # CIEDE2000 of 10 and more is plain to see: thresholds.csv, our own choice.
            assert cell.box is (kept.change_delta_e < 10.0)


def test_a_glass_that_is_nearly_black_is_thinned_until_fading_shows() -> None:
    content = read_toml("demo/products/basin.toml")
    brew = {key: content["brew"][0][key] for key in ("name", "pigment", "strength")}
    changed = {"brew": [brew | {"amount": "1.5 g"}], "colour": {"layout": "dry sachet"}}
    of = product_from({**content, **changed, "tub": {"volume": "5 L"}})
    printed = keeping_sheet(of, preview(of.recipe, 0.6), START)
    (table,) = (part for part in printed.parts if part.kind == "table")
    assert isinstance(first := table.rows[0][1], PaperLine)
    assert first.text == "blue"
    # Twice the tub: 200 mL of 5 L hold 0.06 g, and 1.5 g at 3 % make 50 mL.
    assert "4 mL of a brew of 1.5 g of red cabbage in 50 mL of hot water" in said_on(printed)


@pytest.mark.slow
def test_an_adult_s_label_says_of_children_only_to_keep_it_away() -> None:
    bottle = said_on(sheet("label-bottle-eu"))
    assert "For adults only. Keep away from children. Keep out" in bottle
    assert "under three" not in bottle
    child = label_sheets(assessed(), replace(planned(), bathers="child"), ["EU"])[0]
    assert "Not for children under three" in said_on(child)


@pytest.mark.slow
def test_a_colour_bottle_is_kept_at_its_own_ph() -> None:
    answer = assess(demo_product("basin"))
    plan = preview(answer.recipe, answer.activator_g)
    printed = keeping_sheet(answer.product, plan, START)
    (table,) = (part for part in printed.parts if part.kind == "table")
    # Published rates near pH 5 leave 0 to 94 % of it after two weeks at 25 °C; at pH 6.7, 0.4 %.
    after_two_weeks = table.rows[1][2]
    assert isinstance(after_two_weeks, PaperLine)
    assert isinstance(after_two_weeks.note, Note)
    assert after_two_weeks.note.code == "keeping.faded-open"
    assert after_two_weeks.note.values["left"] == "0 to 94 % left"
    assert "five packs of its colour" in words(paper_pdf(printed, "", "A4"))
    assert not any("own pH was not given" in say(*told) for told in _assumed(answer))


def _assumed(answer: ProductAnswer) -> list[tuple[str, Any]]:
    return [(note.code, note.values) for note in answer.assumptions]


def test_the_weigh_sheet_has_all_that_is_weighed_and_room_to_sign() -> None:
    printed = sheet("weigh")
    text = words(paper_pdf(printed, "", "A4"))
    for each in weighed().weighings:
        assert f"{each.weigh_g:.0f} g" in text
        assert each.lot is None or each.lot in text
    cells = [cell for part in printed.parts for row in part.rows for cell in row]
    boxes = [cell for cell in cells if isinstance(cell, PaperLine) and cell.box]
    # Of the brew petals and water, of the dye powder.
    brewed = sum(1 + (each.steeping is not None) for each in weighed().colours)
    assert len(boxes) == len(weighed().weighings) + len(weighed().powders) + brewed
    for line in weighed().record:
        assert squeezed(say(f"batch.record.{line.name}")) in squeezed(text)


@pytest.mark.slow
def test_the_papers_of_a_basin_speak_of_feet_and_a_stain() -> None:
    answer = assess(demo_product("basin"))
    every = papers(answer, KITS, START).sheets
    printed = {each.file_name: words(paper_pdf(each, "", "A4")) for each in every}
    for text in printed.values():
        assert not re.search(r"\btubs?\b", text, re.IGNORECASE)
    assert "put the feet in" in squeezed_lines(printed["directions"])
    assert "long spoon" not in printed["directions"]
    # A card is for tubs only.
    assert not any("dose card" in squeezed_lines(text) for text in printed.values())
    assert "It can stain" in squeezed_lines(printed["label-colour-eu"])
    # The bottle itself holds no colour.
    assert "It can stain" not in squeezed_lines(printed["label-bottle-eu"])


@pytest.mark.slow
def test_limits_of_a_fill_are_never_rounded_past() -> None:
    sheet = weigh_paper(basin_batch(), preview(assess(demo_product("basin")).recipe, 1.4))
    (table,) = (part for part in sheet.parts if part.heading == Note("weigh.fills"))
    for row, fill in zip(table.rows, basin_batch().fills, strict=True):
        shown = [math.nan if cell == "–" else float(str(cell).split()[0]) for cell in row[3:]]
        for under, limit in zip(
            shown, (fill.nominal_g, fill.least_g, fill.never_under_g), strict=False
        ):
            assert math.isnan(limit) or limit <= under + 1e-6 <= limit + 0.1
        assert math.isnan(fill.most_g) or fill.most_g - 0.1 <= shown[3] <= fill.most_g + 1e-6


@cache
def basin_batch() -> WeighSheet:
    return batch(assess(demo_product("basin")), BatchAsked(kits=KITS))


def squeezed_lines(text: str) -> str:
    return " ".join(text.split())


def test_no_water_stands_without_its_word() -> None:
    for each in made().sheets:
        cells = (cell for part in each.parts for row in part.rows for cell in row)
        for cell in cells:
            if isinstance(cell, PaperLine) and cell.colour:
                assert cell.text


def test_every_sentence_of_the_papers_is_asked_for_and_none_is_missing() -> None:
    known = set(sentences(read_toml(CATALOGUE)))
    asked = "|".join(sorted(set(patterns())))
    assert len(known) > 100
    assert [key for key in known if not re.fullmatch(asked, key)] == []


def sentences(table: dict[str, Any], above: str = "") -> Iterator[str]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from sentences(value, f"{above}{key}.")
        else:
            yield f"{above}{key}"


def patterns() -> Iterator[str]:
    rooms = ("workshop", "pictures/papers.py", "pictures/paper_set.py")
    root = Path(__file__).resolve().parents[2] / "dosing"
    files = [file for room in rooms for file in (root / room).parent.glob((root / room).name)]
    for file in (each for one in files for each in ([one] if one.is_file() else one.glob("*.py"))):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                yield "".join(
                    re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".*"
                    for part in node.values
                )
            elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
                yield re.escape(node.value)


def test_a_card_takes_a_product_file(
    huedose: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    file = tmp_path / "product.toml"
    file.write_text(with_sachet(SMALL_SACHET) + '\n[card]\nlot = "B-12"\n', encoding="utf-8")
    of = product_in(file)
    assert of is not None
    card = of.recipe.card
    assert (card.lot, card.edition, card.sachet_g) == ("B-12", "1", 12.0)
    # More phenoxyethanol than Annex V, entry 29, allows: 1.0 %.
    much = re.sub(r'(use = "phenoxyethanol[^"]*"\nshare = )"[^"]*"', r'\1"4 %"', demo_text())
    file.write_text(much, encoding="utf-8")
    code, out, err = huedose("card", file)
    assert (code, out) == (3, "")
    assert "phenoxyethanol" in err
