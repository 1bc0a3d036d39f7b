"""Filters of the templates: numbers, amounts and colours as people write them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from dosing.bath.mixed import NEUTRAL_PH
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.powders import (
    kitchen_round_g,
    powder,
    scale_floor_g,
    scale_step,
    spoon_words,
)
from dosing.ingredients.powders import stirring_minutes as stirring_minutes
from dosing.plan.cautions import Verdict
from dosing.plan.households import PAST_LIMIT, TURNS, Home
from dosing.plan.levels import rounded_outwards
from dosing.soak.moments import roughly, span, span_minutes
from indicator.appearance import SeenColour
from indicator.notes import CATALOGUE, Note, listed, say, sentence
from indicator.tables import read_toml
from indicator.words import change_level, colour_family, visibility_level

MARKS = {"ok": "", "mind": "!", "justify": "!!", "stop": "X"}
"""Each caution level has a mark beside its word, so that no colour need carry it."""
ALMOST_ALL = 0.95
"""Share from which a thing is so in all of ten."""
SOME = 0.005
"""Share up to which a thing is so in fewer than one of a hundred."""
_SHORT = ((2 / 24, "minutes", 1 / 1440), (2.0, "hours", 1 / 24), (21.0, "days", 1.0))
_LONG = ((120.0, "weeks", 7.0), (1500.0, "months", 365.25 / 12), (math.inf, "years", 365.25))


def grams(mass_g: float, step_g: float | None = None) -> str:
    """A mass as a scale shows it: whole grams, tenths below five, hundredths below half a gram.

    Parameters
    ----------
    mass_g : float
        [g].
    step_g : float, optional
        Of the scale [g]; that of a kitchen for the mass if not given.

    Returns
    -------
    str

    Examples
    --------
    >>> grams(12.4), grams(3.14), grams(0.123), grams(12.4, 0.1)
    ('12 g', '3.1 g', '0.12 g', '12.4 g')
    """
    step = step_g or scale_step(mass_g)
    places = max(0, -math.floor(math.log10(step)))
    return f"{float(kitchen_round_g(mass_g, step)):.{places}f} g"


def measure(amount: float) -> str:
    """An amount as it is measured out: three figures, more of a whole number.

    Examples
    --------
    >>> measure(27.81), measure(1070.0), measure(0.3)
    ('27.8', '1070', '0.3')
    """
    return f"{amount:.0f}" if amount >= 100 else f"{amount:.3g}"


def grams_at_least(mass_g: float, step_g: float) -> str:
    """A mass on a scale, never rounded down.

    Parameters
    ----------
    mass_g, step_g : float
        Mass, and step of the scale [g].

    Returns
    -------
    str

    Examples
    --------
    >>> grams_at_least(237.93, 0.1)
    '238.0 g'
    """
    return grams(step_g * math.ceil(mass_g / step_g - 1e-9), step_g)


def grams_at_most(mass_g: float) -> str:
    """A mass as `grams` shows it, never rounded up.

    Examples
    --------
    >>> grams_at_most(27.9), grams_at_most(1.598)
    ('27 g', '1.5 g')
    """
    return grams(scale_floor_g(mass_g, scale_step(mass_g)), scale_step(mass_g))


def grams_to(low_g: float, high_g: float) -> str:
    """A range of masses, to the step of a scale for its lower end.

    Parameters
    ----------
    low_g, high_g : float
        [g].

    Returns
    -------
    str

    Examples
    --------
    >>> grams_to(10.2, 14.7), grams_to(3.14, 9.0)
    ('10 to 15 g', '3.1 to 9.0 g')
    """
    step = scale_step(low_g)
    return f"{grams(low_g, step).removesuffix(' g')} to {grams(high_g, step)}"


def litres(volume_l: float) -> str:
    """A volume: whole litres, tenths below ten, millilitres below one.

    Examples
    --------
    >>> litres(120.4), litres(2.5), litres(0.25)
    ('120 L', '2.5 L', '250 mL')
    """
    if volume_l < 1:
        return f"{1000.0 * volume_l:.0f} mL"
    return f"{volume_l:.0f} L" if volume_l >= 10 else f"{volume_l:.1f} L".replace(".0 ", " ")


def millilitres(volume_ml: float) -> str:
    """A volume in a kitchen: two figures of millilitres, litres from one on.

    Examples
    --------
    >>> millilitres(187.0), millilitres(1250.0)
    ('190 mL', '1.2 L')
    """
    if volume_ml >= 1000:
        return f"{two_figures(volume_ml / 1000)} L"
    return f"{two_figures(volume_ml)} mL"


def centimetres(depth_cm: float) -> str:
    """A depth, of little water to the tenth."""
    return f"{depth_cm:.0f} cm" if depth_cm >= 3 else f"{depth_cm:.1f} cm"


def ph(value: float) -> str:
    """A pH to one decimal."""
    return f"{value:.1f}"


def ph_at_least(value: float) -> str:
    """A pH as the low end of a range: rounded down where rounding up would pass a limit."""
    return f"{rounded_outwards(value, down=True):.1f}"


def ph_at_most(value: float) -> str:
    """A pH as the high end of a range."""
    return f"{rounded_outwards(value, down=False):.1f}"


def spoons(teaspoons: float) -> str:
    """Level spoons in words."""
    return sentence(spoon_words(teaspoons))


def spoons_up(teaspoons: float) -> str:
    """Level spoons in words, rounded up to the half."""
    return spoons(math.ceil(2.0 * teaspoons - 0.02) / 2.0)


def two_figures(value: float) -> str:
    """A number to two figures.

    Examples
    --------
    >>> two_figures(187.0), two_figures(3.74), two_figures(0.052)
    ('190', '3.7', '0.052')
    """
    if value >= 10:
        unit = 10.0 ** (math.floor(math.log10(value)) - 1)
        return f"{round(value / unit) * unit:.0f}"
    return f"{value:.2g}"


def percent(share: float) -> str:
    """A share as whole per cents."""
    return f"{100 * share:.0f} %"


def of_ten(share: float) -> str:
    """A share as so many of ten; ten only of nearly all, none only of nearly none.

    Examples
    --------
    >>> of_ten(0.82), of_ten(0.949), of_ten(0.02)
    ('8 of 10', '9 of 10', 'hardly any')
    """
    tenths = min(round(10 * share), 10 if share >= ALMOST_ALL else 9)
    if tenths == 0:
        return say("filter.hardly-any")
    return say("filter.of-ten", {"n": tenths})


def of_hundred(share: float) -> str:
    """A share as so many of a hundred, never none."""
    return say("filter.of-hundred", {"n": max(1, round(100 * share))})


def hundred(share: float) -> str:
    """A share as so many of a hundred; few are not none, and nearly all are not all.

    Examples
    --------
    >>> hundred(0.0), hundred(0.004), hundred(0.87), hundred(0.996)
    ('none', 'hardly any', '87', 'nearly all')
    """
    if share in (0.0, 1.0):
        return say("filter.all" if share else "filter.none")
    if share <= SOME or share >= 1.0 - SOME:
        return say("filter.hardly-any" if share <= SOME else "filter.nearly-all")
    return f"{100 * share:.0f}"


def time_span(days: float) -> str:
    """A time in the unit that people would use.

    Examples
    --------
    >>> time_span(0.5), time_span(42.0)
    ('12 hours', '6 weeks')
    """
    unit, length = next((unit, length) for most, unit, length in (*_SHORT, *_LONG) if days < most)
    return say(f"keep.{unit}", {"count": days / length})


def minutes(count: float) -> str:
    """A time in minutes in the unit that people would use; seconds below two minutes."""
    if count < 2:
        return say("filter.seconds", {"count": max(5, 5 * round(12 * count))})
    return time_span(count / 1440)


def ppm(alkalinity_meq_l: float) -> str:
    """An alkalinity as strips show it."""
    return f"{float(alkalinity_in(alkalinity_meq_l, 'ppm')):.0f} ppm"


def swatch(first: Any, second: Any = None) -> str:
    """A block of colour, or of two that touch, as `dosing.words.marks` reads it.

    Parameters
    ----------
    first : Sight, SeenColour or str
        What is seen, or ``#rrggbb``.
    second : Sight, SeenColour or str, optional
        What is seen beside it.

    Returns
    -------
    str
        Followed by a space.
    """
    hexes = [_hex(seen) for seen in (first, second) if seen is not None]
    return f"[{'/'.join(hexes)}] "


def strip(hexes: Iterable[Any]) -> str:
    """A row of colours that touch, as `swatch`."""
    return f"[{'/'.join(map(str, hexes))}] "


def _hex(seen: Any) -> str:
    return seen if isinstance(seen, str) else str(_colour_of(seen).hex)


def _colour_of(seen: Any) -> Any:
    return getattr(seen, "colour", seen)


def colour(seen: Any) -> str:
    """Word of a colour with pale, deep or nothing before it.

    Parameters
    ----------
    seen : Sight or SeenColour
        What is seen.

    Returns
    -------
    str
    """
    return str(_colour_of(seen).phrase)


def colour_name(seen: Any) -> str:
    """The published name of a colour, and the plain word where the name does not hold it."""
    name, word = str(_colour_of(seen).name), str(_colour_of(seen).word)
    return name if word in name or name == say("word.black") else f"{name} ({word})"


def home_verdict(home: Home, wished: SeenColour) -> str:
    """Whether a home turns to a colour or counts to its family, changes otherwise, or does not.

    Parameters
    ----------
    home : Home
        One of `dosing.plan.households.six_homes`.
    wished : SeenColour
        Where the dose leads the maker's own.

    Returns
    -------
    str
        A mark and a few words.
    """
    word, code = str(wished.word), home.verdict.replace(" ", "-")
    if home.verdict == TURNS and word != home.before.colour.word:
        ended = home.after.colour
        family = str(colour_family(ended.word, ended.name))
        code = "turns-to" if word in (ended.word, family) else "changes"
    side = say(f"homes.side.{'sour' if home.after.ph < NEUTRAL_PH else 'soapy'}")
    mind = "-mind" if home.level == "mind" and home.verdict not in PAST_LIMIT else ""
    return say(f"homes.verdict.{code}{mind}", {"word": word, "side": side})


def visibility(delta_e: float) -> str:
    """Visibility of a tint: ``invisible``, ``hardly``, ``visible`` or ``strong``."""
    return str(visibility_level(delta_e))


def change(delta_e: float) -> str:
    """Visibility of a change: ``not seen``, ``subtle`` or ``obvious``."""
    return str(change_level(delta_e))


def powder_label(name: str) -> str:
    """A powder by the name that people know."""
    return powder(name).label


def each_powder(parts_g: Iterable[tuple[str, float]]) -> str:
    """Powders with their grams.

    Examples
    --------
    >>> each_powder([("citric-acid-anhydrous", 9.0), ("cream-of-tartar", 3.0)])
    'citric acid 9 g and cream of tartar 3.0 g'
    """
    return listed([f"{powder(name).label} {grams(mass)}" for name, mass in parts_g])


def level(name: str) -> str:
    """A caution level in words."""
    return say(f"plan.level.{name}")


def mark(name: str) -> str:
    """The mark of a caution level."""
    return MARKS[name]


def notes(those: Sequence[Note]) -> list[str]:
    """Sentences of notes, each once."""
    return list(dict.fromkeys(sentence(note) for note in those))


def phrase(code: str, values: Mapping[str, Any] | None = None) -> str:
    """A phrase of the catalogue: for what a record holds as a code.

    Parameters
    ----------
    code : str
        Its key.
    values : mapping, optional
        What it quotes.

    Returns
    -------
    str
    """
    return say(code, values)


def verdict(judged: Verdict) -> str:
    """A verdict with its reason in a few words; others stand among the cautions."""
    answer = say(f"verdict.{'yes' if judged.allowed else 'no'}-{judged.level}")
    told = judged.because in read_toml(CATALOGUE)["verdict"]["because"]
    return answer + (say(f"verdict.because.{judged.because}") if told else "")


FILTERS: dict[str, Callable[..., Any]] = {
    function.__name__: function
    for function in (
        centimetres,
        change,
        colour,
        colour_name,
        each_powder,
        grams,
        grams_at_least,
        grams_at_most,
        grams_to,
        home_verdict,
        hundred,
        level,
        listed,
        litres,
        measure,
        mark,
        millilitres,
        minutes,
        notes,
        of_hundred,
        of_ten,
        percent,
        ph,
        ph_at_least,
        ph_at_most,
        phrase,
        powder_label,
        ppm,
        roughly,
        sentence,
        span,
        span_minutes,
        spoons,
        spoons_up,
        stirring_minutes,
        strip,
        swatch,
        time_span,
        two_figures,
        verdict,
        visibility,
    )
}
