"""The dose card in a real browser: its answers, its manners, and that it never allows too much."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from copy import deepcopy
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from dosing.workshop.book import add
from dosing.workshop.book_file import open_book
from dosing.workshop.book_lines import Line
from indicator.tables import read_text, read_toml

pytestmark = pytest.mark.browser
Data = dict[str, Any]
Open = Callable[..., Page]
PHONE = {"width": 360, "height": 640}
PLACE = "https://card.test/"
"""Served by the test itself: a secure place, so that every store of the browser is there."""
ANSWERED = "strip=120&mark=half&who=adult"
STEPS = {
    "water": "", "drops": "at=water&way=drops", "guess": "at=water&way=none", "fill": "strip=120",
    "litres": "strip=120&way=volume", "size": "strip=120&way=measured",
    "who": "strip=120&mark=half", "answer": ANSWERED, "none": "strip=0&mark=half&who=adult",
}  # fmt: skip
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LEAST_TARGET = 48
"""Side of what wet fingers press [px]: DESIGN, twice what WCAG 2.2 AA asks for (2.5.8: 24)."""
EVERY = """({ litres, sizes }) => {
  const { data, answer, waterOf, fillOf } = window.card;
  const waters = [...data.readings.strip.map((one) => ({ strip: one.label })),
    ...data.readings.drops.rows.map((_, count) => ({ drops: String(count) })),
    ...data.readings.none.map((one) => ({ none: one.key }))];
  const fills = [...data.marks.map((one) => ({ mark: one.name })),
    ...litres.map((one) => ({ litres: String(one) })), ...sizes.map((size) => ({ size }))];
  const all = data.bathers.flatMap((who) => waters.flatMap((water) => fills.map((fill) => {
    const [read, full] = [waterOf(water), fillOf(fill)];
    return { ...read, who, litres: full.litres, ...answer(read, full, who) };
  })));
  return JSON.stringify(all);
}"""


@pytest.fixture
def opened(served: Open, page_of: Callable[[Data], str]) -> Open:
    """Open a card at a place in its questions; the page has its requests in `page.asked`."""

    def at(data: Data, fragment: str = "", now: date | None = None, **settings: Any) -> Page:
        when = now or date.fromisoformat(data["made"]) + timedelta(days=1)
        return served(page_of(data), f"{PLACE}#{fragment}", when, **{"viewport": PHONE} | settings)

    return at


def heading(page: Page) -> str:
    return plain(page.locator("main h2").inner_text()).replace("\n", " ")


def plain(words: str) -> str:
    """Without what keeps a number by its unit, and a name from turning its sentence round."""
    return words.replace("\u00a0", " ").translate({0x2068: None, 0x2069: None})


def text(page: Page) -> str:
    return plain(page.inner_text("main"))


def said(page: Page) -> str:
    return plain(page.locator("[role=status]").text_content() or "")


def corners(data: Data, litres: float) -> tuple[int, int] | None:
    """Nodes on both sides of a fill; the same one twice on it, none outside of all."""
    nodes = data["litres"]
    if not nodes[0] <= litres <= nodes[-1]:
        return None
    low = max(i for i, node in enumerate(nodes) if node <= litres)
    return low, low if nodes[low] == litres else low + 1


def whole(grams: float) -> float:
    """Rounded down as a person reads it."""
    return math.floor(grams) if grams >= 5 else math.floor(round(10 * grams, 6)) / 10


def pad_row(data: Data, label: str) -> int:
    return int(next(pad["row"] for pad in data["readings"]["strip"] if pad["label"] == label))


def half_full(data: Data, table: str, label: str = "120") -> float:
    """What the card's own table has for an adult at half a tub."""
    litres = next(mark["litres"] for mark in data["marks"] if mark["name"] == "half")
    return float(data[table]["adult"][pad_row(data, label)][data["litres"].index(litres)])


