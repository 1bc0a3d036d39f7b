"""Recipe v1: the tables and keys of the file, what each means and which words it takes.

The models hold what was written, as text; `dosing.recipe.core` turns it into numbers.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

MOST_COLOURS = 12


_JOINED = re.compile(r"(?<=[a-z])[-_](?=[a-z])")


def _word(value: Any) -> Any:
    """A choice as people write it: capitals, hyphens and underscores do not matter."""
    if not isinstance(value, str):
        return value
    # Between words only: a sign before a word is not ours to drop.
    return " ".join(_JOINED.sub(" ", value.casefold()).split())


def _surfactant(value: Any) -> Any:
    words = _word(value)
    return {"non ionic": "non-ionic", "nonionic": "non-ionic"}.get(words, words)


def _market(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    wanted = value.strip()
    return wanted.casefold() if wanted.casefold() == "other" else wanted.upper()


def _one_line(value: Any) -> Any:
    """A title without line breaks and control characters: it is printed on terminals."""
    if not isinstance(value, str):
        return value
    return " ".join("".join(c if c.isprintable() else " " for c in value).split())


def _whole(value: Any) -> Any:
    """A version number as it is; true and 1.0 equal 1 but are not versions."""
    return value if type(value) is int else str(value)


def _degrees(value: Any) -> Any:
    """Degrees with or without quotes; true and 2.0 equal numbers but are none that one writes."""
    if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
        return int(value)
    return value if type(value) is int else str(value)


Text = Annotated[str, Field(min_length=1, max_length=200)]
NameOrFile = Annotated[str, Field(min_length=1, max_length=4096)]
Number = Annotated[float | Text, Field(union_mode="left_to_right")]
Instrument = Annotated[
    Literal["strip", "drop kit", "meter", "jar test", "water report"], BeforeValidator(_word)
]
TypicalWater = Annotated[
    Literal["soft", "medium", "hard", "very hard", "hardest", "softened"], BeforeValidator(_word)
]
Floor = Annotated[Literal["white", "grey", "beige"], BeforeValidator(_word)]
Cloud = Annotated[Literal["clear", "hazy", "milky"], BeforeValidator(_word)]
Surfactant = Annotated[
    Literal["anionic", "amphoteric", "non-ionic", "cationic"], BeforeValidator(_surfactant)
]
HeldIn = Annotated[Literal["own bottle", "foam bath"], BeforeValidator(_word)]
Pouring = Annotated[Literal["jug", "dry"], BeforeValidator(_word)]
Poured = Annotated[Literal["before", "beside"], BeforeValidator(_word)]
Weighed = Annotated[Literal["kitchen scale", "fine scale", "spoon"], BeforeValidator(_word)]
Bathers = Annotated[Literal["adult", "child", "nobody"], BeforeValidator(_word)]
Purpose = Annotated[Literal["own", "gift", "class", "show", "sale"], BeforeValidator(_word)]
Market = Annotated[Literal["US", "EU", "UK", "other"], BeforeValidator(_market)]
View = Annotated[Literal["tub", "bottle", "jar", "beaker"], BeforeValidator(_word)]
Observer = Annotated[Literal[2, 10], BeforeValidator(_degrees)]


class _Table(BaseModel):
    """A table of the file: no key but the declared ones, no silent conversion."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Tub(_Table):
    """The vessel and the water in it: a volume, or three measures, or neither."""

    volume: Text | None = Field(
        default=None, description="Water in the tub without bathers.", examples=["120 L", "32 gal"]
    )
    length: Text | None = Field(
        default=None, description="Inside length at the waterline.", examples=["150 cm"]
    )
    width: Text | None = Field(
        default=None, description="Inside width at the waterline.", examples=["60 cm"]
    )
    fill: Text | None = Field(
        default=None, description="Depth of the water above the floor.", examples=["28 cm"]
    )
    floor_area: Text | None = Field(
        default=None,
        description="Mean area of the water; with the volume it gives the depth.",
        examples=["5500 cm2"],
    )
    volume_measured: bool | None = Field(
        default=None,
        description="Whether the volume was measured (bucket, meter) rather than judged.",
    )
    floor: Floor = Field(default="white", description="Colour of the tub's floor.")
    cloud: Cloud = Field(default="clear", description="Soap and cloud in the water.")
    foam_cover: Text | None = Field(
        default=None, description="Share of the surface that foam hides.", examples=["30 %"]
    )
    bathers_in_tub: int = Field(
        default=0, ge=0, le=4, description="Bathers who sat in the water when the fill was read."
    )


