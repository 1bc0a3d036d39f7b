"""Inputs: a recipe as plain numbers in core units, where the edges hand over to the core."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, cast

from dosing.bath.learnt_home import LEARNT_NOTES, LearntHome
from dosing.ingredients.water import WaterReadings
from indicator.accepted import number, of_kind, one_of
from indicator.colourants import Colourant
from indicator.notes import Note, Value, say
from indicator.optics import VIEWS, cloud_names, floor_names
from indicator.pigments import check_distinct

WORDS: Mapping[str, tuple[str, ...]] = {
    "bathers": ("adult", "child", "nobody"),
    "purpose": ("own", "gift", "class", "show", "sale"),
    "market": ("US", "EU", "UK", "other"),
    "pouring": ("jug", "dry"),
    "poured": ("before", "beside"),
    "weighed_with": ("kitchen-scale", "fine-scale", "spoon"),
    "held_in": ("own bottle", "foam bath"),
    "view": VIEWS,
}
"""What may be said in the fields of that name."""
BATHERS = WORDS["bathers"]
MOST = 1e6
"""Of what goes in, in whatever unit: nobody has more."""
ACCENT = "#1f6f78"
"""Of a card whose maker names no colour; dark enough for white letters on it."""
LARGEST = 1000.0
"""Of a tub [L] and its measures [cm]: keeps a mistaken unit out."""
_BOUNDS: Mapping[str, tuple[float, float]] = {
    name: (low, high)
    for names, low, high in (
        ("volume_l length_cm width_cm fill_cm adults_in_tub children_in_tub", 0.0, LARGEST),
        ("floor_area_cm2 amount_ml content amount", 0.0, MOST),
        ("bottle_strength petals_percent strength_sd parts_spread", 0.0, MOST),
        ("titratable_meq_kg", -MOST, MOST),
        ("foam_cover", 0.0, 1.0),
        ("ph", 0.0, 14.0),
        ("child_age_years", 0.0, 120.0),
        ("water_temperature_c", 0.0, 60.0),
    )
    for name in names.split()
}
_EACH: Mapping[str, float] = {"parts": MOST, "surfactants_percent": 100.0}
"""Most of each that is listed there."""
_KINDS: Mapping[str, type] = {
    **dict.fromkeys(("volume_measured", "preserved", "strength_measured"), bool),
    "colourant": Colourant,
    "parts": Mapping,
}


class _Checked:
    """A record that refuses numbers out of bounds and words that nothing knows."""

    def __post_init__(self) -> None:
        """Check every field that has a value.

        Raises
        ------
        TypeError, ValueError
            Naming the first field that cannot be used.
        """
        for each in fields(cast(Any, self)):
            name, value = each.name, getattr(self, each.name)
            if value is None and each.default is None:
                continue
            if name in _BOUNDS:
                number(name, value, *_BOUNDS[name])
            if name in WORDS:
                one_of(name, value, WORDS[name])
            if name in _KINDS:
                of_kind(name, value, _KINDS[name])
            if name in _EACH:
                for key, part in dict(value).items():
                    number(f"{name}[{key!r}]", part, 0.0, _EACH[name])


@dataclass(frozen=True)
class TubInputs(_Checked):
    """The tub; either a volume or the three measures, or neither for a usual tub."""

    volume_l: float | None = None
    """Water without bathers [L]."""
    length_cm: float | None = None
    width_cm: float | None = None
    fill_cm: float | None = None
    floor_area_cm2: float | None = None
    """Mean area of the water [cm²]."""
    volume_measured: bool | None = None
    """Whether the volume was measured (bucket, meter) rather than judged by eye; None: not said."""
    floor: str = "white"
    """Key in ``data/colour/floors.csv``."""
    cloud: str = "clear"
    """Key in ``data/colour/clouds.csv``."""
    foam_cover: float = 0.0
    """Share of the surface that foam hides, 0 to 1."""
    adults_in_tub: int = 0
    """Adults in the water when the fill was read."""
    children_in_tub: int = 0

    def __post_init__(self) -> None:
        super().__post_init__()
        one_of("floor", self.floor, floor_names())
        one_of("cloud", self.cloud, cloud_names())
        for name in ("adults_in_tub", "children_in_tub"):
            if (count := getattr(self, name)) % 1.0:
                raise ValueError(say("accepted.whole", {"field": name, "value": str(count)}))


@dataclass(frozen=True)
class FoamBathInputs(_Checked):
    """The foam bath that is poured into this tub."""

    amount_ml: float
    ph: float | None = None
    titratable_meq_kg: float | None = None
    surfactants_percent: tuple[tuple[str, float], ...] | None = None
    """Kind of surfactant to its active matter [% w/v]; None: not said."""


@dataclass(frozen=True)
class ColourInputs(_Checked):
    """One colourant that goes into this tub."""

    colourant: Colourant
    """Shipped, or a maker's own."""
    content: float
    """Of a pigment: pH-1 absorbance per cm times litres; of a dye: mol."""
    amount: float
    """What the recipe says, in `amount_unit`."""
    amount_unit: str
    """``"mL"`` of liquid, ``"g"`` of petals or powder, or ``"drops"``."""
    volume_l: float = 0.0
    """Volume of the liquid that carries it, where it is not part of the foam bath [L]."""
    bottle_strength: float | None = None
    """Strength in its own bottle: pH-1 absorbance per cm, or mol/L for a dye."""
    petals_percent: float | None = None
    """Dried petals in its own bottle [% w/v]; None where they are not known, and for a dye."""
    held_in: str = "own bottle"
    """``"own bottle"`` or ``"foam bath"``."""
    preserved: bool = False
    strength_measured: bool = False
    """Whether its strength was read by an instrument rather than judged from the recipe."""
    strength_sd: float | None = None
    """Relative standard deviation of its strength where how it was found tells; else that of a
    reading or, if not measured, of its colourant."""

    @property
    def name(self) -> str:
        """Key of the colourant."""
        return self.colourant.name


