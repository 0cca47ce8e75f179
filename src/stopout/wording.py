"""Words that every part says alike: a number with its noun."""

from __future__ import annotations


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a number with its noun in the right form.

    Parameters
    ----------
    number : int
        How many.
    noun, plural : str
        The noun for one, and for several where an s does not do.

    Examples
    --------
    >>> counted(1, "opening"), counted(2, "opening"), counted(3, "piece of film", "pieces of film")
    ('1 opening', '2 openings', '3 pieces of film')
    """
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def begun(text: str) -> str:
    """Begin a sentence with a capital letter; a key of the job file keeps its spelling.

    Parameters
    ----------
    text : str
        The sentence.

    Examples
    --------
    >>> begun("the blank is small"), begun("machine.blank_at is not given")
    ('The blank is small', 'machine.blank_at is not given')
    """
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    is_key = "_" in first or "." in first.rstrip(".")
    return text if is_key else text[:1].upper() + text[1:]
