"""A design in sentences: what terminal and picture say in the same words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from dosing.effects.answer import Effects
from dosing.effects.designs import Design, DesignedColour, WordSight, labels
from dosing.effects.shelf import DROPS_BELOW_ML
from dosing.effects.task import End
from dosing.ingredients.powders import powder, scale_step
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import Caution, rounded_outwards
from dosing.plan.records import Sight
from dosing.words import wording
from dosing.words.lines import Line, bullets, headed, titled, under
from indicator.notes import Value, listed, say, sentence
from indicator.words import change_level

HARDLY = 0.4
"""Share of the draws below which a design will hardly come out."""
INSIDE = (
    "design.note.bottle",
    "design.note.own-acid",
    "design.note.own-acid-left-out",
    "warn.bath.chalk",
)
"""Notes that belong to one design alone; the others are told once for all."""
STAINS = "design.note.stains"
TINGED = 0.15
"""Share of the votes for another word from which a colour is told to be tinged with it."""
MOSTLY = 0.5
"""Share of the votes of names with the very word in them, below which people may say another."""
SURE = ((0.9, "very-likely"), (0.67, "likely"), (0.4, "even"))
"""Share of the draws from which a word is used."""


def title(effects: Effects) -> str:
    """The bath and both wishes."""
    named: dict[str, Value] = {"start": effects.start.text, "end": effects.end.text}
    return say("design.title", {**named, "title": effects.inputs.title})


def setting_line(effects: Effects) -> str:
    """The tub, and for whom it is judged."""
    values: dict[str, Value] = {
        "volume": wording.litres(effects.volume_l),
        "depth": wording.centimetres(effects.depth_cm),
        "temperature": effects.inputs.water_temperature_c,
    }
    vessel = say(f"plan.vessel.{effects.inputs.wish.view}", values)
    told = {"vessel": vessel, "bathers": say(f"design.for.{effects.bathers}")}
    return say("design.setting", told)


def outcome(effects: Effects) -> str:
    """Whether and how often it can be done."""
    done = sum(design.reached for design in effects.designs)
    if done and all(design.sure_share < HARDLY for design in effects.designs if design.reached):
        return say("design.found-unsure")
    if done == 1:
        return say("design.found-one")
    if done:
        return say("design.found-many", {"count": done})
    return say("design.nearest" if effects.designs else "design.nothing")


def colours_line(design: Design) -> str:
    """Both colours by their published names, each with its pH."""
    values: dict[str, Value] = {
        "before": wording.colour_name(design.before),
        "ph_before": design.before.ph,
        "after": wording.colour_name(design.after),
        "ph_after": design.after.ph,
    }
    return say("design.row", values)


def doubtful_words(design: Design, effects: Effects) -> list[str]:
    """Where a colour that counts as wished is only half so: what else people would call it.

    Parameters
    ----------
    design : Design
        One of the designs.
    effects : Effects
        With the wishes.

    Returns
    -------
    list of str
    """
    ends = (
        ("start", effects.start, design.before, design.start_words),
        ("end", effects.end, design.after, design.end_words),
    )
    told = (_doubtful_word(*end) for end in ends)
    return [text for text in told if text is not None]


def _doubtful_word(which: str, wish: End, sight: Sight, words: WordSight) -> str | None:
    if wish.word is None or words.called is None or str(sight.colour.word) != wish.word:
        return None
    values: dict[str, Value] = {"which": say(f"design.which-{which}"), "word": wish.word}
    other, other_share = next(pair for pair in words.votes if pair[0] != wish.word)
    if other_share >= TINGED:
        shares: dict[str, Value] = {
            "tint": say(f"design.tinge.{other}"),
            "word": _shaded(wish.word, words.shade),
            "plain": wish.word,
            "share": 100.0 * words.certainty,
            "other": other,
            "other_share": 100.0 * other_share,
        }
        return say("design.tinged", {**values, **shares})
    if words.called < MOSTLY or words.shade is not None:
        return say("design.called-other", {**values, "name": words.shade or str(sight.colour.name)})
    return None


def _shaded(word: str, shade: str | None) -> str:
    return word if shade is None else say("design.shaded", {"shade": shade, "word": word})


def colour_line(colour: DesignedColour) -> str:
    """Line on how much of a colour is poured, and the petals in it."""
    values: dict[str, Value] = {
        "amount": _amount(colour),
        "colour": colour.colourant.label,
        "strength": colour.stock.written,
    }
    if colour.stock.is_dye:
        return say("design.colour-dye", values)
    if colour.grams is None:
        return say("design.colour-infusion-measured", values)
    petals = f"{wording.two_figures(colour.grams)} g"
    return say("design.colour-infusion", {**values, "petals": petals})


def _amount(colour: DesignedColour) -> str:
    shown: dict[str, Value] = {"millilitres": f"{colour.amount_ml:g}"}
    if colour.stock.is_dye and colour.amount_ml < DROPS_BELOW_ML:
        drops = colour.amount_ml / typical("drop_volume").value
        return say("design.drops", {**shown, "drops": drops})
    return say("design.millilitres", shown)


def shown_designs(effects: Effects) -> list[Design]:
    """Every design that is shown."""
    return list(effects.designs)


def stock_lines(effects: Effects) -> list[str]:
    """Lines on how to make each infusion and solution, said once for each strength."""
    colours: dict[tuple[str, str], dict[str, DesignedColour]] = {}
    for design in shown_designs(effects):
        for colour in design.colours:
            code = (
                "dye" if colour.stock.is_dye else "bottle" if colour.grams is None else "infusion"
            )
            colours.setdefault((code, colour.stock.written), {})[colour.name] = colour
    return [_stock_line(code, list(alike.values())) for (code, _), alike in colours.items()]


def _stock_line(code: str, alike: list[DesignedColour]) -> str:
    grams = alike[0].stock.grams_per_l or 0.0
    values: dict[str, Value] = {
        "colours": listed([colour.colourant.label for colour in alike]),
        "strength": alike[0].stock.written,
        "grams": f"{wording.two_figures(grams)} g",
    }
    return say(f"design.stock-{code}", values)


def shared_cautions(effects: Effects) -> list[Caution]:
    """Cautions that hold for every design that is to be poured, the heaviest first."""
    poured = list(effects.designs)
    if not poured:
        return []
    others = [_messages(design) for design in poured]
    return [
        caution for caution in poured[0].cautions if all(caution.message in told for told in others)
    ]


def cautions_heading(effects: Effects) -> str:
    """Code of the heading over the cautions that are told once."""
    return "plan.heading.cautions"


def own_cautions(design: Design, effects: Effects) -> list[Caution]:
    """Cautions of a design that are not told for all; all of them where nobody bathes in it.

    Parameters
    ----------
    design : Design
        One of the designs.
    effects : Effects
        All of them.

    Returns
    -------
    list of Caution
    """
    shared = {caution.message for caution in shared_cautions(effects)}
    return [caution for caution in design.cautions if caution.message not in shared]


def _messages(design: Design) -> set[str]:
    return {caution.message for caution in design.cautions}


def next_lines(effects: Effects, written: str | None = None) -> Iterator[str]:
    """Commands to run before anything is poured, as sentences.

    Parameters
    ----------
    effects : Effects
        The designs.
    written : str, optional
        The recipe file that one of them was written to.

    Returns
    -------
    iterator of str
    """
    if written is not None:
        yield say("design.next-written", {"file": written})
    elif effects.designs:
        yield say("design.next")


def dose_line(design: Design) -> str:
    """The activator, rounded down so that no gate is passed."""
    step = scale_step(design.dose_g)
    values: dict[str, Value] = {
        "grams": wording.grams(math.floor(design.dose_g / step + 1e-9) * step, step),
        "powder": listed([powder(name).label for name, _ in design.activator]),
    }
    return say("design.dose", values)


def sides_line(design: Design) -> str:
    """The pH in the possible tubs, with the caution level where there is one."""
    text = say("design.sides", _sides(design))
    if design.level == "ok":
        return text
    mark = wording.MARKS[design.level]
    return text + say("design.mark", {"mark": mark, "level": wording.level(design.level)})


def _sides(design: Design) -> dict[str, Value]:
    return {
        "acid": rounded_outwards(design.ph_acid_side, down=True),
        "alkaline": rounded_outwards(design.ph_alkaline_side, down=False),
    }


def past_line(design: Design) -> str | None:
    """In how many tubs the pH passes the limit, as the plan of it tells; None where in none."""
    if design.past_limit_share < wording.RARE or design.not_for_bathing:
        return None
    return say("design.past", {"times": wording.of_hundred(design.past_limit_share)})


def lines(design: Design, effects: Effects) -> list[str]:
    """Everything that terminal and picture say of a design under its colours.

    Parameters
    ----------
    design : Design
        One of the designs.
    effects : Effects
        All of them.

    Returns
    -------
    list of str
    """
    told = [colour_line(colour) for colour in design.colours]
    told += [dose_line(design), sides_line(design)]
    past = past_line(design)
    told += [] if past is None else [past]
    told += [judged_line(design), *doubtful_words(design, effects)]
    told.append(wording.verdicts_line(design.verdicts, effects.inputs.wish.market))
    if design.reached:
        told.append(sure_line(design))
    if design.price is not None:
        told.append(price_line(design))
    inside = (sentence(note) for note in design.notes if note.code in INSIDE)
    told += [say("plan.bullet", {"text": text}) for text in inside]
    return told + [wording.caution_line(caution) for caution in own_cautions(design, effects)]


def judged_line(design: Design) -> str:
    """Which of the wishes is met, and whether the change is seen."""
    kind = {(True, True): "both", (True, False): "start", (False, True): "end"}
    met = say(f"design.met-{kind.get((design.start_met, design.end_met), 'none')}")
    for which, away in (("start", design.start_delta_e), ("end", design.end_delta_e)):
        if away is not None:
            off: dict[str, Value] = {"which": say(f"design.which-{which}"), "away": away}
            met += say("plan.comma") + say("design.met-away", off)
    level = str(change_level(design.change_delta_e)).replace(" ", "-")
    # Not rounded up: 9.7 is not yet the 10 from which a change is obvious.
    change = say(f"design.change.{level}", {"delta_e": math.floor(design.change_delta_e)})
    return say("design.judged", {"met": met, "change": change})


def sure_line(design: Design) -> str:
    """Sentence on how sure the design is, by the pigments and by the water."""
    word = next((name for share, name in SURE if design.sure_share >= share), "unlikely")
    how: dict[str, Value] = {
        "how": say(f"design.how.{word}"),
        "share": math.floor(100.0 * design.sure_share),
    }
    tubs: dict[str, Value] = {"share": math.floor(100.0 * design.tubs_share)}
    both = {"pigment": say("design.pigment", how), "tubs": say("design.tubs", tubs)}
    return say("design.sure", both)


def price_line(design: Design) -> str:
    """Sentence on what it costs, and what has no price."""
    values: dict[str, Value] = {"price": design.price or 0.0}
    if not design.unpriced:
        return say("design.price", values)
    colours = {colour.name: colour.colourant.label for colour in design.colours}
    names = [colours[name] if name in colours else powder(name).label for name in design.unpriced]
    return say("design.price-without", {**values, "unpriced": listed(names)})


def design_lines(effects: Effects, file: str | None) -> Iterator[Line]:
    """Lines of ``design``: designs from a start colour to an end colour, the best first.

    Parameters
    ----------
    effects : Effects
        The answer.
    file : str, optional
        Where a recipe was to be written: it is where there is a design.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from titled(title(effects))
    yield Line(setting_line(effects))
    yield Line()
    yield from titled(outcome(effects))
    yield from bullets(caution.message for caution in effects.blocked)
    for rank, design in enumerate(effects.designs, start=1):
        heading = say("design.head", {"rank": rank, "colours": labels(design)})
        yield from _design(design, effects, heading)
    needed = [note for note in effects.needed if not note.code.startswith("caution.")]
    yield from bullets(needed, "design.heading-needed")
    shared = map(wording.caution_line, shared_cautions(effects))
    yield from under(shared, cautions_heading(effects), hang=4)
    yield from bullets(stock_lines(effects), "design.heading-stocks")
    yield from bullets(_of_the_colours(effects), "design.heading-notes")
    yield from bullets(effects.warnings, "design.known")
    written = file if effects.designs else None
    yield from bullets(next_lines(effects, written), "design.heading-next")
    priced = any(design.price is not None for design in shown_designs(effects))
    closing = [say("design.money")] if priced else []
    if file is not None:
        closing.append(say(f"design.{'written' if written else 'not-written'}", {"file": file}))
    for text in closing:
        yield from (Line(), Line(text))


def _design(design: Design, effects: Effects, heading: str) -> Iterator[Line]:
    yield from headed(heading)
    if design.not_for_bathing:
        yield Line(say("plan.not-for-bathing"), 3, bold=True)
    before, after = str(design.before.colour.hex), str(design.after.colour.hex)
    yield Line(colours_line(design), 3, hexes=(before, after))
    yield Line(say("design.hexes", {"before": before, "after": after}), 3)
    yield from under(lines(design, effects), indent=3)


def _of_the_colours(effects: Effects) -> list[str]:
    """What holds for colours of several designs, once."""
    every = [note for design in shown_designs(effects) for note in design.notes]
    general = {sentence(note): note for note in every if note.code not in INSIDE}
    stains = [str(note.values["colour"]) for note in general.values() if note.code == STAINS]
    rest = [sentence(note) for note in general.values() if note.code != STAINS]
    return [*rest, say("design.stain-all", {"colours": listed(stains)})] if stains else rest
