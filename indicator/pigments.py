"""Pigments and pH-stable dyes: the shipped ones, and those of the maker's own files."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.accepted import as_text
from indicator.colourants import BandRow, FormRow, Range, Strengths
from indicator.colourants import Colourant as Colourant
from indicator.colourants import ColourantLike as ColourantLike
from indicator.colourants import trust as trust
from indicator.files import was_read
from indicator.notes import Note, say
from indicator.own import at_home, pigment_files
from indicator.pigment_file import read_pigment_file
from indicator.tables import DataError, Sourced, read_table

Array = NDArray[np.float64]
_SOLD_AS = re.compile(
    r"(?<!\belder )(?<!\bsambucus )(?<!\bnigra )"
    r"\b(?:tea|brew|infusion|flowers?|blossoms?|petals?|dried|dry|powder(?:ed)?|some)\b"
)
"""What may stand beside a name and names nothing; but an elder flower is no elderberry."""
_ALIKE = 0.85
"""Least likeness of two spellings a letter or two apart, as difflib counts it; DESIGN."""


@dataclass(frozen=True)
class _ColourantRow(Sourced):
    name: str
    kind: str
    label: str
    aliases: str
    strength_per_percent: float | None
    strength_low: float | None
    strength_high: float | None
    molar_mass: float | None
    dye_content: float | None
    content_low: float | None
    content_high: float | None
    strength_sd: float
    steady_from_ph: float | None
    stains: str
    below_steady: str = "weakens"
    based_on: str = ""


@dataclass(frozen=True)
class Pigments:
    """The colourants that one maker can name: the shipped ones and the maker's own."""

    own: tuple[Colourant, ...] = ()
    """No two of one name."""
    refused: tuple[str, ...] = ()
    """A sentence for each file that cannot be used."""
    folder: Path | None = None
    """The maker's own folder, where it is not the usual one."""

    @property
    def names(self) -> tuple[str, ...]:
        """Keys of all of them, the shipped ones first."""
        return (*colourant_names(), *(which.name for which in self.own))

    @property
    def every(self) -> tuple[Colourant, ...]:
        """All of them, the shipped ones first."""
        return (*_colourants().values(), *self.own)

    def find(self, name: str) -> Colourant:
        """Colourant of that key, label or alias, or of that pigment file.

        Spaces do not matter, nor what it is sold as: ``butterflypea flower tea``.

        Parameters
        ----------
        name : str
            Of a shipped colourant, of one of the maker's own, or the path of a pigment file.

        Raises
        ------
        ValueError
            If there is none, the sentence offers the nearest name; or its file cannot be used.
        """
        spellings = _spellings(name)
        called = self._called()
        joined = _joined(called)
        for spelling in spellings:
            if spelling in called:
                return called[spelling]
        if _bare(name) in joined:
            return joined[_bare(name)]
        if spellings[0].endswith(".toml"):
            path = at_home(name.strip())
            was_read(path)
            return _checked(path)
        close = get_close_matches(spellings[0], called, n=1)
        hint = f" (did you mean {close[0]!r}?)" if close else ""
        told = "; ".join([", ".join(self.names), *self.refused])
        raise ValueError(f"colourant is {name!r}{hint}; accepted are {told}")

    def nearly(self, name: str) -> str:
        """Name of the only colourant that is spelled so but for a letter or two; else the text.

        Parameters
        ----------
        name : str
            As somebody wrote it. What holds a digit is never mended: numbers tell dyes apart.

        Returns
        -------
        str
        """
        bare, joined = _bare(name), _joined(self._called())
        close = get_close_matches(bare, joined, n=len(joined), cutoff=_ALIKE)
        meant = {
            joined[like].name
            for like in close
            if abs(len(like) - len(bare)) < 2 and not re.search(r"\d", like + bare)
        }
        return meant.pop() if len(meant) == 1 else name

    def _called(self) -> dict[str, Colourant]:
        return {**_by_alias(self.own), **_shipped_by_alias()}

    def beside(self, more: Iterable[Colourant]) -> Pigments:
        """Pigments with the own ones among these, which go before others of their names."""
        own = {which.name: which for which in (*self.own, *more) if which.own}
        return replace(self, own=tuple(own.values()))


SHIPPED = Pigments()
"""What everybody can name."""


def own_pigments(folder: Path | None = None) -> Pigments:
    """The shipped colourants and those of a maker's pigment files.

    Parameters
    ----------
    folder : Path, optional
        The maker's own folder; the usual one of `indicator.own.own_folder` if not given.
    """
    own: dict[str, Colourant] = {}
    refused: list[str] = []
    for path in pigment_files(folder):
        try:
            which = _checked(path)
        except DataError as error:
            refused.append(str(error))
        else:
            own.setdefault(which.name, which)
    return Pigments(tuple(own.values()), tuple(refused), folder)


def check_distinct(colourants: Iterable[Colourant]) -> None:
    """Refuse two different colourants of one name, which nobody could tell apart in an answer.

    Raises
    ------
    DataError
        Naming the file of the later one.
    """
    known: dict[str, Colourant] = {}
    for which in colourants:
        if known.setdefault(which.name, which) != which:
            values = {"file": which.file, "name": which.name}
            raise DataError(say("pigment-file.twice", values))


def name_free(name: str, file: Path, folder: Path | None = None) -> bool:
    """Whether a pigment file may have that name, so that every command finds it by the name.

    Parameters
    ----------
    name : str
        The name in question.
    file : Path
        The file that would have it.
    folder : Path, optional
        The maker's own folder, as in `own_pigments`.

    Returns
    -------
    bool
    """
    others = (which for which in own_pigments(folder).own if Path(which.file) != file.absolute())
    return not {*_shipped_by_alias(), *_by_alias(others)} & set(_spellings(name))


