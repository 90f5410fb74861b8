"""The two conventions that every physics function shares: floats that broadcast, and refused nonsense."""

import numpy as np
import numpy.typing as npt

Numbers = npt.ArrayLike
Floats = npt.NDArray[np.float64]
Names = str | npt.NDArray[np.str_] | npt.NDArray[np.object_] | npt.NDArray[np.intp] | list[str]


def quantity(
    value: Numbers, name: str, low: float = -np.inf, high: float = np.inf, *, above: bool = False
) -> Floats:
    """Return `value` as float64 of any shape, refusing numbers that cannot be meant.

    NaN is let through: what is not known stays not known. Infinity is let through where the bounds allow.

    Parameters
    ----------
    value : scalar or array
    name : what the number is, for the message
    low, high : inclusive bounds; with `above`, `low` itself is refused

    Raises
    ------
    ValueError
        If a number lies outside the bounds. The message names the quantity, the number and the bounds.
    """
    numbers = np.asarray(value, dtype=np.float64)
    outside = (numbers < low) | (numbers > high)
    if above:
        outside |= numbers == low
    if np.any(outside):
        worst = float(numbers[outside].flat[0])
        start = "above" if above else "at least"
        raise ValueError(f"{name}: {worst:g} is out of range. Give {start} {low:g} and at most {high:g}.")
    return numbers


def one_of(value: Names, name: str, allowed: tuple[str, ...]) -> npt.NDArray[np.intp]:
    """Return the place of each name in `allowed`, shaped like `value`.

    Raises
    ------
    ValueError
        If a name is not among those allowed. The message lists them.
    """
    names = np.asarray(value, dtype=np.str_)
    places = np.full(names.shape, -1, dtype=np.intp)
    for place, word in enumerate(allowed):
        places = np.where(names == word, place, places)
    if np.any(places < 0):
        stranger = str(names[places < 0].flat[0])
        raise ValueError(f'{name}: "{stranger}" is not known. Write one of {", ".join(allowed)}.')
    return places
