"""Words of the trade by the family of codes of a job: branch power, receptacle and ground in US jobs, mains, outlet and
earth elsewhere. For texts of our own only: what a user typed is never changed."""

import re

# the longer first; each in the singular or plural as it stands in our own texts
US = (("mains distribution panel", "panelboard"), ("mains panel", "branch panel"), ("mains outlets", "receptacles"),
      ("mains outlet", "receptacle"), ("mains circuits", "branch circuits"), ("mains circuit", "branch circuit"),
      ("mains feeder", "power feeder"), ("mains", "branch power"), ("socket-outlet", "receptacle"),
      ("earthing", "grounding"), ("earthed", "grounded"), ("protective earth", "equipment ground"))
ELSEWHERE = (("branch circuit", "final circuit"), ("branch power", "mains"), ("receptacles", "outlets"),
             ("receptacle", "outlet"), ("equipment ground", "protective earth"), ("grounding", "earthing"),
             ("grounded", "earthed"))


def local(text: str, basis: str) -> str:
    """A text of our own in the words of a code basis ('US', else IEC and UK); a capital at its start is kept."""
    pairs = US if basis == "US" else ELSEWHERE
    known = dict(pairs)

    def swap(match: re.Match[str]) -> str:
        word = known[match[0].lower()]
        return word[0].upper() + word[1:] if match[0][0].isupper() else word

    return re.sub(r"(?<![\w-])(" + "|".join(re.escape(a) for a, _ in pairs) + r")(?![\w-])", swap, text, flags=re.IGNORECASE)