@dataclass(frozen=True)
class ActivatorInputs(_Checked):
    """The dry activator."""

    parts: Mapping[str, float]
    """Powder to its part by mass."""
    pouring: str = "jug"
    """``"jug"`` (dissolved first) or ``"dry"``."""
    poured: str = "before"
    """``"before"`` bathers get in, or ``"beside"`` them."""
    weighed_with: str = "kitchen-scale"
    """``"kitchen-scale"``, ``"fine-scale"`` or ``"spoon"``."""
    parts_spread: float = 0.0
    """Relative standard deviation of a powder's share, where spoons measured the parts."""


@dataclass(frozen=True)
class WishInputs(_Checked):
    """Wish of a recipe: target, bathers, purpose, market and view."""

    target: str | None = None
    """A pH, a colour word or a hex colour; None for the surest clear change."""
    bathers: str | None = None
    """``"adult"``, ``"child"``, ``"nobody"``; None: not said."""
    child_age_years: float | None = None
    purpose: str = "own"
    market: str = "other"
    view: str = "tub"
    light: str = "D65"
    """A light as `indicator.appearance.light_name` knows it."""
    observer_deg: int | None = None
    """Standard observer, 2 or 10 [degrees]; None for the usual one of the vessel."""

    def __post_init__(self) -> None:
        """Refuse an age where no child bathes."""
        super().__post_init__()
        if self.child_age_years is not None and self.bathers in ("adult", "nobody"):
            age = {"field": "child_age_years", "value": f"{self.child_age_years:g}"}
            raise ValueError(say("error.age-without-child", age | {"bathers": repr(self.bathers)}))


@dataclass(frozen=True)
class CardInputs:
    """Lot, date, sachet, colour and address on the card of a product."""

    lot: str | None = None
    edition: str | None = None
    use_by: str | None = None
    """Last day of use, ``YYYY-MM-DD``."""
    sachet_g: float | None = None
    """Activator in one sachet [g]; None where the customer weighs it."""
    accent: str = ACCENT
    """Colour of the maker's own, ``#rrggbb``."""
    url: str | None = None
    """Where the maker's page is."""
    language: str = "en"
    directions: tuple[str, ...] = ()
    """The maker's own lines."""


@dataclass(frozen=True)
class RecipeInputs(_Checked):
    """A whole recipe in core units."""

    title: str
    tub: TubInputs
    water: WaterReadings
    water_temperature_c: float
    """Of the water in the tub [°C]."""
    foam_bath: FoamBathInputs | None
    colours: tuple[ColourInputs, ...]
    activator: ActivatorInputs
    wish: WishInputs
    assumptions: tuple[Note, ...] = field(default=())
    """What reading the recipe had to assume."""
    card: CardInputs = field(default=CardInputs())
    learnt: LearntHome | None = None
    """What pours in this very water and tub taught, beside the readings."""
    of_product: bool = False
    """Whether it is the bath of a product, whose bottle and kit are judged elsewhere."""

    @property
    def as_read(self) -> RecipeInputs:
        """Recipe by its readings alone, whatever pours taught."""
        if self.learnt is None:
            return self
        notes = tuple(note for note in self.assumptions if not note.code.startswith(LEARNT_NOTES))
        return replace(self, learnt=None, assumptions=notes)

    @property
    def without_jar(self) -> RecipeInputs:
        """Recipe without what a jar test told of its water: another test begins anew."""
        if not (self.water.instrument or "").endswith("jar-test"):
            return self
        water = replace(
            self.water,
            alkalinity_meq_l=None,
            alkalinity_low_meq_l=None,
            alkalinity_high_meq_l=None,
            instrument=None,
        )
        return replace(self, water=water)

    @property
    def taught(self) -> LearntHome | None:
        """Learnt home whose dose may follow it up and down; None where there is none."""
        return None if self.learnt is None or self.learnt.held else self.learnt

    def __post_init__(self) -> None:
        """Refuse a tub with somebody in it that nobody bathes in."""
        inside = self.tub.adults_in_tub + self.tub.children_in_tub
        if self.wish.bathers == "nobody" and inside > 0:
            values: dict[str, Value] = {"field": "bathers_in_tub", "value": inside}
            raise ValueError(say("error.bathers-but-nobody", values))
        super().__post_init__()
        check_distinct(colour.colourant for colour in self.colours)


def refuse_learnt(inputs: RecipeInputs) -> None:
    """Refuse a recipe whose water was learnt at one home, where the answer goes to others.

    Raises
    ------
    ValueError
        Naming the water.
    """
    if inputs.learnt is not None:
        values: dict[str, Value] = {"name": inputs.learnt.name, "place": inputs.learnt.place}
        raise ValueError(say("learning.error-learnt-elsewhere", values))
