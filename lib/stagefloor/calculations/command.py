"""The `calc` command: list, explain and run calculations as typed, with units in either system."""

import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from math import isfinite
from pathlib import Path

from stagefloor.calculations.catalogue import ALL, Calculation, Compared, Parameter, find, outside_checks
from stagefloor.calculations.pulling import Bend, Straight
from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import KINDS, parse
from stagefloor.core.workings import ARITHMETIC, PUBLISHED, Working
from stagefloor.reference.tables import shop_file

YES, NO = ("yes", "true", "1"), ("no", "false", "0")
REFUSED = 2
USAGE = """calc                            lists the calculations
calc NAME                       explains one
calc NAME key=value ... [--json]  calculates; lists take commas, values take units: length=100ft
  ... --shop FILE               with the shop's own rows: a CSV named after the table it stands in for
calc --checks                   what is checked against what"""


def main(argv: Sequence[str]) -> int:
    """Run the command; returns the exit status, 2 if the user has something to mend."""
    try:
        print(_answer(list(argv)))
    except Problem as problem:
        print(problem.sentence, file=sys.stderr)
        return REFUSED
    return 0


def _answer(words: list[str]) -> str:
    as_json = "--json" in words
    words = [w for w in words if w != "--json"]
    words, shop = _shop(words)
    if words == ["--checks"]:
        return _checks()
    if words in (["--help"], ["-h"]):
        return USAGE
    if not words:
        width = max(len(c.name) for c in ALL)
        return "\n".join(f"{c.name:{width}}  {c.line}" for c in ALL)
    if words[0].startswith("-"):
        raise Problem(f"'{words[0]}' is unknown; the choices are --json, --checks and --help.", words[0])
    calculation = find(words[0])
    if not words[1:] and shop is None and any(p.required for p in calculation.parameters):
        return _explained(calculation)
    if words[1:] == ["--help"]:
        return _explained(calculation)
    typed = dict(_pair(w, calculation) for w in _once(words[1:]))
    working = calculate(calculation, typed) if shop is None else with_shop_file(calculation, typed, shop)
    return json.dumps(working.as_data(), ensure_ascii=False, indent=1) if as_json else working.as_text()


def _shop(words: list[str]) -> tuple[list[str], Path | None]:
    """The words without --shop FILE, and the file."""
    if "--shop" not in words:
        return words, None
    place = words.index("--shop")
    if "--shop" in words[place + 1 :]:
        raise Problem("'--shop' is given twice; name one file.", "--shop")
    if place + 1 == len(words) or "=" in words[place + 1] or not place:
        raise Problem(
            "'--shop' needs a calculation before it and a file after it: calc NAME ... --shop FILE.", "--shop"
        )
    return words[:place] + words[place + 2 :], Path(words[place + 1])


def with_shop_file(calculation: Calculation, typed: dict[str, str], file: Path) -> Working:
    """The calculation with a shop's rows in place of published ones; the working says so.

    Raises Problem if the file is wrong, or the calculation does not look at its table.
    """
    with shop_file(file) as looked:
        working = calculate(calculation, typed)
    if file.stem not in looked:
        tables = ", ".join(sorted(looked)) or "no table"
        raise Problem(
            f"{calculation.name} does not use the table {file.stem}; with these inputs it looks at: {tables}.",
            "--shop",
        )
    said = (
        f"The rows in the shop's file {file.name} stand in place of the published ones; the basis says where."
    )
    return replace(working, notes=(*working.notes, said))


def _once(words: list[str]) -> list[str]:
    keys = [w.split("=", 1)[0] for w in words]
    for key in keys:
        if keys.count(key) > 1:
            raise Problem(f"'{key}' is given twice; give it once.", key)
    return words


def _pair(word: str, calculation: Calculation) -> tuple[str, str]:
    key, equals, value = word.partition("=")
    if not equals:
        first = calculation.parameters[0].key if calculation.parameters else "key"
        raise Problem(f"'{word}' is not key=value; type for example {first}=...", word)
    return key, value


def calculate(calculation: Calculation, typed: dict[str, str]) -> Working:
    """Run a calculation on inputs as typed; Problem names the key that is wrong."""
    by_key = {p.key: p for p in calculation.parameters}
    for key in typed:
        if key not in by_key:
            near = nearest(key, list(by_key))
            raise Problem(
                f"'{key}' is not an input of {calculation.name}; "
                + (f"did you mean {near}?" if near else f"its inputs are {', '.join(by_key) or 'none'}."),
                key,
            )
    given = {by_key[k].name: _read(by_key[k], text) for k, text in typed.items()}
    for p in by_key.values():
        if p.required and p.key not in typed:
            example = calculation.example.get(p.key, "")
            raise Problem(
                f"{calculation.name} needs {p.key} ({p.words}); type for example {p.key}={example}.", p.key
            )
    try:
        working = calculation.function(**given)
    except Problem as problem:
        raise Problem(_in_keys(problem.sentence, problem.where, by_key), problem.where) from None
    except OverflowError:
        working = None
    if working is None or not isfinite(working.result.amount):
        raise Problem(
            f"The numbers given for {', '.join(typed)} are too large or too small to calculate with; check them.",
            calculation.name,
        )
    return working