def colourant_names() -> tuple[str, ...]:
    """Keys of all shipped colourants."""
    return tuple(_colourants())


def colourant(which: ColourantLike) -> Colourant:
    """Record of a shipped colourant by its key, label or alias; a record is given back.

    Raises
    ------
    ValueError
        If there is none; the sentence offers the nearest name.

    Examples
    --------
    >>> colourant("blue tea").name
    'butterfly-pea'
    """
    return which if isinstance(which, Colourant) else SHIPPED.find(which)


def by_record(given: Strengths) -> dict[Colourant, Array]:
    """Numbers of colourants under their records, whether records or names stand for them."""
    return {colourant(which): np.asarray(number, np.float64) for which, number in given.items()}


def _spellings(name: str) -> tuple[str, str, str]:
    wanted = as_text("colourant", name).strip().casefold().replace("_", "-")
    return (wanted, wanted.replace(" ", "-"), wanted.replace("-", " "))


def _bare(name: str) -> str:
    """A name without what it is sold as, its words joined."""
    return re.sub(r"[\s-]+", "", _SOLD_AS.sub(" ", _spellings(name)[2]))


def _joined(called: Mapping[str, Colourant]) -> dict[str, Colourant]:
    return {re.sub(r"[\s-]+", "", alias): which for alias, which in called.items()}


def unsteady(colours: Iterable[ColourantLike], ph: float) -> tuple[Note, ...]:
    """Notes on dyes that weaken or settle out at a pH, which no forecast follows.

    Parameters
    ----------
    colours : iterable of Colourant or str
        Colourants of the liquid.
    ph : float
        Its lowest pH.

    Returns
    -------
    tuple of Note

    Raises
    ------
    ValueError
        If there is no such colourant.
    """
    return tuple(
        Note(
            f"warn.bath.dye-{which.below_steady}",
            {"colour": which.label, "ph": which.steady_from_ph},
            "colour",
        )
        for which in map(colourant, dict.fromkeys(colours))
        if which.steady_from_ph is not None and ph < which.steady_from_ph
    )


def infusion_strength(pigment: ColourantLike, petals_percent: ArrayLike) -> Array:
    """Strength of an infusion: pH-1 absorbance per cm.

    Parameters
    ----------
    pigment : Colourant or str
        A record, or the name of a shipped pigment.
    petals_percent : array_like
        Dried petals [% w/v].

    Returns
    -------
    numpy.ndarray
        In the shape of the petals [1/cm].

    Raises
    ------
    ValueError
        If the colourant is not a pigment.

    Examples
    --------
    >>> float(infusion_strength("butterfly-pea", 2.0))
    6.0
    """
    known = colourant(pigment)
    if known.per_percent is None:
        raise ValueError(f"{known.label} is a dye; give its strength as a mass or a percentage")
    return np.asarray(petals_percent, dtype=np.float64) * known.per_percent.best


def dye_molarity(dye: ColourantLike, grams_per_l: ArrayLike, content: float | None = None) -> Array:
    """Molarity of a dye dissolved as the powder that is sold.

    Parameters
    ----------
    dye : Colourant or str
        A record, or the name of a shipped dye.
    grams_per_l : array_like
        Powder [g/L].
    content : float, optional
        Share of pure dye; the usual one if not given.

    Returns
    -------
    numpy.ndarray
        In the shape of the powder [mol/L].

    Raises
    ------
    ValueError
        If the colourant is not a dye.

    Examples
    --------
    >>> round(float(dye_molarity("tartrazine", 1.0)), 5)
    0.00163
    """
    known = colourant(dye)
    if known.molar_mass is None or known.content is None:
        raise ValueError(f"{known.label} is a pigment; give its strength as petals or absorbance")
    share = known.content.best if content is None else content
    return np.asarray(grams_per_l, dtype=np.float64) * share / known.molar_mass


@cache
def _colourants() -> dict[str, Colourant]:
    forms = read_table("colour/forms.csv", FormRow)
    bands = read_table("colour/bands.csv", BandRow)
    same = {field.name for field in fields(_ColourantRow)} & {f.name for f in fields(Colourant)}
    return {
        row.name: Colourant(
            **{key: getattr(row, key) for key in same - {"aliases"}},
            forms=tuple(form for form in forms if form.colourant == row.name),
            bands=tuple(band for band in bands if band.colourant == (row.based_on or row.name)),
            per_percent=_strength(row.strength_per_percent, row.strength_low, row.strength_high),
            content=_strength(row.dye_content, row.content_low, row.content_high),
            aliases=tuple(alias for alias in row.aliases.split("|") if alias),
        )
        for row in read_table("colour/colourants.csv", _ColourantRow)
    }


def _strength(best: float | None, low: float | None, high: float | None) -> Range | None:
    return None if best is None or low is None or high is None else Range(best, low, high)


@cache
def _shipped_by_alias() -> dict[str, Colourant]:
    return _by_alias(_colourants().values())


def _by_alias(colourants: Iterable[Colourant]) -> dict[str, Colourant]:
    """Colourants by all that they are called."""
    return {
        alias.casefold(): which
        for which in colourants
        for alias in (which.name, which.label, *which.aliases)
    }


def _checked(path: Path) -> Colourant:
    """The colourant of a file, which must not have the name of a shipped one."""
    which = read_pigment_file(path)
    if which.name in _shipped_by_alias():
        raise DataError(say("pigment-file.taken", {"file": str(path), "name": which.name}))
    if which.based_on and which.based_on not in _colourants():
        values = {"file": str(path), "name": which.based_on}
        raise DataError(say("pigment-file.no-base", values))
    return which
