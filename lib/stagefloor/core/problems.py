"""What a user can mend, said in one sentence. A bug is another kind of error and stays an exception."""


class Problem(Exception):
    """Bad input: what is wrong (with the value), where, and what to do, in one sentence.

    Parameters
    ----------
    sentence : str
        The sentence that the user reads; what in it can't be shown (a new line, half a character) becomes a space.
    where : str
        The field, record or file it belongs to, if known.
    """

    def __init__(self, sentence: str, where: str = "") -> None:
        if not sentence.isprintable():  # it repeats what stood in a file
            sentence = "".join(c if c.isprintable() else " " for c in sentence)
        super().__init__(sentence)
        self.sentence = sentence
        self.where = where


def nearest(word: str, choices: list[str]) -> str:
    """The valid choice closest to a mistyped word, or an empty text if none is close."""
    import difflib

    found = difflib.get_close_matches(word, choices, n=1, cutoff=0.6)
    return found[0] if found else ""
