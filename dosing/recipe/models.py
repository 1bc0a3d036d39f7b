"""Recipe v1: the tables and keys of the file, and how each is read.

A quantity is declared once, as a type that reads text with a unit into the core unit; the fields
have the names of the core records (`dosing.bath.inputs`), the keys of the file are the same
without the unit. What each key means stands in ``data/text/recipe_keys.toml``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from dosing.bath import inputs
from dosing.recipe import names
from dosing.recipe import quantities as q
from indicator.tables import read_toml

MOST_COLOURS = 12
MOST_DIRECTIONS = 8
_UNIT = re.compile(r"_(?:l|g_ml|cm2?|c|min|years|deg|per_cm|(?:meq|mmol)_(?:l|kg))$")
_JOINED = re.compile(r"(?<=[a-z])[-_ ]+(?=[a-z])")


Text = Annotated[str, Field(min_length=1, max_length=200)]
NameOrFile = Annotated[str, Field(min_length=1, max_length=4096)]
Number = Annotated[float | Text, Field(union_mode="left_to_right")]


def file_key(field: str) -> str:
    """Key of the file for a field: the same without the core unit."""
    return _UNIT.sub("", field)


def _one_line(value: Any) -> Any:
    """A title without line breaks and control characters: it is printed on terminals."""
    if not isinstance(value, str):
        return value
    return " ".join("".join(c if c.isprintable() else " " for c in value).split())


def _plain_word(written: str) -> str:
    # Between words only: a sign before a word is not ours to drop.
    return _JOINED.sub("", written.strip().casefold())


class WordChoice:
    """Words as people write them: capitals, spaces, hyphens and underscores do not matter."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        known = {_plain_word(str(word)): word for word in get_args(source)}

        def ours(value: Any) -> Any:
            # As text, true and 2.0 do not count as the numbers that they equal.
            plain = str(value) if isinstance(value, bool | float) else value
            return known.get(_plain_word(str(plain)), plain)

        return core_schema.no_info_before_validator_function(ours, handler(source))


