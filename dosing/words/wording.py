"""A plan in sentences: what terminal, picture and paper say in the same words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from dosing.bath.jugs import Jugs
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.powders import LEAST_SPOON, powder, scale_step, spoon_words
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.plan.brewing import TintAmount
from dosing.plan.cautions import Caution, Verdict, Verdicts, exit_code
from dosing.plan.cautions import heaviest_first as heaviest_first
from dosing.plan.households import DOES_NOT_TURN, PAST_LIMIT, TURNS, Home
from dosing.plan.levels import rounded_outwards
from dosing.plan.next_reading import NextStep, finest_drop_ppm
from dosing.plan.records import LEAST_DRIFT_PH, ColourAmount, Later, Plan, Sight
from indicator.notes import Value, say, sentence
from indicator.words import change_level, visibility_level

MARKS = {"ok": "", "mind": "!", "justify": "!!", "stop": "X"}
"""Each caution level has a mark beside its word, so that no colour need carry it."""
WITH_REASON = (
    "bicarbonate-sold",
    "colour-certified",
    "colour-market-unknown",
    "colour-unclear-sale",
    "colour-unknown-sale",
    "colour-unlisted-sale",
    "homes-too-alkaline",
    "homes-too-sour",
    "unpreserved-given",
)
"""Cautions that a verdict names in a few words; others stand among the cautions."""
RARE, ALMOST_ALL = 0.01, 0.95
"""Shares of the possible tubs: from where a thing is told, and from where it is nearly all."""
SMALLEST_CAUSE = 0.03
LIKELY = 0.5
"""Share of the possible tubs below which what is expected is told with its doubt."""
MOST_SPOONS = 60.0
"""Nobody counts more teaspoons than these."""
STOCK_ML_PER_G = 200.0
"""Of the solution in which what no spoon holds is measured out: 5 g in a litre."""


def grams(mass: float, step: float | None = None) -> str:
    """A mass as a scale shows it: whole grams, tenths below five, hundredths below half a gram.

    Parameters
    ----------
    mass : float
        [g].
    step : float, optional
        Of the scale [g]; that of a kitchen for the mass if not given.

    Returns
    -------
    str
    """
    places = {1.0: "whole", 0.1: "tenth", 0.01: "hundredth"}
    return say(f"plan.grams-{places[step or scale_step(mass)]}", {"grams": mass})


def litres(volume: float) -> str:
    """A volume: whole litres, tenths below ten, millilitres below one."""
    if volume < 1:
        return say("plan.millilitres", {"millilitres": 1000.0 * volume})
    return say("plan.litres-whole" if volume >= 10 else "plan.litres-tenth", {"litres": volume})


def verdicts_line(verdicts: Verdicts, market: str) -> str:
    """Whether it may be poured, given and sold, each with its reason in a few words.

    Parameters
    ----------
    verdicts : Verdicts
        On pouring, giving and selling.
    market : str
        Where it would be sold.

    Returns
    -------
    str
    """
    return say(
        "verdict.line",
        {
            "pour": _verdict(verdicts.pour),
            "give": _verdict(verdicts.give),
            "sell": _verdict(verdicts.sell),
            "market": "" if market == "other" else say("verdict.market", {"market": market}),
        },
    )


def _verdict(verdict: Verdict) -> str:
    answer = say(f"verdict.{'yes' if verdict.allowed else 'no'}-{verdict.level}")
    why = say(f"verdict.because.{verdict.because}") if verdict.because in WITH_REASON else ""
    return f"{answer}{why}"


def spoons(teaspoons: float) -> str:
    """Level spoons in words."""
    return sentence(spoon_words(teaspoons))


def centimetres(depth_cm: float) -> str:
    """A depth, of little water to the tenth."""
    return say("plan.cm-whole" if depth_cm >= 3 else "plan.cm-tenth", {"cm": depth_cm})


def vessel(plan: Plan) -> str:
    """Sentence on how much water there is, how warm, how deep and how it is looked at."""
    values: dict[str, Value] = {
        "volume": litres(plan.volume_l),
        "depth": centimetres(plan.depth_cm),
        "temperature": plan.temperature_c,
    }
    return say(f"plan.vessel.{plan.vessel}", values)


def noun(plan: Plan) -> str:
    """Noun for the vessel."""
    # What is dosed is the tub, through whatever glass it is looked at.
    bath = plan.volume_l >= typical("least_tub").value
    return say("plan.noun.tub" if bath else f"plan.noun.{plan.vessel}")


def powders(plan: Plan) -> str:
    """The activator by its names."""
    return say("plan.and").join(powder(name).label for name, _ in plan.activator)


def blend(plan: Plan) -> str | None:
    """The shares of a blend; None of a single powder."""
    if len(plan.activator) == 1:
        return None
    shares = say("plan.comma").join(
        say("plan.share", {"share": share, "powder": powder(name).label})
        for name, share in plan.activator
    )
    return say("plan.blend", {"shares": shares})


def aim(plan: Plan) -> str:
    """The dose to the step of a scale, rounded down where rounding up would pass the most."""
    return grams(plan.pour_g or plan.dose_g.best)


def dose(plan: Plan) -> str:
    """Sentence on how much to pour."""
    best = plan.dose_g.best
    values: dict[str, Value] = {
        "grams": aim(plan),
        "powder": powders(plan),
        "vessel": noun(plan),
    }
    if best <= 0:
        return say("plan.no-dose", values)
    if plan.forbidden:
        return say("plan.aim-forbidden", values)
    if plan.wish.kind == "dose":
        return say("plan.given", values)
    return say("plan.aim" if plan.wish_met else "plan.aim-nearest", {**values, "most": most(plan)})


def most(plan: Plan) -> str:
    """The printed maximum, never rounded up."""
    return grams(plan.never_over_g)


def spoon_words_beside(plan: Plan) -> str:
    """The dose in spoons for beside a figure, or that it is to be weighed."""
    if plan.spoons.teaspoons >= LEAST_SPOON and plan.spoons_keep_limit:
        return spoons(plan.spoons.teaspoons)
    return say("plan.weigh-it")


def spoon_dose(plan: Plan) -> str:
    """The dose in level spoons, or the advice to weigh where spoons could pass the limit."""
    measured = plan.spoons
    off = max(measured.teaspoons_high / measured.teaspoons, 1.0) - 1.0
    off = max(off, measured.teaspoons / measured.teaspoons_low - 1.0)
    # A hand fills no two spoons alike, however evenly the powder packs.
    off = max(off, reading_spread("mass", "spoon").sd_relative)
    values: dict[str, Value] = {"spoons": spoons(measured.teaspoons), "off": off}
    if measured.teaspoons > MOST_SPOONS:
        return say("plan.spoons-many")
    if measured.teaspoons < LEAST_SPOON:
        values |= {"each": STOCK_ML_PER_G, "millilitres": STOCK_ML_PER_G * plan.dose_g.best}
        return say("plan.spoons-none", values)
    return say("plan.spoons" if plan.spoons_keep_limit else "plan.spoons-coarse", values)


def dose_range(plan: Plan) -> str:
    """Sentence on the range that the readings leave to the dose."""
    open_to: dict[str, Value] = {
        "low": grams(plan.dose_g.low),
        "high": grams(plan.dose_g.high),
        "coverage": plan.dose_g.coverage,
    }
    return say("plan.range", open_to)


def odds(plan: Plan) -> list[str]:
    """In how many tubs that fit the readings the plan comes true, and passes its limit."""
    if plan.wish.kind == "dose" or plan.forbidden:
        return []
    wished = {"none": "change", "ph": "ph"}.get(plan.wish.kind, "wish")
    texts = []
    if plan.reached or plan.wish.kind == "none":
        texts.append(say(f"plan.odds.{wished}", {"times": _of_ten(plan.odds.reached_share)}))
    if plan.odds.past_limit_share >= RARE:
        texts.append(say("plan.odds.past", {"times": of_hundred(plan.odds.past_limit_share)}))
    return texts


def _of_ten(share: float) -> str:
    tenths = round(10 * share)
    if tenths == 10 and share < ALMOST_ALL:
        tenths = 9
    return say(f"plan.odds.of-ten-{ {0: 'none', 10: 'all'}.get(tenths, 'some') }", {"n": tenths})


def of_hundred(share: float) -> str:
    """A share of the possible tubs, of a hundred of them; what is told is never none."""
    return say("plan.odds.of-hundred", {"n": max(1, round(100 * share))})


def range_causes(plan: Plan) -> list[str]:
    """Sentence on what the range of the dose comes from."""
    named = [cause for cause in plan.variance_shares if cause.share >= SMALLEST_CAUSE]
    if not named or plan.wish.kind == "dose":
        return []
    parts = [
        say("plan.cause", {"reading": say(f"plan.causes.{cause.reading}"), "share": cause.share})
        for cause in named
    ]
    return [say("plan.causes-line", {"parts": say("plan.comma").join(parts)})]


def ph_sides(plan: Plan) -> str:
    """The pH to expect, and the two sides it may fall to, with their colours where they differ."""
    sides: dict[str, Value] = {
        "acid": rounded_outwards(plan.ph_acid_side, down=True),
        "alkaline": rounded_outwards(plan.ph_alkaline_side, down=False),
        "ph": plan.after.ph,
    }
    names = [colour_name(side) for side in (plan.after_acid_side, plan.after_alkaline_side)]
    if all(name == colour_name(plan.after) for name in names):
        return say("plan.sides", sides)
    colours: dict[str, Value] = {"acid_colour": names[0], "alkaline_colour": names[1]}
    return say("plan.sides-coloured", {**sides, **colours})


def pouring(plan: Plan) -> tuple[str, list[str], str | None]:
    """Sentences on how to pour: all of it, the portions one by one, and the end."""
    who = "show" if plan.not_for_bathing else "bath"
    stir = stirring(dict(plan.activator))
    if len(plan.pours) == 1:
        once: dict[str, Value] = {"mix": mixing(aim(plan), plan.jugs), "stir": stir}
        return say(f"plan.pour-once.{who}", once), [], None
    portions, step = [], plan.scale_step_g
    for number, pour in enumerate(plan.portions, 1):
        code = "plan.portion" if plan.spoons_keep_limit else "plan.portion-weighed"
        values: dict[str, Value] = {
            "number": number,
            "grams": grams(pour.grams, step),
            "total": grams(pour.total_g, step),
            "spoons": spoons(pour.spoons.teaspoons),
        }
        portions.append(say("plan.portion-spare" if pour.spare else code, values))
    return (
        say(
            f"plan.pour-portions.{who}",
            {"mix": mixing(say("jug.each"), plan.jugs), "stir": stir, "stop": _stop(plan)},
        ),
        portions,
        say("plan.pour-maximum", {"most": most(plan), "vessel": noun(plan)}),
    )


def mixing(what: str, filled: Jugs | None, water: str = "tub") -> str:
    """Sentence on how a portion is dissolved before it is poured.

    Parameters
    ----------
    what : str
        The portion.
    filled : Jugs
        What it is dissolved in; None for nothing.
    water : str
        ``"tub"`` water, or fresh ``"tap"`` water.

    Returns
    -------
    str
        With the jugs, and what stays undissolved [g].
    """
    if filled is None:
        return say("jug.dissolve", {"what": what, "jugs": say(f"jug.{water}")})
    values: dict[str, Value] = {
        "what": what,
        "jugs": jugs(filled, water),
        "left": grams(filled.undissolved_g),
    }
    return say("jug.slurry" if filled.slurry else "jug.dissolve", values)


def jugs(filled: Jugs, water: str = "tub") -> str:
    """Phrase for how many jugs of how much water, and how strong it gets in them.

    Parameters
    ----------
    filled : Jugs
        What a portion is dissolved in.
    water : str
        ``"tub"`` or ``"tap"``: where it is taken from.

    Returns
    -------
    str
    """
    values: dict[str, Value] = {
        "count": filled.count,
        "water": say(f"jug.{water}"),
        "litres": litres(filled.litres_each),
        "strength": say("jug.strength", {"percent": f"{filled.strength_percent:.2g}"}),
        "ph": say("jug.ph" if filled.in_range else "jug.ph-rough", {"ph": filled.ph}),
    }
    if filled.litres_each < typical("jug_l").value and filled.count == 1:
        return say("jug.little", values)
    return say("jug.one" if filled.count == 1 else "jug.many", values)


def stirring(parts: Iterable[str]) -> str:
    """Sentence on how long powders are stirred in, by the slowest of them."""
    return say("plan.stir-slow" if any(_slow(name) for name in parts) else "plan.stir")


def _slow(name: str) -> bool:
    remark = powder(name).remark
    return remark is not None and remark.code.endswith("slow-to-dissolve")


def _stop(plan: Plan) -> str:
    if plan.look_by in (None, "colour") or plan.stop_ph is None:
        values: dict[str, Value] = {
            "name": colour_name(plan.after),
            "hex": str(plan.after.colour.hex),
        }
        return say("plan.stop.colour-alike" if plan.named_early else "plan.stop.colour", values)
    side = "acid" if plan.after.ph < plan.before.ph else "alkaline"
    return say(f"plan.stop.{plan.look_by}-{side}", {"ph": plan.stop_ph})


def refusal(plan: Plan) -> tuple[list[str], list[str], str | None]:
    """For a plan that is not as wished: what is not, what would have to change, what follows."""
    heads, reasons = [], []
    if plan.forbidden:
        heads.append(say("plan.forbidden-dose" if plan.wish.kind == "dose" else "plan.forbidden"))
        reasons += [
            caution.message
            for caution in plan.cautions
            if _forbids(caution) and caution.about == "pour"
        ]
    elif any(map(_forbids, plan.cautions)):
        heads.append(say("plan.not-to-pass-on"))
        reasons += [caution.message for caution in plan.cautions if _forbids(caution)]
    if not plan.wish_met:
        wished = f"{plan.wish.ph:g}" if plan.wish.ph is not None else plan.wish.text
        values: dict[str, Value] = {"wish": wished, "vessel": noun(plan)}
        unsure = any(note.code == "needed.surer-water" for note in plan.needed)
        kind = "unsure" if unsure and plan.wish.kind == "none" else plan.wish.kind
        heads.append(say(f"plan.not-reached.{kind}", values))
    # What a caution says stands among the reasons already.
    reasons += [sentence(note) for note in plan.needed if note.code != "needed.see-cautions"]
    if plan.wish_met or plan.nearest is None or plan.dose_g.best <= 0:
        return heads, reasons, None
    name, distance = colour_name(plan.nearest), plan.nearest_delta_e
    if distance is None:
        return heads, reasons, say("plan.nearest-follows", {"name": name})
    return heads, reasons, say("plan.nearest-distance", {"name": name, "delta_e": distance})


def _forbids(caution: Caution) -> bool:
    return exit_code((caution,)) != 0


def ribbon_note(plan: Plan) -> str:
    """Sentence on what the levels along the ribbon mean."""
    if len(plan.pours) == 1:
        return say("plan.ribbon-note")
    return say("plan.ribbon-note-portions", {"most": most(plan)})


def moment(sight: Sight) -> str:
    """When it is that the bath looks so."""
    return say(f"plan.moment.{sight.moment}")


def colour_name(sight: Sight) -> str:
    """The published name of a colour, and the plain word where the name does not hold it."""
    name, word = str(sight.colour.name), str(sight.colour.word)
    if word in name or name == say("word.black"):
        return name
    return say("plan.named", {"name": name, "word": word})


def later(ends: Later, usual: Sight) -> dict[str, Value]:
    """Both ends of what a tub may be hours later: pH, and colours where their words differ.

    Parameters
    ----------
    ends : Later
        The two ends of the pH hours later.
    usual : Sight
        The tub with its gas gone, in the usual air.

    Returns
    -------
    dict
        Values of a sentence.
    """
    low, high = ends.low, ends.high
    names = colour_name(usual)
    if str(low.colour.word) != str(high.colour.word):
        both: dict[str, Value] = {"low_name": colour_name(low), "high_name": colour_name(high)}
        names = say("plan.later-two", both)
    return {"low": low.ph, "high": high.ph, "names": names}


def tint(plan: Plan) -> list[str]:
    """Whether the colour is seen before any dose, and from how much it would be."""
    seen = str(visibility_level(plan.before.colour.visibility_delta_e))
    sentences = [say(f"plan.tint.{seen}")]
    if plan.to_be_seen:
        amounts = say("plan.and").join(_colour_amount(colour) for colour in plan.to_be_seen)
        values: dict[str, Value] = {"amounts": amounts, "factor": plan.to_be_seen[0].factor}
        sentences.append(say("plan.to-be-seen", values))
    return sentences


def change(plan: Plan) -> str:
    """Whether the turn of the colour is seen."""
    level = str(change_level(plan.change_delta_e)).replace(" ", "-")
    doubted = level == "obvious" and plan.wish.kind == "none" and plan.odds.reached_share < LIKELY
    code = "obvious-unlikely" if doubted else level
    return say(f"plan.change.{code}", {"delta_e": plan.change_delta_e})


def change_for_others(plan: Plan) -> str:
    """Sentence on how large the change is to those who see fewer colours."""
    return say("plan.change-for-others", dict(plan.change_seen_by))


def undoing(plan: Plan) -> list[str]:
    """The acid beside the pH, told in baking soda, and how a tub is brought back."""
    sentences = []
    if plan.undone is not None:
        values: dict[str, Value] = {
            "grams": grams(plan.undo_soda_g),
            "spoons": spoons(plan.undo_soda_teaspoons),
            "ph": plan.undone.right_after.ph,
            "name": colour_name(plan.undone.right_after),
            **later(plan.undone.later, plan.undone.airing),
        }
        sentences.append(say("plan.undo", values))
    if abs(plan.after_airing.ph - plan.after.ph) > LEAST_DRIFT_PH:
        side = "" if plan.after_airing.ph > plan.after.ph else "-alkaline"
        sentences.append(say(f"plan.undo-by-itself{side}", {"ph": plan.after_airing.ph}))
    return sentences


def next_steps(plan: Plan) -> list[str]:
    """Sentences on what to read next, and what each buys; nothing that a scale would not show."""
    return [next_step(plan, step) for step in plan.next_steps if _told_apart(plan, step)]


def _told_apart(plan: Plan, step: NextStep) -> bool:
    ends = ((plan.dose_g.low, step.low_g), (plan.dose_g.high, step.high_g))
    return step.narrows == 0.0 or any(grams(now) != grams(then) for now, then in ends)


def next_step(plan: Plan, step: NextStep) -> str:
    """Sentence on what to read next, and what it buys.

    Parameters
    ----------
    plan : Plan
        Whose range it narrows.
    step : NextStep
        The reading.

    Returns
    -------
    str
    """
    values: dict[str, Value] = {
        "low": grams(plan.dose_g.low),
        "high": grams(plan.dose_g.high),
        "new_low": grams(step.low_g),
        "new_high": grams(step.high_g),
        "step_ppm": finest_drop_ppm(),
    }
    return say(f"plan.next.{step.code}", values)


def tint_amount(amount: TintAmount) -> str:
    """A tint with its infusion and petals."""
    tint = say(f"plan.tints.{amount.tint}")
    if not math.isfinite(amount.infusion_ml):
        return say("plan.tint-none", {"tint": tint})
    if amount.forbidden:
        sour = rounded_outwards(amount.ph_acid_side, down=True)
        return say("plan.tint-sour", {"tint": tint, "ph": sour})
    values: dict[str, Value] = {
        "tint": tint,
        "infusion": f"{two_figures(amount.infusion_ml)} mL",
        "percent": amount.infusion_percent,
        "petals": f"{two_figures(amount.petals_g)} g",
    }
    return say("plan.tint-amount", values)


def time_span(days: float) -> str:
    """A time in the unit that people would use."""
    short = ((2 / 24, "minutes", 1 / 1440), (2.0, "hours", 1 / 24), (21.0, "days", 1.0))
    for most, unit, length in (*short, (120.0, "weeks", 7.0), (1500.0, "months", 365.25 / 12)):
        if days < most:
            return say(f"keep.{unit}", {"count": days / length})
    return say("keep.years", {"count": days / 365.25})


def tint_amounts_lines(amounts: Sequence[TintAmount]) -> list[str]:
    """The tints, and a word where other colours go with them."""
    lines = [tint_amount(tint) for tint in amounts]
    return [*lines, say("plan.tint-step")] if amounts and amounts[0].in_step else lines


def two_figures(value: float) -> str:
    """A number to two figures, as amounts of petals deserve: 187 is 190, 3.74 is 3.7."""
    if value >= 10:
        places = math.floor(math.log10(value)) - 1
        return f"{round(value / 10**places) * 10**places:.0f}"
    return f"{value:.2g}"


def home_water(home: Home) -> str:
    """Phrase for the water of a home."""
    return say(f"homes.water.{home.water}")


def home_alkalinity(home: Home) -> str:
    """Its alkalinity as strips tell it."""
    return say("homes.alkalinity", {"ppm": float(alkalinity_in(home.alkalinity_meq_l, "ppm"))})


def home_tub(home: Home) -> str:
    """Phrase for the tub of a home, and how much is in it."""
    return say(f"homes.tub.{home.size}", {"volume": litres(home.volume_l)})


def home_verdict(home: Home) -> str:
    """Whether it turns there, with the mark."""
    return say("homes.verdict." + home.verdict.replace(" ", "-"))


def home_names(home: Home) -> str:
    """Its colours in words, and how far they are apart."""
    values: dict[str, Value] = {
        "before": colour_name(home.before),
        "after": colour_name(home.after),
        # Not rounded up: 9.7 is not yet the 10 from which a change is obvious.
        "change": math.floor(home.change_delta_e),
    }
    return say("homes.names", values)


def homes_count(homes: Sequence[Home]) -> str:
    """In how many homes it turns, is too sour, does not turn."""
    counted = [
        (verdict, sum(home.verdict == verdict for home in homes))
        for verdict in (TURNS, *PAST_LIMIT, DOES_NOT_TURN)
    ]
    parts = [
        say("homes.count." + verdict.replace(" ", "-"), {"count": count})
        for verdict, count in counted
        if count
    ]
    return say("homes.counted", {"counts": say("plan.comma").join(parts)})


def level(name: str) -> str:
    """A caution level in words."""
    return say(f"plan.level.{name}")


def caution_line(caution: Caution) -> str:
    """A caution with its mark and its level."""
    values: dict[str, Value] = {
        "mark": MARKS[caution.level],
        "level": level(caution.level),
        "text": caution.message,
    }
    return say("plan.caution", values).strip()


def _colour_amount(colour: ColourAmount) -> str:
    step = "tenth" if colour.amount < 5 else "whole"
    amount = say(f"plan.amount-{step}", {"amount": colour.amount, "unit": colour.unit})
    return say("plan.amount", {"amount": amount, "colour": colour.colourant.label})