def test_three_presses_lead_from_a_strip_to_a_dose(opened: Open, card: Data) -> None:
    page = opened(card)
    assert "Plain tap water, nothing added" in text(page)
    presses = [re.compile(r"^120"), re.compile("^half"), re.compile("^Only adults")]
    for label in presses:
        page.get_by_role("button", name=label).click()
    dose, most = whole(half_full(card, "dose")), whole(half_full(card, "limit"))
    assert heading(page) == f"Pour {dose:g} g"
    assert f"Never more than {most:g} g in all." in text(page)
    assert said(page).startswith(f"Pour {dose:g} g. Never more than {most:g} g in all.")
    assert page.evaluate("document.activeElement.tagName") == "H2"


def test_the_keyboard_alone_leads_to_a_dose_and_back(opened: Open, card: Data) -> None:
    page = opened(card)

    def press_until(name: str) -> None:
        for _ in range(30):
            page.keyboard.press("Tab")
            if (page.evaluate("document.activeElement.textContent") or "").startswith(name):
                outline = "getComputedStyle(document.activeElement).outlineStyle"
                assert page.evaluate(outline) == "solid", "what has the focus is seen"
                page.keyboard.press("Enter")
                return
        pytest.fail(f"the focus never comes to {name}")

    press_until("120")
    press_until("In litres")
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.tagName") != "INPUT":
        page.keyboard.press("Tab")
    page.keyboard.type("none")
    page.keyboard.press("Enter")
    assert page.get_by_role("alert").inner_text().endswith("Write a number above 0.")
    page.keyboard.press("Control+A")
    page.keyboard.type(f"{card['litres'][3]:g}")
    page.keyboard.press("Enter")
    press_until("Only adults")
    dose = whole(card["dose"]["adult"][pad_row(card, "120")][3])
    assert heading(page) == f"Pour {dose:g} g"
    press_until("Back")
    assert heading(page) == "Who bathes?"
    assert page.locator("[aria-current]").inner_text().startswith("Only adults")
    page.go_back()
    assert heading(page) == f"Pour {dose:g} g"


def test_an_answer_is_changed_without_losing_the_others(opened: Open, card: Data) -> None:
    page = opened(card, ANSWERED)
    page.get_by_role("button", name="Change: Water, 120 ppm").click()
    page.get_by_role("button", name=re.compile("^80")).click()
    assert heading(page) == f"Pour {whole(half_full(card, 'dose', '80')):g} g"
    page.get_by_role("button", name="Start again").click()
    assert heading(page) == "What does the strip show?"
    page.go_back()
    assert heading(page) == f"Pour {whole(half_full(card, 'dose', '80')):g} g"


def test_nothing_is_asked_of_the_network_nor_kept(opened: Open, card: Data) -> None:
    page = opened(card)
    for label in ("I count drops", "No strip", "Soft", "In litres", "By a mark", "half", "Only"):
        page.get_by_role("button", name=re.compile(f"^{label}")).click()
    page.get_by_role("button", name="Start again").click()
    assert page.asked == [PLACE]  # type: ignore[attr-defined]
    assert page.evaluate("window.touched") == []
    kept = page.evaluate(
        """async () => [localStorage.length, sessionStorage.length, document.cookie,
        (await indexedDB.databases()).length, (await caches.keys()).length,
        (await navigator.serviceWorker.getRegistrations()).length]"""
    )
    assert kept == [0, 0, "", 0, 0, 0]


def test_the_policy_stops_a_request_a_script_and_a_style(opened: Open, card: Data) -> None:
    page = opened(card)
    stopped = page.evaluate(
        """async () => {
          const stopped = [];
          const note = (event) => stopped.push(event.effectiveDirective);
          addEventListener('securitypolicyviolation', note);
          await fetch('https://elsewhere.test/').catch(() => 0);
          const add = (tag, values) =>
            document.body.append(Object.assign(document.createElement(tag), values));
          add('script', { textContent: 'window.ran = 1' });
          add('img', { src: 'https://elsewhere.test/a.png' });
          add('style', { textContent: 'h1 { color: red }' });
          add('iframe', { src: 'https://elsewhere.test/' });
          await new Promise((done) => setTimeout(done, 300));
          return [window.ran ?? null, stopped.sort()];
        }"""
    )
    directives = ["connect-src", "frame-src", "img-src", "script-src-elem", "style-src-elem"]
    assert stopped == [None, directives]
    assert page.asked == [PLACE]  # type: ignore[attr-defined]


