"""The registry: families by id, and what is wrong with the packages that give them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from thermofit.curvesets.curveset import unknown_id
from thermofit.curvesets.listing import listing
from thermofit.curvesets.reader import read_curve_set
from thermofit.equations.catalogue import equation_problems
from thermofit.errors import PluginClashError, ThermofitError
from thermofit.families.contributed import families_of
from thermofit.families.shipped import SHIPPED_SETS, shipped_folder
from thermofit.family import RATINGS, Family
from thermofit.notebook import ShownInNotebooks
from thermofit.plugins import PluginProblem, contributions, describe

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Families", "families", "family"]

_SELF = "thermofit"
_COLUMNS = (
    "id", "equation", "r25_ohm", "b_25_85_k", "t_min_c", "t_max_c", "r25_tol_pct", "b_tol_pct",
    "ratio_only", "source_kind", "source", "note", "package",
)  # fmt: skip


class Families(ShownInNotebooks, Mapping[str, Family]):
    """Families by id, in the order of their ids.

    Parameters
    ----------
    offers : iterable of (str, str, Family)
        Package, entry point or file, and family.
    problems : iterable of PluginProblem
        What could not be loaded.

    Attributes
    ----------
    problems : tuple of PluginProblem
        Everything that could not be loaded, and the ids that more than one
        package claims: nobody gets these.

    Examples
    --------
    >>> import thermofit as tf
    >>> found = tf.families()
    >>> found["ntc-10k-3434"].source_kind
    'table'
    >>> found.package("ntc-10k-3434")
    'thermofit'
    """

    problems: tuple[PluginProblem, ...]

    def __init__(
        self, offers: Iterable[tuple[str, str, Family]], problems: Iterable[PluginProblem] = ()
    ) -> None:
        claims: dict[str, list[tuple[str, str, Family]]] = {}
        for offer in offers:
            claims.setdefault(offer[2].id, []).append(offer)
        self._members: dict[str, Family] = {}
        self._packages: dict[str, str] = {}
        self._clashes: dict[str, PluginClashError] = {}
        found = list(problems)
        for id, rivals in sorted(claims.items()):
            if len(rivals) == 1:
                self._packages[id], _, self._members[id] = rivals[0]
                continue
            error = PluginClashError(id, _distinct(rivals))
            self._clashes[id] = error
            packages = " and ".join(dict.fromkeys(package for package, _, _ in rivals))
            points = " and ".join(dict.fromkeys(point for _, point, _ in rivals))
            found.append(PluginProblem(packages, points, str(error)))
        self.problems = tuple(found)

    def __getitem__(self, id: str) -> Family:
        if id in self._members:
            return self._members[id]
        if id in self._clashes:
            clash = self._clashes[id]
            raise PluginClashError(clash.id, clash.packages)
        raise unknown_id(str(id), self, "no family is called")

    def __iter__(self) -> Iterator[str]:
        return iter(self._members)

    def __len__(self) -> int:
        return len(self._members)

    # Mapping finds these by way of KeyError, which is not what is raised here.
    def __contains__(self, id: object) -> bool:
        return id in self._members

    def get(self, id: str, default: Any = None) -> Any:
        """Give a family, or `default` where there is none."""
        return self._members.get(id, default)

    def package(self, id: str) -> str:
        """Name the package that a family comes from.

        Parameters
        ----------
        id : str

        Raises
        ------
        UnknownNameError, PluginClashError
            As for ``families()[id]``.
        """
        self[id]
        return self._packages[id]

    def to_frame(self) -> pd.DataFrame:
        """Give the families as a pandas frame, a row for each."""
        import pandas as pd

        rows = []
        for member in self.values():
            curve = member.curve
            row = {
                "id": member.id, "equation": curve.equation.name, "r25_ohm": curve.r25_ohm,
                "b_25_85_k": curve.b_25_85_k, "t_min_c": curve.t_min_c, "t_max_c": curve.t_max_c,
                "r25_tol_pct": member.r25_tol_pct, "b_tol_pct": member.b_tol_pct,
                "ratio_only": member.ratio_only, "source_kind": member.source_kind,
                "source": member.source, "note": curve.note,
                "package": self._packages[member.id],
            }  # fmt: skip
            rows.append(row | {rating: member.ratings.get(rating) for rating in RATINGS})
        frame = pd.DataFrame(rows, columns=[*_COLUMNS, *RATINGS])
        return frame.astype(dict.fromkeys(("r25_tol_pct", "b_tol_pct", *RATINGS), "float64"))

    def __str__(self) -> str:
        lines = [listing(self.values()) if self._members else "no families"]
        if self.problems:
            lines += ["", "not usable:", *(f"  {problem}" for problem in self.problems)]
        return "\n".join(lines)

    def __repr__(self) -> str:
        broken = f", {len(self.problems)} problems" if self.problems else ""
        return f"<Families: {', '.join(self)}{broken}>"


def families() -> Families:
    """Give all families: those that ship and those of installed packages.

    They are loaded on the first call.  A package that fails takes nothing down;
    the failure is in ``families().problems``.

    Returns
    -------
    Families

    Examples
    --------
    >>> "ntc-10k-3977" in families()
    True
    """
    return _load()


def family(id: str) -> Family:
    """Give the family with an id.

    Parameters
    ----------
    id : str
        For example ``"ntc-10k-3977"``.

    Returns
    -------
    Family

    Raises
    ------
    UnknownNameError
        No family has this id; the nearest ids are listed.
    PluginClashError
        Two packages, or a package and thermofit itself, give a family of this id.

    Examples
    --------
    >>> found = family("ntc-10k-3977")
    >>> found.r25_tol_pct, found.b_tol_pct
    (5.0, 0.75)
    """
    return _load()[id]


@cache
def _load() -> Families:
    offers: list[tuple[str, str, Family]] = []
    problems: list[PluginProblem] = []
    for name in SHIPPED_SETS:
        try:
            found = read_curve_set(shipped_folder() / name).families()
        except ThermofitError as error:
            problems.append(PluginProblem(_SELF, name, describe(error)))
        else:
            offers += [(_SELF, name, member) for member in found]
    for item in contributions("thermofit.families"):
        if isinstance(item, PluginProblem):
            problems.append(item)
            continue
        for given in families_of(item):
            if isinstance(given, PluginProblem):
                problems.append(given)
            else:
                offers.append((item.package, item.entry_point, given))
    return Families(offers, [*problems, *equation_problems()])


def _distinct(rivals: list[tuple[str, str, Family]]) -> list[str]:
    """Names of rivals: their packages, or the entry points of one package."""
    packages = list(dict.fromkeys(package for package, _, _ in rivals))
    if len(packages) > 1:
        return packages
    return [f"{package} ({point})" for package, point, _ in rivals]
