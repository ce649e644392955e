#!/usr/bin/env python3
"""The table "Keys of the show file" in DEVELOPERS.md names the keys of src/showfile/keys.c, in their order, with what is required (r) and
what is always written (a).

Usage: keys_test.py SOURCE_DIR
"""
import re
import sys

# How DEVELOPERS.md calls the tables of keys.c; the others are described in the rows of their parents.
NAMES = {"show": "show", "call": "call", "site": "site", "band": "quiet", "type": "type", "mode": "mode", "transmitter": "transmitter",
         "universe": "universe", "fixture": "fixture"}


def keys_of_source(text):
    objects = {}
    for name, body in re.findall(r"static const struct key (\w+)_keys\[\] = \{\n(.*?)\n\};", text, re.S):
        if name not in NAMES:
            continue
        rows = re.findall(r'\{ "(\w+)",\s*VALUE_\w+,\s*([^,]+),', body)
        objects[NAMES[name]] = [(key, ("r" if "KEY_REQUIRED" in flags else "") + ("a" if "KEY_ALWAYS" in flags else ""))
                                for key, flags in rows]
    return objects


def keys_of_table(text):
    section = text.split("## Keys of the show file")[1].split("\n## ")[0]
    objects, current = {}, None
    for line in section.splitlines():
        cells = [cell.strip() for cell in line.split("|")[1:-1]]
        if len(cells) != 6 or cells[0] in ("object", "---") or cells[1] == "(text)":
            continue
        current = cells[0] or current
        for key in cells[1].split(", "):
            objects.setdefault(current, []).append((key, cells[2].replace(" ", "")))
    return objects


def main():
    with open(f"{sys.argv[1]}/src/showfile/keys.c", encoding="utf-8") as file:
        source = keys_of_source(file.read())
    with open(f"{sys.argv[1]}/DEVELOPERS.md", encoding="utf-8") as file:
        table = keys_of_table(file.read())
    if set(source) != set(NAMES.values()):
        print(f"keys.c has tables {sorted(source)}, expected {sorted(NAMES.values())}")
        return 1
    for name in sorted(set(source) | set(table)):
        if source.get(name) != table.get(name):
            print(f"{name}:\n  keys.c        {source.get(name)}\n  DEVELOPERS.md {table.get(name)}")
    return 0 if source == table else 1


sys.exit(main())