HOSTILE = (
    "</title></script><script>window.ran=1</script><img src=x onerror=window.ran=1>\"'&\u202edlog"
)


def test_hostile_names_are_shown_as_text(opened: Open, card: Data) -> None:
    data = deepcopy(card)
    data |= {"title": HOSTILE, "lot": HOSTILE, "directions": [HOSTILE], "url": "javascript:ran=1"}
    data["first_in"] = [HOSTILE]
    page = opened(data, ANSWERED)
    assert page.locator("h1").text_content() == HOSTILE
    assert page.title() == HOSTILE
    assert text(page).count("window.ran=1>") == 2
    isolated = "getComputedStyle(document.querySelector('h1 bdi')).unicodeBidi"
    assert page.evaluate(isolated) == "isolate"
    lost = opened(data, "lot=%E2%80%AEx")
    assert "\u2068\u202ex\u2069" in lost.inner_text("main"), "it turns nothing but itself"
    assert page.evaluate("window.ran ?? null") is None
    counted = "['script', 'img', 'a'].map((tag) => document.getElementsByTagName(tag).length)"
    assert page.evaluate(counted) == [3, 0, 0]
    assert "not for lot <img src=x" in text(opened(data, "lot=<img src=x onerror=ran=1>"))


SACHETS_G = {"grams": None, "sachets": 5.0, "small sachets": 0.3}


def test_a_child_pours_in_portions_and_looks(opened: Open, card: Data) -> None:
    """As many as the card's own dose holds, each no larger than its first portion."""
    row, node = pad_row(card, "180"), card["litres"].index(90.0)
    first = whole(card["first"]["child"][row][node])
    count = math.floor(whole(card["dose"]["child"][row][node]) / first + 1e-9)
    assert count > 1
    page = opened(card, "strip=180&mark=half&who=child")
    assert heading(page) == f"Pour {count} × {first:g} g"
    assert "Pour the next only if the colour has not turned." in text(page)
    assert f"{first:g} g citric acid" in text(page)


@pytest.mark.parametrize("sachet_g", SACHETS_G.values(), ids=list(SACHETS_G))
def test_the_page_never_allows_more_than_the_table(
    opened: Open, card: Data, sachet_g: float | None
) -> None:
    data = card | {"sachet_g": sachet_g}
    # A child without a reading gets nothing even where the table would have it.
    for table in ("limit", "dose", "why", "more", "portions", "first", "ph_low", "ph_high"):
        data[table] = card[table] | {"child": card[table]["adult"]}
    page = opened(data)
    first, last = data["litres"][0], data["litres"][-1]
    grid = [first - 0.1, *(first + 0.7 * k for k in range(round((last - first) / 0.7))), last + 0.1]
    sought = {"litres": [round(litres, 2) for litres in grid], "sizes": ["100x50x20"]}
    found = json.loads(page.evaluate(EVERY, sought))
    assert len(found) > 1000
    assert any(cell["dose"] > 0 for cell in found)
    for cell in found:
        at = corners(data, cell["litres"])
        limits = data["limit"][cell["who"]][cell["row"]]
        limit = min(limits[at[0]], limits[at[1]]) if at else 0.0
        if cell["zero"] or (cell["who"] == "child" and cell["by"] == "none"):
            limit = 0.0
        assert max(cell["dose"] + cell["more"], cell["most"]) <= limit + 1e-8, cell
        assert (cell["dose"] > 0) == (not cell["why"]), cell
        if cell["dose"]:
            step = sachet_g if sachet_g else 1.0 if cell["portion"] >= 5 else 0.1
            assert cell["portion"] / step == pytest.approx(round(cell["portion"] / step), abs=1e-9)
            assert cell["dose"] == pytest.approx(cell["times"] * cell["portion"])
            doses = data["dose"][cell["who"]][cell["row"]]
            highest = max(doses[at[0]], doses[at[1]]) if at else 0.0
            assert cell["dose"] <= highest + 1e-8, cell


