"""Practice: when a sign is asked again, and how hard the question then is."""

from __future__ import annotations

from collections.abc import Iterable

from orchard.science import arguments
from orchard.science.figures import figure
from orchard.science.words import PracticeLevel


def box_after(answers: Iterable[bool]) -> int:
    """Return the box in which a sign lies after some answers, the first first.

    It begins in box 1; a right answer moves it one box up, as far as the last, a wrong
    one back to box 1.

    Parameters
    ----------
    answers : whether each was right, in the order given

    Returns
    -------
    The box, 1 to the number of boxes.

    References
    ----------
    Leitner, S. (1972), So lernt man lernen: five compartments; what is known goes one
    further, what is not back to the first. From memory.
    """
    box, last = 1, round(figure("practice_boxes").value)
    for is_right in answers:
        box = min(box + 1, last) if is_right else 1
    return box


def days_until_asked(box: int) -> int:
    """Return after how many days a sign in a box is asked again: 2^(box - 1).

    Parameters
    ----------
    box : from 1 to the number of boxes

    Returns
    -------
    Whole days: each box waits twice as long as the one before it.

    Raises
    ------
    ValueError
        When there is no such box.

    References
    ----------
    Leitner, S. (1972), So lernt man lernen: each compartment about twice as large as
    the one before, so that it is gone through half as often. From memory; that the
    first waits one day is a rule of this book.
    """
    last = round(figure("practice_boxes").value)
    if not 1 <= arguments.whole("box", box) <= last:
        raise ValueError(f"box is {box}; allowed is 1 to {last}.")
    return int(2 ** (box - 1))


def level_of(box: int) -> PracticeLevel:
    """Return how hard the question about a sign in a box is.

    Parameters
    ----------
    box : from 1 up

    Returns
    -------
    A drawing among signs that do not resemble it, a drawing among its look-alikes, or
    a photo.

    References
    ----------
    A rule of this book, no source; the boxes stand in practice.toml.
    """
    if box >= figure("practice_photo_from_box").value:
        return PracticeLevel.PHOTO
    if box >= figure("practice_alike_from_box").value:
        return PracticeLevel.ALIKE
    return PracticeLevel.DRAWING