class Water(_Table):
    """The tap water, from a strip, a kit, a meter or a water report."""

    like: TypicalWater | None = Field(
        default=None, description="A typical water, for what was not read.", examples=["hard"]
    )
    alkalinity: Text | None = Field(
        default=None,
        description="Alkalinity (acid capacity); ppm and mg/L count as CaCO3.",
        examples=["120 ppm", "7 dH", "2.4 meq/L"],
    )
    carbonate_hardness: Text | None = Field(
        default=None, description="Carbonate hardness of a water report.", examples=["6 dH"]
    )
    bicarbonate: Text | None = Field(
        default=None, description="Bicarbonate, in place of the alkalinity.", examples=["146 mg/L"]
    )
    hardness: Text | None = Field(
        default=None, description="Total hardness (Ca + Mg).", examples=["8 dH", "1.4 mmol/L"]
    )
    calcium: Text | None = Field(default=None, description="Calcium.", examples=["48 mg/L"])
    magnesium: Text | None = Field(default=None, description="Magnesium.", examples=["6 mg/L"])
    sodium: Text | None = Field(default=None, description="Sodium.", examples=["20 mg/L"])
    potassium: Text | None = Field(default=None, description="Potassium.", examples=["2 mg/L"])
    chloride: Text | None = Field(default=None, description="Chloride.", examples=["30 mg/L"])
    sulfate: Text | None = Field(default=None, description="Sulfate.", examples=["25 mg/L"])
    nitrate: Text | None = Field(default=None, description="Nitrate.", examples=["8 mg/L"])
    ph: Number | None = Field(default=None, description="pH of the tap water.", examples=[7.8])
    temperature: Text | None = Field(
        default=None,
        description="Temperature in the tub; 38 C if not given.",
        examples=["38 C", "100 F"],
    )
    reading_temperature: Text | None = Field(
        default=None, description="Temperature at which the pH was read; 25 C if not given."
    )
    instrument: Instrument | None = Field(
        default=None, description="What the alkalinity was read with; decides how sure the dose is."
    )
    drop_step: Text | None = Field(
        default=None,
        description="What a drop of the drop kit stands for; half a drop is taken off the reading.",
        examples=["10 ppm", "1 dH", "25 ppm"],
    )
    thinned: Number | None = Field(
        default=None,
        description="How many times the water was thinned, with distilled water, for the reading "
        "of its alkalinity; 2 for as much of one as of the other.",
        examples=[2],
    )


class FoamBath(_Table):
    """The foam bath that goes into this tub."""

    amount: Text = Field(description="For this tub.", examples=["40 mL", "40 g"])
    ph: Number | None = Field(default=None, description="pH in its bottle.", examples=[6.0])
    titratable: Text | None = Field(
        default=None,
        description="Acid per kilogram that takes it from its own pH to 4.5.",
        examples=["12 meq/kg"],
    )
    surfactants: dict[Surfactant, Text] | None = Field(
        default=None,
        description="Active matter by kind; it moves the colour of a pigment in the bottle.",
        examples=[{"anionic": "9 %", "amphoteric": "3 %"}],
    )


class DropTest(_Table):
    """What a few drops of a colour of unknown strength do to a known amount of plain water."""

    drops: Number = Field(description="Drops that went into the water.", examples=[1])
    water: Text = Field(description="The water.", examples=["1 L"])
    colour: Text | None = Field(
        default=None,
        description="What a photograph shows of it in a jar against paper that comes out white, in "
        "the recipe's light.",
        examples=["#F3EFA0"],
    )
    path: Text | None = Field(
        default=None, description="Inner width of that jar.", examples=["8 cm"]
    )
    absorbance: Text | None = Field(
        default=None,
        description="Its absorbance per cm at the colour's own maximum, in place of a colour.",
        examples=["0.08 /cm"],
    )
    ph: Number | None = Field(
        default=None, description="pH of that water; a usual tap water's if not given."
    )