def test_spoons_are_never_more_than_the_dose(opened: Open, card: Data) -> None:
    """Quarters of level spoons, counted as though each held its densest."""
    data = card | {"powder": [{"label": "citric acid", "share": 1.0, "g_per_tsp": 5.0}]}
    page = opened(data)
    for grams in (1.2, 1.3, 4.9, 5, 12, 13, 26):
        lines = page.evaluate("window.card.powders", grams)
        spoons = re.search(r"or (\d*)([¼½¾]?) level", lines[0])
        if spoons is None:
            assert grams < 5.0 / 4
            continue
        count = int(spoons[1] or 0) + {"": 0.0, "¼": 0.25, "½": 0.5, "¾": 0.75}[spoons[2]]
        assert 5.0 * count <= grams < 5.0 * (count + 0.25)


NO_DOSE = {
    "a strip at 0": ("strip=0&mark=half&who=adult", "Water that shows 0"),
    "no drop": ("drops=0&mark=half&who=adult", "Water that shows 0"),
    "a child without a reading": ("none=hard&mark=half&who=child", "Without a strip or drops"),
    "too little water": ("strip=120&litres=2&who=adult", "This card holds for"),
    "too much water": ("strip=120&litres=2000&who=adult", "This card holds for"),
    "another lot": ("lot=other&" + ANSWERED, "not for lot other"),
    "another edition": ("edition=9x&" + ANSWERED, "not edition 9x"),
}


@pytest.mark.parametrize(("fragment", "why"), NO_DOSE.values(), ids=list(NO_DOSE))
def test_no_dose_is_shown_where_none_may_be(
    opened: Open, card: Data, fragment: str, why: str
) -> None:
    page = opened(card, fragment)
    assert heading(page) == "Pour nothing"
    assert why in text(page)
    assert why in said(page)
    assert not re.search(r"\d\s*g\b", text(page))


def test_a_card_past_its_date_or_before_it_gives_no_dose(opened: Open, card: Data) -> None:
    made = date.fromisoformat(card["made"])
    data = card | {"use_by": (made + timedelta(days=30)).isoformat()}
    last = made + timedelta(days=30)
    assert re.fullmatch(r"Pour \d+ g", heading(opened(data, ANSWERED, last)))
    past = opened(data, ANSWERED, last + timedelta(days=1))
    assert heading(past) == "Pour nothing"
    assert "Its date has passed" in text(past)
    assert "date on this device" in said(opened(data, ANSWERED, made - timedelta(days=3)))


def test_the_right_lot_in_the_fragment_opens_the_card(opened: Open, card: Data) -> None:
    data = card | {"lot": "K7", "edition": "2"}
    assert heading(opened(data, "lot=K7&edition=2")) == "What does the strip show?"
    assert heading(opened(card | {"lot": None}, "lot=K7")) == "Pour nothing"


@pytest.mark.parametrize("text", ["-5", "1e3", "Infinity", "0", "", "100abc", "%00", "NaN"])
def test_a_fragment_that_is_no_number_is_asked_again(opened: Open, card: Data, text: str) -> None:
    assert heading(opened(card, f"strip=120&litres={text}")) == "How full is the tub?"
    assert heading(opened(card, f"drops={text}x")) == "What does the strip show?"


def test_sachets_are_whole_and_opened_one_by_one(opened: Open, card: Data) -> None:
    dose, limit = half_full(card, "dose"), half_full(card, "limit")
    page = opened(card | {"sachet_g": dose / 2.5}, ANSWERED)
    assert heading(page) == "Pour 2 sachets"
    assert f"Never more than {math.floor(limit / (dose / 2.5))} sachets" in text(page)
    assert "Open the next only if" in text(page)
    large = opened(card | {"sachet_g": dose * 1.01}, ANSWERED)
    assert heading(large) == "Pour nothing"
    assert "whole sachet is too much" in text(large)


