"""Recipe v1: the tables and keys of the file, what each means, and how each is read.

A quantity is declared once, as a type that reads text with a unit into the core unit; the fields
have the names of the core records (`dosing.bath.inputs`), their aliases are the keys of the file.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from dosing.recipe import names
from dosing.recipe import quantities as q

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


def _version(value: Any) -> Any:
    """A version number as it is; true and 1.0 equal 1 but are not versions."""
    return value if type(value) is int else str(value)


def _degrees(value: Any) -> Any:
    """Degrees with or without quotes; true and 2.0 equal numbers but are none that one writes."""
    if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
        return int(value)
    return _version(value)


Text = Annotated[str, Field(min_length=1, max_length=200)]
NameOrFile = Annotated[str, Field(min_length=1, max_length=4096)]
Number = Annotated[float | Text, Field(union_mode="left_to_right")]


@dataclass(frozen=True)
class Read:
    """How what is written becomes what the core takes: by a reader that refuses with a sentence."""

    reader: Callable[[Any, str], object]
    written: Any = Text
    """Type in the file, which the schema shows."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        written = handler.generate_schema(self.written)
        return core_schema.no_info_after_validator_function(self._read, written)

    def _read(self, value: Any) -> object:
        return self.reader(value, "")


def ion(name: str) -> Read:
    """Reader of the concentration of an ion of a water report [mmol/L]."""
    return Read(lambda text, field: q.ion_mmol_l(text, name, field))


Litres = Annotated[float, Read(q.volume_l)]
Centimetres = Annotated[float, Read(q.length_cm)]
SquareCentimetres = Annotated[float, Read(q.area_cm2)]
Celsius = Annotated[float, Read(q.temperature_c)]
SteepCelsius = Annotated[float, Read(q.steep_temperature_c)]
SteepMinutes = Annotated[float, Read(q.steep_minutes)]
ChildYears = Annotated[float, Read(names.child_years)]
Share = Annotated[float, Read(q.share)]
MeqPerLitre = Annotated[float, Read(q.alkalinity_meq_l)]
DropStep = Annotated[float, Read(q.drop_step_meq_l)]
Hardness = Annotated[float, Read(q.hardness_mmol_l)]
MeqPerKilogram = Annotated[float, Read(q.titratable_meq_kg)]
PerCentimetre = Annotated[float, Read(q.absorbance_per_cm)]
PH = Annotated[float, Read(q.ph, Number)]
Thinned = Annotated[float, Read(q.thinned, Number)]
TestDrops = Annotated[float, Read(q.drop_count, Number)]
Amount = Annotated[q.Amount, Read(q.amount)]
ColourAmount = Annotated[q.Amount, Read(q.colour_amount)]
Strength = Annotated[q.ColourStrength, Read(q.colour_strength)]
Parts = Annotated[dict[str, float], Read(names.parts_by_powder, dict[str, Number])]
Target = Annotated[str, Read(names.target_text, Number)]
Light = Annotated[str, Read(names.light_key)]
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


def _key(name: str, description: str, *examples: object, default: Any = None) -> Any:
    """A key of the file: its name, what it means, how it may be written, and its default."""
    return Field(
        default=default, alias=name, description=description, examples=list(examples) or None
    )