@dataclass(frozen=True)
class ReadAs:
    """Reader of what is written into what the core takes; it refuses with a sentence."""

    reader: Callable[[Any, str], object]
    written: Any = Text
    """Type in the file, which the schema shows."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        written = handler.generate_schema(self.written)
        return core_schema.no_info_after_validator_function(
            lambda value: self.reader(value, ""), written
        )


def _ion(name: str) -> ReadAs:
    """Reader of the concentration of an ion of a water report [mmol/L]."""
    return ReadAs(lambda text, field: q.ion_mmol_l(text, name, field))


Line = Annotated[Text, BeforeValidator(_one_line)]
Litres = Annotated[float, ReadAs(q.volume_l)]
Centimetres = Annotated[float, ReadAs(q.length_cm)]
SquareCentimetres = Annotated[float, ReadAs(q.area_cm2)]
Celsius = Annotated[float, ReadAs(q.temperature_c)]
SteepCelsius = Annotated[float, ReadAs(q.steep_temperature_c)]
SteepMinutes = Annotated[float, ReadAs(q.steep_minutes)]
ChildYears = Annotated[float, ReadAs(names.child_years)]
Share = Annotated[float, ReadAs(q.share)]
MeqPerLitre = Annotated[float, ReadAs(q.alkalinity_meq_l)]
DropStep = Annotated[float, ReadAs(q.drop_step_meq_l)]
Hardness = Annotated[float, ReadAs(q.hardness_mmol_l)]
MeqPerKilogram = Annotated[float, ReadAs(q.titratable_meq_kg)]
PerCentimetre = Annotated[float, ReadAs(q.absorbance_per_cm)]
PH = Annotated[float, ReadAs(q.ph, Number)]
Thinned = Annotated[float, ReadAs(q.thinned, Number)]
TestDrops = Annotated[float, ReadAs(q.drop_count, Number)]
Amount = Annotated[q.Amount, ReadAs(q.amount)]
ColourAmount = Annotated[q.Amount, ReadAs(q.colour_amount)]
Strength = Annotated[q.ColourStrength, ReadAs(q.colour_strength)]
Parts = Annotated[names.PowderParts, ReadAs(names.parts_by_powder, dict[str, Number])]
Target = Annotated[str, ReadAs(names.target_text, Number)]
Light = Annotated[str, ReadAs(names.light_key)]
Accent = Annotated[str, ReadAs(names.accent_hex)]
Code = Annotated[str, ReadAs(names.plain_line)]
Address = Annotated[str, ReadAs(names.web_address)]
LastDay = Annotated[str, ReadAs(names.calendar_day, date | Text)]

Instrument = Annotated[
    Literal[
        "strip",
        "drop kit",
        "meter",
        "jar test",
        "rough jar test",
        "very rough jar test",
        "water report",
        "not named",
    ],
    WordChoice(),
]
TypicalWater = Annotated[
    Literal["soft", "medium", "hard", "very hard", "hardest", "softened"], WordChoice()
]
WaterName = Annotated[TypicalWater | Text, Field(union_mode="left_to_right")]
Floor = Annotated[Literal["white", "grey", "beige"], WordChoice()]
Cloud = Annotated[Literal["clear", "hazy", "milky"], WordChoice()]
Surfactant = Annotated[Literal["anionic", "amphoteric", "non-ionic", "cationic"], WordChoice()]
HeldIn = Annotated[Literal["own bottle", "foam bath"], WordChoice()]
Pouring = Annotated[Literal["jug", "dry"], WordChoice()]
Poured = Annotated[Literal["before", "beside"], WordChoice()]
Weighed = Annotated[Literal["kitchen scale", "fine scale", "spoon"], WordChoice()]
Bathers = Annotated[Literal["adult", "child", "nobody"], WordChoice()]
Purpose = Annotated[Literal["own", "gift", "class", "show", "sale"], WordChoice()]
Market = Annotated[Literal["US", "EU", "UK", "other"], WordChoice()]
View = Annotated[Literal["tub", "bottle", "jar", "beaker"], WordChoice()]
Observer = Annotated[Literal[2, 10], WordChoice()]
Language = Annotated[Literal["en", "de"], WordChoice()]


class FileTable(BaseModel):
    """A table of the file: no key but the declared ones, no silent conversion."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, alias_generator=file_key)


class TubTable(FileTable):
    """The vessel and the water in it: a volume, or three measures, or neither."""

    volume_l: Litres | None = None
    length_cm: Centimetres | None = None
    width_cm: Centimetres | None = None
    fill_cm: Centimetres | None = None
    floor_area_cm2: SquareCentimetres | None = None
    volume_measured: bool | None = None
    floor: Floor = "white"
    cloud: Cloud = "clear"
    foam_cover: Share | None = None
    bathers_in_tub: int = Field(default=0, ge=0, le=4)


class WaterTable(FileTable):
    """The tap water, from a strip, a kit, a meter or a water report."""

    like: WaterName | None = None
    alkalinity_meq_l: MeqPerLitre | None = None
    carbonate_hardness_meq_l: MeqPerLitre | None = None
    bicarbonate_mmol_l: Annotated[float, _ion("bicarbonate")] | None = None
    hardness_mmol_l: Hardness | None = None
    calcium_mmol_l: Annotated[float, _ion("calcium")] | None = None
    magnesium_mmol_l: Annotated[float, _ion("magnesium")] | None = None
    sodium_mmol_l: Annotated[float, _ion("sodium")] | None = None
    potassium_mmol_l: Annotated[float, _ion("potassium")] | None = None
    chloride_mmol_l: Annotated[float, _ion("chloride")] | None = None
    sulfate_mmol_l: Annotated[float, _ion("sulfate")] | None = None
    nitrate_mmol_l: Annotated[float, _ion("nitrate")] | None = None
    ph: PH | None = None
    temperature_c: Celsius | None = None
    reading_temperature_c: Celsius | None = None
    instrument: Instrument | None = None
    drop_step_meq_l: DropStep | None = None
    alkalinity_low_meq_l: MeqPerLitre | None = None
    alkalinity_high_meq_l: MeqPerLitre | None = None
    thinned: Thinned | None = None