def test_gallons_and_inches_are_turned_into_litres(opened: Open, card: Data) -> None:
    """A US gallon is 231 cubic inches, 3.785411784 L (NIST Handbook 44, appendix C)."""
    data = card | {"units": "us", "measured_share": 0.5}
    page = opened(data, "strip=120&way=volume")
    page.get_by_role("textbox", name="Water").fill("25")
    page.get_by_role("button", name="Go on").click()
    assert "litres=94.64" in page.url
    assert page.get_by_role("button", name="Change: Tub, 25 gal").count() == 1
    page.goto(f"{PLACE}#strip=120&way=measured")
    for label, inches in (("Length", "55"), ("Width", "21"), ("Depth of the water", "10")):
        page.get_by_role("textbox", name=label).fill(inches)
    page.get_by_role("button", name="Go on").click()
    # 55 × 21 × 10 in³, of which the tub's slanting walls leave half.
    gallons = 0.5 * 55 * 21 * 10 / 231
    assert page.get_by_role("button", name=f"Change: Tub, {gallons:.0f} gal").count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_every_step_is_clean_by_the_accessibility_rules(
    opened: Open, card: Data, language: str, scheme: str
) -> None:
    data = card | {"language": language}
    page = opened(data, color_scheme=scheme, reduced_motion="reduce")
    assert page.locator("html").get_attribute("lang") == language
    for name, fragment in STEPS.items():
        page.goto(f"{PLACE}#{fragment}")
        broken = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
        report = [(rule["id"], rule["nodes"][0]["html"]) for rule in broken.response["violations"]]
        assert report == [], name


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_every_target_is_large_and_nothing_runs_over_the_side(
    opened: Open, card: Data, width: int
) -> None:
    data = card | {"title": "Anabendlicheslavendelmeerwasserbad" * 2}
    for language in ("en", "de"):
        page = opened(data | {"language": language}, viewport={"width": width, "height": 640})
        for name, fragment in STEPS.items():
            page.goto(f"{PLACE}#{fragment}")
            assert page.evaluate("document.documentElement.scrollWidth") <= width, name
            sizes = page.evaluate(
                """() => [...document.querySelectorAll('button, input')].map((one) => {
                const box = one.getBoundingClientRect();
                return [one.textContent, box.width, box.height]; })"""
            )
            assert [each for each in sizes if min(each[1:]) < LEAST_TARGET] == [], name


def test_the_water_turns_only_for_who_wants_motion(opened: Open, card: Data) -> None:
    running = "document.getAnimations().length"
    assert opened(card, ANSWERED, reduced_motion="no-preference").evaluate(running) > 0
    assert opened(card, ANSWERED, reduced_motion="reduce").evaluate(running) == 0


def test_the_tub_shows_the_colours_of_the_table(opened: Open, card: Data) -> None:
    """At the table's own pH and strength the water has the colour that stands there."""
    page = opened(card)
    total = card["strength_total"]
    hexes = []
    for column in card["colour"]["strength_depth"]:
        litres = 100.0
        depth = column * litres / total
        for ph in card["colour"]["ph"]:
            fill = {"litres": litres, "depth": depth or 1e-9}
            hexes.append(page.evaluate("([ph, fill]) => window.card.colour(ph, fill)", [ph, fill]))
    table = zip(*card["colour"]["hex"], strict=True)
    assert hexes == [one.lower() for column in table for one in column]


def test_letters_on_water_are_read(opened: Open, card: Data) -> None:
    """WCAG 2.2, 1.4.3: at least 4.5 to 1, in any colour that the water may have."""
    page = opened(card)
    greys = [f"#{level:02x}{level:02x}{level:02x}" for level in range(256)]
    for water in {*greys, *(one for row in card["colour"]["hex"] for one in row)}:
        ink = page.evaluate("(water) => window.card.inkOn(water)", water)
        lighter, darker = sorted(map(luminance, (water, ink)), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 4.5, water


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_ph_is_that_of_the_table_at_its_nodes(opened: Open, card: Data) -> None:
    page = opened(card)
    row, node = pad_row(card, "120"), 2
    litres, doses = card["litres"][node], card["ph"]["grams_per_litre"][row]
    ask = "([row, litres, grams]) => window.card.ph(row, litres, grams)"
    found = [page.evaluate(ask, [row, litres, dose * litres]) for dose in doses]
    assert found == pytest.approx(card["ph"]["rows"][row][node], abs=1e-9)


def test_without_script_the_table_is_read(opened: Open, card: Data) -> None:
    page = opened(card, java_script_enabled=False)
    cells = page.locator("td").all_inner_texts()
    strips, marks = len(card["readings"]["strip"]), len(card["marks"])
    assert len(cells) == strips * marks * len(card["bathers"])
    assert all(re.fullmatch(r"–|(\d × )?[\d.]+\s(g|sachets?)", cell) for cell in cells), cells
    shown = text(page)
    assert "Plain tap water, nothing added" in shown
    assert all(caution["text"] in shown for caution in card["cautions"])
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_on_paper_the_answer_stands_without_buttons(opened: Open, card: Data) -> None:
    page = opened(card, ANSWERED, reduced_motion="no-preference")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.querySelector('.after')).opacity") == "1"
    assert page.locator(".ends").is_hidden()
    assert page.locator(".dose").is_visible()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"