class _Table(BaseModel):
    """A table of the file: no key but the declared ones, no silent conversion."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class TubTable(_Table):
    """The vessel and the water in it: a volume, or three measures, or neither."""

    volume_l: Litres | None = _key("volume", "Water in the tub without bathers.", "120 L", "32 gal")
    length_cm: Centimetres | None = _key("length", "Inside length at the waterline.", "150 cm")
    width_cm: Centimetres | None = _key("width", "Inside width at the waterline.", "60 cm")
    fill_cm: Centimetres | None = _key("fill", "Depth of the water above the floor.", "28 cm")
    floor_area_cm2: SquareCentimetres | None = _key(
        "floor_area", "Mean area of the water; with the volume it gives the depth.", "5500 cm2"
    )
    volume_measured: bool | None = _key(
        "volume_measured", "Whether the volume was measured (bucket, meter) rather than judged."
    )
    floor: Floor = _key("floor", "Colour of the tub's floor.", default="white")
    cloud: Cloud = _key("cloud", "Soap and cloud in the water.", default="clear")
    foam_cover: Share | None = _key("foam_cover", "Share of the surface that foam hides.", "30 %")
    bathers_in_tub: int = Field(
        default=0, ge=0, le=4, description="Bathers who sat in the water when the fill was read."
    )


class WaterTable(_Table):
    """The tap water, from a strip, a kit, a meter or a water report."""

    like: TypicalWater | None = _key("like", "A typical water, for what was not read.", "hard")
    alkalinity_meq_l: MeqPerLitre | None = _key(
        "alkalinity",
        "Alkalinity (acid capacity); ppm and mg/L count as CaCO3.",
        *("120 ppm", "7 dH", "2.4 meq/L"),
    )
    carbonate_hardness_meq_l: MeqPerLitre | None = _key(
        "carbonate_hardness", "Carbonate hardness of a water report.", "6 dH"
    )
    bicarbonate_mmol_l: Annotated[float, ion("bicarbonate")] | None = _key(
        "bicarbonate", "Bicarbonate, in place of the alkalinity.", "146 mg/L"
    )
    hardness_mmol_l: Hardness | None = _key(
        "hardness", "Total hardness (Ca + Mg).", "8 dH", "1.4 mmol/L"
    )
    calcium_mmol_l: Annotated[float, ion("calcium")] | None = _key("calcium", "Calcium.", "48 mg/L")
    magnesium_mmol_l: Annotated[float, ion("magnesium")] | None = _key(
        "magnesium", "Magnesium.", "6 mg/L"
    )
    sodium_mmol_l: Annotated[float, ion("sodium")] | None = _key("sodium", "Sodium.", "20 mg/L")
    potassium_mmol_l: Annotated[float, ion("potassium")] | None = _key(
        "potassium", "Potassium.", "2 mg/L"
    )
    chloride_mmol_l: Annotated[float, ion("chloride")] | None = _key(
        "chloride", "Chloride.", "30 mg/L"
    )
    sulfate_mmol_l: Annotated[float, ion("sulfate")] | None = _key("sulfate", "Sulfate.", "25 mg/L")
    nitrate_mmol_l: Annotated[float, ion("nitrate")] | None = _key("nitrate", "Nitrate.", "8 mg/L")
    ph: PH | None = _key("ph", "pH of the tap water.", 7.8)
    temperature_c: Celsius | None = _key(
        "temperature", "Temperature in the tub; 38 C if not given.", "38 C", "100 F"
    )
    reading_temperature_c: Celsius | None = _key(
        "reading_temperature", "Temperature at which the pH was read; 25 C if not given."
    )
    instrument: Instrument | None = _key(
        "instrument", "What the alkalinity was read with; decides how sure the dose is."
    )
    drop_step_meq_l: DropStep | None = _key(
        "drop_step",
        "What a drop of the drop kit stands for; half a drop is taken off the reading.",
        *("10 ppm", "1 dH", "25 ppm"),
    )
    thinned: Thinned | None = _key(
        "thinned",
        "How many times the water was thinned, with distilled water, for the reading "
        "of its alkalinity; 2 for as much of one as of the other.",
        2,
    )


class FoamBathTable(_Table):
    """The foam bath that goes into this tub."""

    amount: Amount = _key("amount", "For this tub.", "40 mL", "40 g", default=...)
    ph: PH | None = _key("ph", "pH in its bottle.", 6.0)
    titratable_meq_kg: MeqPerKilogram | None = _key(
        "titratable",
        "Acid per kilogram that takes it from its own pH to 4.5.",
        "12 meq/kg",
    )
    surfactants: dict[Surfactant, Share] | None = _key(
        "surfactants",
        "Active matter by kind; it moves the colour of a pigment in the bottle.",
        {"anionic": "9 %", "amphoteric": "3 %"},
    )


class DropTestTable(_Table):
    """What a few drops of a colour of unknown strength do to a known amount of plain water."""

    drops: TestDrops = _key("drops", "Drops that went into the water.", 1, default=...)
    water_l: Litres = _key("water", "The water.", "1 L", default=...)
    colour: Text | None = _key(
        "colour",
        "What a photograph shows of it in a jar against paper that comes out white, in "
        "the recipe's light.",
        "#F3EFA0",
    )
    path_cm: Centimetres | None = _key("path", "Inner width of that jar.", "8 cm")
    absorbance_per_cm: PerCentimetre | None = _key(
        "absorbance",
        "Its absorbance per cm at the colour's own maximum, in place of a colour.",
        "0.08 /cm",
    )
    ph: PH | None = _key("ph", "pH of that water; a usual tap water's if not given.")


class ColourTable(_Table):
    """A pigment whose colour follows the pH, or a dye whose colour does not."""

    pigment: NameOrFile | None = _key(
        "pigment", "Pigment, or a pigment file of your own.", "butterfly-pea", "our-petals.toml"
    )
    dye: NameOrFile | None = _key("dye", "pH-stable dye.", "tartrazine")
    amount: ColourAmount = _key(
        "amount",
        "For this tub: mL of infusion or dye solution, g of dried petals or dye, or drops.",
        *("800 mL", "16 g", "20 drops"),
        default=...,
    )
    strength: Strength | None = _key(
        "strength",
        "2 % is 2 g of dried petals (or dye powder) per 100 mL; 6 /cm is the "
        "absorbance per cm in strong acid.",
        *("2 %", "6 /cm"),
    )
    steeped_at_c: SteepCelsius | None = _key(
        "steeped_at", "Temperature of the water in which the petals steeped.", "75 C"
    )
    steeped_for_min: SteepMinutes | None = _key(
        "steeped_for", "How long the petals steeped.", "25 min"
    )
    drop_test: DropTestTable | None = _key(
        "drop_test", "For an amount in drops of unknown strength: a test in water."
    )
    preserved: bool = _key("preserved", "Whether the infusion is preserved.", default=False)
    held_in: HeldIn = _key(
        "held_in", "Where the colour stands until the bath.", default="own bottle"
    )


class ActivatorTable(_Table):
    """The dry powder that turns the colour, and how it is poured."""

    parts: Parts | None = _key(
        "parts",
        "Powder to its part by mass; parts, grams or per cent alike.",
        {"citric-acid-anhydrous": 1},
    )
    pouring: Pouring = _key("pouring", "Dissolved in a jug first, or tipped in dry.", default="jug")
    poured: Poured | None = _key(
        "poured",
        "Before bathers get in, or beside them; before if nobody is in the tub.",
    )
    weighed_with: Weighed = _key(
        "weighed_with", "What the powder is measured with.", default="kitchen scale"
    )


class WishTable(_Table):
    """What is wanted, for whom and what for."""

    target: Target | None = _key(
        "target",
        "A pH, a colour word or a hex colour; the mildest obvious change if left out.",
        *("5.2", "violet", "#8060C0"),
    )
    bathers: Bathers | None = _key("bathers", "Who bathes; judged as for a child if not said.")
    child_age_years: ChildYears | None = _key(
        "child_age", "Age of the youngest child.", "8 years", "30 months"
    )
    purpose: Purpose = _key("purpose", "What the bath is made for.", default="own")
    market: Market = _key("market", "Where it is given or sold.", default="other")
    view: View = _key("view", "The vessel that is looked at.", default="tub")
    light: Light = _key(
        "light",
        "Light in the room: D65, A, LED-warm, LED-neutral, or an illuminant of CIE 15.",
        *("D65", "warm white LED", "FL2"),
        default="D65",
    )
    observer_deg: Observer | None = _key(
        "observer",
        "Standard observer of the vessel that is looked at, in degrees; 10 for a tub "
        "and 2 for a small vessel if not given.",
        10,
    )


class RecipeFile(_Table):
    """A recipe for one bath."""

    schema_version: Annotated[Literal[1], BeforeValidator(_version)] = _key(
        "schema", "Version of this format.", default=1
    )
    title: Annotated[Text, BeforeValidator(_one_line)] = _key(
        "title", "Name of the recipe.", default="My bath"
    )
    tub: TubTable = TubTable()
    water: WaterTable = WaterTable()
    foam_bath: FoamBathTable | None = None
    colour: list[ColourTable] = Field(default=[], max_length=MOST_COLOURS)
    activator: ActivatorTable = ActivatorTable()
    wish: WishTable = WishTable()


def recipe_schema() -> dict[str, Any]:
    """JSON Schema of the recipe file; shipped as ``data/text/recipe.schema.json``."""
    schema: dict[str, Any] = _without_null(RecipeFile.model_json_schema(by_alias=True))
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