def _in_keys(sentence: str, where: str, by_key: dict[str, Parameter]) -> str:
    """The sentence with the key that the user typed in place of the function's own name."""
    for p in by_key.values():
        sentence = sentence.replace(f"'{p.name}'", f"'{p.key}'")
        where = p.key if where == p.name else where
    return sentence if where in sentence or where not in by_key else f"{where}: {sentence}"


def _read(parameter: Parameter, text: str) -> object:
    try:
        return _value(parameter, text.strip())
    except Problem as problem:
        raise Problem(f"{parameter.key}: {problem.sentence}", parameter.key) from None


def _value(p: Parameter, text: str) -> object:
    if p.form == "number":
        return _number(p, text)
    if p.form == "numbers":
        return [_number(p, part) for part in _parts(text)]
    if p.form == "count":
        return int(parse(text, "count").si)
    if p.form == "yes or no":
        return _yes_or_no(text)
    if p.form == "texts":
        return _parts(text)
    if p.form == "counts by gauge":
        return {gauge: int(parse(n, "count").si) for gauge, n in _colons(text, "gauge:number, such as 12:4")}
    if p.form == "segments":
        return [_segment(part) for part in _parts(text)]
    if p.form == "points":
        pairs = _colons(text, "frequency:dB per 100 ft, such as 750MHz:5.7")
        return [(parse(f, "frequency").si / 1e6, parse(a, "level", "dB").si) for f, a in pairs]
    if not text:
        raise Problem("Nothing is typed; type one word.")
    return text


def _number(p: Parameter, text: str) -> float:
    return parse(text, p.kind, p.default_unit).si


def _parts(text: str) -> list[str]:
    parts = [part.strip() for part in text.split(",")]
    if not text:
        raise Problem("Nothing is typed; give at least one value, several with commas between them.")
    if not all(parts):
        raise Problem(f"'{text}' has an empty place between commas; fill it or take the comma out.")
    return parts


def _colons(text: str, example: str) -> list[tuple[str, str]]:
    found = []
    for part in _parts(text):
        left, colon, right = part.partition(":")
        if not colon:
            raise Problem(f"'{part}' is not {example}.")
        found.append((left.strip(), right.strip()))
    return found


def _yes_or_no(text: str) -> bool:
    if text.lower() in YES + NO:
        return text.lower() in YES
    raise Problem(f"'{text}' is neither yes nor no; type one of them.")


def _segment(text: str) -> Straight | Bend:
    if text.endswith(("deg", "°")):
        return Bend(parse(text, "angle").si)
    return Straight(parse(text, "length").si)


def _explained(calculation: Calculation) -> str:
    lines = [f"{calculation.name}: {calculation.line}", "", "Inputs"]
    for p in calculation.parameters:
        units = "" if p.kind == "ratio" else f" [{', '.join(list(KINDS[p.kind][1])[:6])}]"
        several = ", separated by commas" if p.form in ("numbers", "texts", "segments") else ""
        lines.append(f"  {p.key}{'' if p.required else ' (may be left out)'}: {p.words}{several}{units}")
    if not calculation.parameters:
        lines.append("  none")
    working = calculate(calculation, calculation.example)
    typed = " ".join(f'"{k}={v}"' if " " in v else f"{k}={v}" for k, v in calculation.example.items())
    lines += ["", "Formula", f"  {working.formula}", "", *calculation.explained.split("\n")]
    lines += ["", "Basis", *dict.fromkeys(f"  {b.line()}" for b in working.basis), "", "Checked against"]
    compared = outside_checks().get(calculation.name, [])
    lines += [f"  {_compared(c)}" for c in compared] or ["  no outside check"]
    return "\n".join(
        [*lines, "", "Example", f"  calc {calculation.name} {typed}", f"  {working.result.text()}"]
    )


def _compared(c: Compared) -> str:
    plural = "value" if c.values == 1 else "values"
    return f"{c.values} {plural}: {c.source}" + ("" if c.status == PUBLISHED else f" ({c.status})")


def _checks() -> str:
    checks = outside_checks()
    lines = [f"{c.name}: {_compared(one)}" for c in ALL for one in checks.get(c.name, [])]
    outside = [one for found in checks.values() for one in found if one.status != ARITHMETIC]
    without = [c.name for c in ALL if all(one.status == ARITHMETIC for one in checks.get(c.name, []))]
    values, sources = sum(one.values for one in outside), len({one.source for one in outside})
    lines += [
        "",
        f"{values} values from {sources} outside sources; what is only arithmetic is marked and not counted.",
    ]
    lines += [f"No outside source: {', '.join(without)}."]
    lines += [
        "'Read in a published table' means a public copy or a page that quotes the standard, almost never "
        "the standard itself: compare once with the standard you own."
    ]
    return "\n".join(lines)
