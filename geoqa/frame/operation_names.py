"""Names of operations for people: the steps that change something, with their codes and grids."""

import re
from typing import Any

from pyproj.transformer import Transformer

# Steps that only rewrite coordinates: PROJ lists them between those of the EPSG data set.
_REWRITING = ("Conversion from", "Inverse of Conversion from", "axis order", "Null geographic offset")
_REWRITING_INVERSE = "Inverse of Null geographic offset"


def operation_name(transformer: Transformer) -> str:
    """Return the steps of an operation that change datum or heights, each with its code and grids."""
    steps = transformer.operations or ()
    changing = [step for step in steps if step.type_name != "Conversion" and bare_name(step.name)]
    return " + ".join(map(_with_code, changing)) or bare_name(str(transformer.description))


def bare_name(name: str) -> str:
    """Return the name of an operation without the steps that only rewrite coordinates.

    Examples
    --------
    >>> bare_name("axis order change (2D) + ETRS89 to ODN height (2) + axis order change (2D)")
    'ETRS89 to ODN height (2)'
    """
    steps = [step for step in name.split(" + ") if not step.startswith((*_REWRITING, _REWRITING_INVERSE))]
    return " + ".join(steps)


def _with_code(step: Any) -> str:
    known = []
    code = step.to_json_dict().get("id")
    if code:
        # PROJ wraps the authority of what it derives: DERIVED_FROM(INVERSE(EPSG)).
        authority = re.findall(r"\w+", str(code["authority"]))[-1]
        known.append(f"{authority}:{code['code']}")
    known.extend(f"grid {grid.short_name}" for grid in step.grids)
    name = bare_name(step.name)
    return f"{name} ({', '.join(known)})" if known else name