class Colour(_Table):
    """A pigment whose colour follows the pH, or a dye whose colour does not."""

    pigment: NameOrFile | None = Field(
        default=None,
        description="Pigment, or a pigment file of your own.",
        examples=["butterfly-pea", "our-petals.toml"],
    )
    dye: NameOrFile | None = Field(
        default=None, description="pH-stable dye.", examples=["tartrazine"]
    )
    amount: Text = Field(
        description="For this tub: mL of infusion or dye solution, g of dried petals or dye, or "
        "drops.",
        examples=["800 mL", "16 g", "20 drops"],
    )
    strength: Text | None = Field(
        default=None,
        description="2 % is 2 g of dried petals (or dye powder) per 100 mL; 6 /cm is the "
        "absorbance per cm in strong acid.",
        examples=["2 %", "6 /cm"],
    )
    steeped_at: Text | None = Field(
        default=None,
        description="Temperature of the water in which the petals steeped.",
        examples=["75 C"],
    )
    steeped_for: Text | None = Field(
        default=None, description="How long the petals steeped.", examples=["25 min"]
    )
    drop_test: DropTest | None = Field(
        default=None, description="For an amount in drops of unknown strength: a test in water."
    )
    preserved: bool = Field(default=False, description="Whether the infusion is preserved.")
    held_in: HeldIn = Field(
        default="own bottle", description="Where the colour stands until the bath."
    )


class Activator(_Table):
    """The dry powder that turns the colour, and how it is poured."""

    parts: dict[str, Number] | None = Field(
        default=None,
        description="Powder to its part by mass; parts, grams or per cent alike.",
        examples=[{"citric-acid-anhydrous": 1}],
    )
    pouring: Pouring = Field(
        default="jug", description="Dissolved in a jug first, or tipped in dry."
    )
    poured: Poured | None = Field(
        default=None,
        description="Before bathers get in, or beside them; before if nobody is in the tub.",
    )
    weighed_with: Weighed = Field(
        default="kitchen scale", description="What the powder is measured with."
    )


class Wish(_Table):
    """What is wanted, for whom and what for."""

    target: Number | None = Field(
        default=None,
        description="A pH, a colour word or a hex colour; the mildest obvious change if left out.",
        examples=["5.2", "violet", "#8060C0"],
    )
    bathers: Bathers | None = Field(
        default=None, description="Who bathes; judged as for a child if not said."
    )
    child_age: Text | None = Field(
        default=None, description="Age of the youngest child.", examples=["8 years", "30 months"]
    )
    purpose: Purpose = Field(default="own", description="What the bath is made for.")
    market: Market = Field(default="other", description="Where it is given or sold.")
    view: View = Field(default="tub", description="The vessel that is looked at.")
    light: Text = Field(
        default="D65",
        description="Light in the room: D65, A, LED-warm, LED-neutral, or an illuminant of CIE 15.",
        examples=["D65", "warm white LED", "FL2"],
    )
    observer: Observer | None = Field(
        default=None,
        description="Standard observer of the vessel that is looked at, in degrees; 10 for a tub "
        "and 2 for a small vessel if not given.",
        examples=[10],
    )


class Recipe(_Table):
    """A recipe for one bath."""

    schema_version: Annotated[Literal[1], BeforeValidator(_whole)] = Field(
        default=1, alias="schema", description="Version of this format."
    )
    title: Annotated[Text, BeforeValidator(_one_line)] = Field(
        default="My bath", description="Name of the recipe."
    )
    tub: Tub = Tub()
    water: Water = Water()
    foam_bath: FoamBath | None = None
    colour: list[Colour] = Field(default=[], max_length=MOST_COLOURS)
    activator: Activator | None = None
    wish: Wish = Wish()


def recipe_schema() -> dict[str, Any]:
    """JSON Schema of the recipe file; shipped as ``data/text/recipe.schema.json``."""
    schema: dict[str, Any] = _without_null(Recipe.model_json_schema(by_alias=True))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _without_null(node: Any) -> Any:
    """The schema without what TOML cannot say (null) and what only repeats names or tables."""
    if isinstance(node, list):
        return [_without_null(item) for item in node]
    if not isinstance(node, dict):
        return node
    kept = {}
    for key, value in node.items():
        repeats = key == "title" and isinstance(value, str)
        empty = key == "default" and (value is None or isinstance(value, dict | list))
        if not (repeats or empty):
            kept[key] = _without_null(value)
    branches = kept.get("anyOf")
    if isinstance(branches, list) and {"type": "null"} in branches:
        rest = [branch for branch in branches if branch != {"type": "null"}]
        del kept["anyOf"]
        return {**(rest[0] if len(rest) == 1 else {"anyOf": rest}), **kept}
    return kept