class FoamBathTable(FileTable):
    """The foam bath that goes into this tub."""

    amount: Amount
    ph: PH | None = None
    titratable_meq_kg: MeqPerKilogram | None = None
    surfactants: dict[Surfactant, Share] | None = None


class DropTestTable(FileTable):
    """What a few drops of a colour of unknown strength do to a known amount of plain water."""

    drops: TestDrops
    water_l: Litres
    colour: Text | None = None
    path_cm: Centimetres | None = None
    absorbance_per_cm: PerCentimetre | None = None
    ph: PH | None = None


class ColourTable(FileTable):
    """A pigment whose colour follows the pH, or a dye whose colour does not."""

    pigment: NameOrFile | None = None
    dye: NameOrFile | None = None
    amount: ColourAmount
    strength: Strength | None = None
    steeped_at_c: SteepCelsius | None = None
    steeped_for_min: SteepMinutes | None = None
    drop_test: DropTestTable | None = None
    preserved: bool = False
    held_in: HeldIn = "own bottle"


class ActivatorTable(FileTable):
    """The dry powder that turns the colour, and how it is poured."""

    parts: Parts | None = None
    pouring: Pouring = "jug"
    poured: Poured | None = None
    weighed_with: Weighed = "kitchen scale"


class WishTable(FileTable):
    """What is wanted, for whom and what for."""

    target: Target | None = None
    bathers: Bathers | None = None
    child_age_years: ChildYears | None = None
    purpose: Purpose = "own"
    market: Market = "other"
    view: View = "tub"
    light: Light = "D65"
    observer_deg: Observer | None = None


class CardTable(FileTable):
    """What the product's dose card carries beside its doses."""

    lot: Code | None = None
    edition: Code | None = None
    use_by: LastDay | None = None
    sachet: Text | None = None
    accent: Accent = inputs.ACCENT
    url: Address | None = None
    language: Language = "en"
    directions: list[Line] = Field(default=[], max_length=MOST_DIRECTIONS)


class RecipeFile(FileTable):
    """A recipe for one bath."""

    schema_version: Annotated[Literal[1], WordChoice()] = Field(1, alias="schema")
    title: Line = "My bath"
    tub: TubTable = TubTable()
    water: WaterTable = WaterTable()
    foam_bath: FoamBathTable | None = None
    colour: list[ColourTable] = Field(default=[], max_length=MOST_COLOURS)
    activator: ActivatorTable = ActivatorTable()
    wish: WishTable = WishTable()
    card: CardTable = CardTable()


def keys_of(table: str, kind: str = "recipe") -> dict[str, list[Any]]:
    """Meaning of each key of a table, and examples of how it is written; empty for no table.

    Parameters
    ----------
    table : str
        As in the file; the kind of file for the keys outside of all tables.
    kind : {"recipe", "product"}
        Of file; a product has the tables of a recipe besides its own.

    Returns
    -------
    dict
        Key to its meaning and examples.
    """
    keys: dict[str, list[Any]] = read_toml(f"text/{kind}_keys.toml").get(table, {})
    return keys if keys or kind == "recipe" else keys_of(table)


def _table_name(model: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", re.sub("Table$|File$", "", model)).lower()


class _Schema(GenerateJsonSchema):
    """The schema without what TOML cannot say (null) and what only repeats names or tables."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        if isinstance(schema["default"], str | bool | int):
            return super().default_schema(schema)
        return self.generate_inner(schema["schema"])

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        return {key: value for key, value in made.items() if key != "title"}


def recipe_schema() -> dict[str, Any]:
    """JSON Schema of the recipe file; shipped as ``data/text/recipe.schema.json``."""
    schema = RecipeFile.model_json_schema(by_alias=True, schema_generator=_Schema)
    for name, table in ((RecipeFile.__name__, schema), *schema["$defs"].items()):
        for key, (meaning, *examples) in keys_of(_table_name(name)).items():
            table["properties"][key] |= {"description": meaning}
            table["properties"][key] |= {"examples": examples} if examples else {}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