def test_each_caution_stands_where_it_belongs(opened: Open, card: Data) -> None:
    shown = text(opened(card, ANSWERED))
    not_for = shown.split("Who should not")[1]
    for_adults = {each["text"] for each in card["cautions"] if "adult" in each["bathers"]}
    for caution in card["cautions"]:
        assert (caution["text"] in shown) == (caution["text"] in for_adults), caution
    barring = [each for each in card["cautions"] if each["code"].startswith("bathers")]
    assert barring
    assert all(each["text"] in not_for for each in barring if "adult" in each["bathers"])


@pytest.mark.parametrize(
    ("fragment", "kept"),
    [
        ("strip=120&mark=half", {"pad": 120.0}),
        ("drops=6&litres=90", {"drops": 6, "drop_ppm": None, "litres": 90.0}),
        ("none=middling&litres=90", {"town": "middling"}),
    ],
)
def test_the_colour_that_came_is_a_line_for_the_book(
    opened: Open, card: Data, tmp_path: Path, fragment: str, kept: Data
) -> None:
    page = opened(card, f"{fragment}&who=adult")
    swatches = page.locator(".came button")
    labels = [swatches.nth(k).get_attribute("aria-label") for k in range(swatches.count())]
    assert len(set(labels)) == len(labels) == 5
    swatches.nth(4).click()
    line = page.get_by_label("Line to copy").input_value()
    assert page.evaluate("getSelection().toString()") == line
    with open_book(tmp_path / "book.sqlite", create=True) as book:
        day = date.fromisoformat(card["made"]) + timedelta(days=1)
        entry = add(book, Line([line], {"home": "our tub"}), day).entry
    shown = page.evaluate(
        "getComputedStyle(document.querySelectorAll('.came button')[4]).backgroundColor"
    )
    red, green, blue = re.findall(r"\d+", shown)
    assert entry.fields["came"] == f"#{int(red):02x}{int(green):02x}{int(blue):02x}"
    assert entry.day == day.isoformat()
    assert heading(page) == f"Pour {entry.fields['grams']:g} g"
    for name, value in kept.items():
        assert entry.fields[name] == (value or card["readings"]["drops"]["unit_ppm"])
    # Pressed again it is the other colour; nothing left the page.
    swatches.nth(0).click()
    assert page.get_by_label("Line to copy").input_value() != line
    assert page.locator(".came [aria-current]").count() == 1
    broken = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
    assert [rule["id"] for rule in broken.response["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert (page.asked, page.evaluate("window.touched")) == ([PLACE], [])  # type: ignore[attr-defined]


def test_the_languages_say_the_same_things() -> None:
    words = {language: read_toml(f"text/{language}/card.toml") for language in ("en", "de")}
    assert words["en"].keys() == words["de"].keys()
    for key, sentence in words["en"].items():
        names = [sorted(re.findall(r"{\w+}", words[language][key])) for language in words]
        assert names[0] == names[1], (key, sentence)


def test_the_page_stays_small(page_of: Callable[[Data], str], card: Data) -> None:
    assert len(page_of(card).encode()) <= 150_000
    lines = "".join(read_text(f"page/card.{kind}") for kind in ("css", "js")).splitlines()
    bare = [line.strip() for line in lines]
    code = [line for line in bare if line and not line.startswith(("//", "/*"))]
    assert len(code) <= 600
